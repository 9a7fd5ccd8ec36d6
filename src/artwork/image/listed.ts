const SHOWN = 8;

/** The first few numbers of openings, for a sentence. */
export function listed(numbers: readonly number[]): string {
  return `${numbers.slice(0, SHOWN).join(', ')}${numbers.length > SHOWN ? ', …' : ''}`;
}
