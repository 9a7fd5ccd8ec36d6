import type { Candidate } from './candidates.js';

/** What is chosen from, for one class of shapes. */
export interface Choice {
  readonly candidates: readonly Candidate[];
  /** Openings of this shape. */
  readonly weight: number;
  /** Narrower side of the shape's box, dots. */
  readonly narrowest: number;
}

/** An area error of this size counts as much as half a dot in width; thin shapes keep their width first. */
const AREA_UNIT_PERCENT = 0.8;
const THIN_DOTS = 8;
const WIDTH_UNIT_DOTS = 0.5;

/** Weight of the mean width error may grow to this, in costs per dot of signed error. */
const MAX_PULL = 6;

/** The mean signed error that is good enough, mm. */
const MEAN_GOAL_MM = 2e-4;

/** How far a candidate is from what is wanted: errors of area and width in their units, squared. */
export function costOf(
  candidate: Candidate,
  narrowest: number,
  dot: { readonly x: number; readonly y: number },
): number {
  const unit = WIDTH_UNIT_DOTS * Math.sqrt(dot.x * dot.y);
  const thin = Math.max(1, (THIN_DOTS / narrowest) ** 2);
  const area = candidate.areaErrorPercent / (AREA_UNIT_PERCENT * thin);
  const wide = (candidate.widthError * dot.x) / unit;
  const high = (candidate.heightError * dot.y) / unit;
  return area * area + wide * wide + high * high + 2 * candidate.ragged;
}

/**
 * Picks one candidate for each shape: the least cost, while a common pull on the signed width errors, found by halving,
 * brings their mean over the whole board near zero.
 *
 * @param dot - mm
 * @returns a candidate for each choice, in order
 */
export function chooseAll(choices: readonly Choice[], dot: { readonly x: number; readonly y: number }): Candidate[] {
  const costs = choices.map(({ candidates, narrowest }) => candidates.map((one) => costOf(one, narrowest, dot)));
  const size = Math.sqrt(dot.x * dot.y);
  const signed = (one: Candidate): number => (one.widthError * dot.x + one.heightError * dot.y) / size;
  const pick = (pull: number): Candidate[] =>
    choices.map(({ candidates }, i) => {
      let best = candidates[0];
      let least = Infinity;
      candidates.forEach((one, k) => {
        const cost = costs[i][k] + pull * signed(one);
        if (cost < least - 1e-9) [best, least] = [one, cost];
      });
      return best;
    });
  const total = choices.reduce((sum, { weight }) => sum + 2 * weight, 0);
  const meanMm = (picked: readonly Candidate[]): number =>
    (size * picked.reduce((sum, one, i) => sum + choices[i].weight * signed(one), 0)) / Math.max(1, total);
  let best = pick(0);
  let bestMean = meanMm(best);
  const side = Math.sign(bestMean);
  let [low, high] = [0, MAX_PULL];
  for (let step = 0; step < 20 && Math.abs(bestMean) > MEAN_GOAL_MM; step += 1) {
    const middle = (low + high) / 2;
    const picked = pick(side * middle);
    const mean = meanMm(picked);
    if (Math.abs(mean) < Math.abs(bestMean)) [best, bestMean] = [picked, mean];
    if (mean * side > 0) low = middle;
    else high = middle;
  }
  return best;
}
