/** Breaks a text between words into lines that fit; a word that does not fit alone has a line of its own. */
export function wrapWords(text: string, fits: (line: string) => boolean): string[] {
  const lines = [''];
  for (const word of text.split(' ')) {
    const last = lines[lines.length - 1];
    const longer = last === '' ? word : `${last} ${word}`;
    if (last !== '' && !fits(longer)) lines.push(word);
    else lines[lines.length - 1] = longer;
  }
  return lines;
}
