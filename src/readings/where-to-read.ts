import { type Feature, type FeaturesFile, featureBox } from '../coupon/features.js';
import type { Outcome } from './types.js';

/** What else than a number a feature can be. */
export const OUTCOMES_OF: Readonly<Record<Feature['kind'], readonly Outcome[]>> = {
  cell: ['uncut', 'partial', 'through', 'marked'],
  web: ['gone'],
  opening: ['closed'],
  span: [],
  vernier: [],
};
export const OUTCOMES = Object.values(OUTCOMES_OF).flat();

/** An outcome as typed: the word, or its first letter; undefined when it is none. */
export function outcomeOf(text: string): Outcome | undefined {
  const typed = text.trim().toLowerCase();
  return OUTCOMES.find((outcome) => outcome === typed || outcome[0] === typed);
}

/** Where a feature is on the film, in words; of a witness on that, for nobody measures from the edges of a stencil. */
export function whereOf(
  feature: Feature,
  { coupon, canvas: { widthMm, heightMm } }: Pick<FeaturesFile, 'coupon' | 'canvas'>,
): string {
  const { minX, minY, maxX, maxY } = featureBox(feature);
  const [x, y] = [(minX + maxX) / 2, (minY + maxY) / 2];
  const across = x < widthMm / 3 ? 'left' : x > (2 * widthMm) / 3 ? 'right' : '';
  const up = y < heightMm / 3 ? 'lower' : y > (2 * heightMm) / 3 ? 'upper' : '';
  const part = across || up ? `${up || 'middle'} ${across || 'middle'}` : 'middle';
  return `${part} of the ${coupon === 'witness' ? coupon : 'film'}, ${x.toFixed(0)} mm from its left and ${y.toFixed(0)} mm from its lower edge`;
}

/** What a note's cell holds once somebody wrote one: the instruction stays, for the next who reads. */
export function withNote(say: string, note: string): string {
  return note === '' ? say : `${say} Note: ${note}`;
}
