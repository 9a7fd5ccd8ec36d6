/**
 * Names for a sentence, and of many the first ones: `A, B and 3 more`.
 *
 * @param most - so many are all named; of more, `shown` are
 */
export function firstOf(names: readonly (string | number)[], most: number, shown = most): string {
  if (names.length <= most) return names.join(', ');
  return `${names.slice(0, shown).join(', ')} and ${names.length - shown} more`;
}
