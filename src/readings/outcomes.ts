import type { Outcome } from './types.js';

/** Of cells, then of a web, then of an opening. */
export const OUTCOMES = [
  'uncut',
  'partial',
  'through',
  'marked',
  'gone',
  'closed',
] as const satisfies readonly Outcome[];

/** An outcome as typed: the word, or its first letter; undefined when it is none. */
export function outcomeOf(text: string): Outcome | undefined {
  const typed = text.trim().toLowerCase();
  return OUTCOMES.find((outcome) => outcome === typed || outcome[0] === typed);
}
