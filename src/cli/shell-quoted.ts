/** A word as it can be pasted into a shell: quoted where a blank or a special sign would cut it. */
export function shellQuoted(word: string): string {
  if (/^[\w./:=@%+,\\-]+$/.test(word)) return word;
  // Double quotes are known to all shells; what they would still read as something else needs single ones.
  return /["$`!\\]/.test(word) ? `'${word.replaceAll("'", "'\\''")}'` : `"${word}"`;
}
