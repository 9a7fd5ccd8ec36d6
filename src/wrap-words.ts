/**
 * Breaks a text between words into lines that fit; a word that does not fit alone has a line of its own.
 *
 * @param fits - whether a line fits, which is the one at `index`, from 0
 */
export function wrapWords(text: string, fits: (line: string, index: number) => boolean): string[] {
  const lines = [''];
  for (const word of text.split(' ')) {
    const last = lines[lines.length - 1];
    const longer = last === '' ? word : `${last} ${word}`;
    if (last !== '' && !fits(longer, lines.length - 1)) lines.push(word);
    else lines[lines.length - 1] = longer;
  }
  return lines;
}
