import type { Warning } from '../errors.js';
import type { PerAxis } from '../geometry/types.js';
import type { Written } from './types.js';

/** Above this the dots no longer stand for the openings, percent of an opening's area. */
const COARSE_AREA_PERCENT = 12;

/** Warns of dots that are too coarse for what was drawn with them. */
export function coarseDots(written: Written | undefined, pitchMm: PerAxis): Warning[] {
  const worst = written?.rounding?.maxAbsAreaErrorPercent ?? 0;
  if (worst <= COARSE_AREA_PERCENT) return [];
  return [
    {
      code: 'COARSE_DOTS',
      message: `dots of ${Number(pitchMm.x.toFixed(4))} x ${Number(pitchMm.y.toFixed(4))} mm are too coarse for this artwork: an opening is off by ${worst.toFixed(0)} % of its area.`,
      hint: 'Give a finer --pitch-mm, the one that the coupons were cut with.',
    },
  ];
}
