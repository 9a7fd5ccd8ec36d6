import { ringBounds } from '../../geometry/bounds.js';
import { zeroTerm } from './determined.js';
import { type Candidate, um } from './fault-candidate.js';
import { barrel, belts, bent, slips } from './field-faults.js';
import { kerfAcross, narrowPieces, otherSettings, shapes } from './kerf-faults.js';
import type { Observation } from './observations.js';

const AXES = ['x', 'y'] as const;

/**
 * All faults that are looked for; each as one shape or as several of which the best is taken. Some have nothing to show
 * themselves in: columns of zeros.
 */
export function candidatesFor(lengths: readonly Observation[]): Candidate[][] {
  const ends = lengths.flatMap(({ feature, elsewhere }) => ('from' in feature && !elsewhere ? [feature.from, feature.to] : [])); // biome-ignore format: one thought
  const bed = ringBounds(ends);
  if (!(bed.maxX > bed.minX) && !(bed.maxY > bed.minY)) return [];
  return [
    [barrel(lengths, bed)],
    ...[...AXES, undefined].map((axis) => [bent(lengths, bed, axis)]),
    ...AXES.map((axis) => belts(lengths, bed, axis)),
    ...AXES.flatMap((axis) => AXES.map((by) => slips(lengths, bed, axis, by))),
    ...kerfAcross(lengths, bed),
    ...(['opening', 'web'] as const).map((piece) => narrowPieces(lengths, piece)),
    ...(['square', 'circle'] as const).map((shape) => shapes(lengths, shape)),
    ...otherSettings(lengths),
  ].filter((choices) => choices.length > 0);
}

/** A gauge that reads too much or too little everywhere. */
export function zeroOf(lengths: readonly Observation[], gauge: string): Candidate {
  return {
    code: 'GAUGE_ZERO_OFF',
    name: `zero of ${gauge}`,
    terms: [zeroTerm(lengths, gauge)],
    say: ([size]) => `${gauge} are off by ${um(size)}`,
    hint: 'Check the zero of the gauge.',
    gauge,
  };
}
