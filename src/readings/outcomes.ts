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
