import type { Candidate } from './candidates.js';

type PerAxis = { readonly x: number; readonly y: number };

/** What is chosen from, for one class of shapes. */
export interface Choice {
  readonly candidates: readonly Candidate[];
  /** Openings of this shape that count for the mean width; 0 for slanted and thin ones. */
  readonly weight: number;
  /** Narrower side of the shape's box, dots. */
  readonly narrowest: number;
}

/** An area error of this size counts as much as half a dot in width; thin shapes keep their width first. */
const AREA_UNIT_PERCENT = 0.8;
const THIN_DOTS = 8;
const WIDTH_UNIT_DOTS = 0.5;

/** Weight of the mean width error may grow to this, in costs per dot of signed error. */
const MAX_PULL = 2.5;

/** The mean signed error that is good enough, mm. */
const MEAN_GOAL_MM = 2e-4;

/** How far a candidate is from what is wanted: errors of area and width in their units, squared. */
export function costOf(
  candidate: Candidate,
  narrowest: number,
  dot: PerAxis,
  areaUnitPercent = AREA_UNIT_PERCENT,
): number {
  const unit = WIDTH_UNIT_DOTS * Math.sqrt(dot.x * dot.y);
  const thin = Math.max(1, (THIN_DOTS / narrowest) ** 2);
  const area = candidate.areaErrorPercent / (areaUnitPercent * thin);
  const wide = (candidate.widthError * dot.x) / unit;
  const high = (candidate.heightError * dot.y) / unit;
  return area * area + wide * wide + high * high + 2 * candidate.ragged;
}

/**
 * Picks one candidate for each shape: the least cost, while a common pull on the signed width errors, found by halving,
 * brings their mean over the whole board near zero.
 *
 * @param dot - mm
 * @returns a candidate for each choice, in order, and the pull
 */
export function chooseAll(
  choices: readonly Choice[],
  dot: PerAxis,
): { readonly chosen: readonly Candidate[]; readonly pull: number } {
  const costs = choices.map(({ candidates, narrowest }) => candidates.map((one) => costOf(one, narrowest, dot)));
  const size = Math.sqrt(dot.x * dot.y);
  const pick = (pull: number): Candidate[] =>
    choices.map(({ candidates, weight }, i) => {
      const own = weight > 0 ? pull : 0;
      return least(candidates, (one, k) => costs[i][k] + own * signedError(one, dot));
    });
  const total = choices.reduce((sum, { weight }) => sum + 2 * weight, 0);
  const meanMm = (picked: readonly Candidate[]): number =>
    (size * picked.reduce((sum, one, i) => sum + choices[i].weight * signedError(one, dot), 0)) / Math.max(1, total);
  let best = pick(0);
  let bestMean = meanMm(best);
  let bestPull = 0;
  const side = Math.sign(bestMean);
  let [low, high] = [0, MAX_PULL];
  for (let step = 0; step < 20 && Math.abs(bestMean) > MEAN_GOAL_MM; step += 1) {
    const middle = (low + high) / 2;
    const pull = side * middle;
    const picked = pick(pull);
    const mean = meanMm(picked);
    if (Math.abs(mean) < Math.abs(bestMean)) [best, bestMean, bestPull] = [picked, mean, pull];
    if (mean * side > 0) low = middle;
    else high = middle;
  }
  return { chosen: best, pull: bestPull };
}

/** Where a web has taken the width, the area is what is left to get right, percent. */
const NARROWED_AREA_UNIT_PERCENT = 0.3;

/** Picks for one shape that was narrowed for a web, under the pull that was found for the whole board. */
export function chooseOne({ candidates, narrowest, weight }: Choice, dot: PerAxis, pull: number): Candidate {
  const own = weight > 0 ? pull : 0;
  return least(
    candidates,
    (one) => costOf(one, narrowest, dot, NARROWED_AREA_UNIT_PERCENT) + own * signedError(one, dot),
  );
}

function signedError(one: Candidate, dot: PerAxis): number {
  return (one.widthError * dot.x + one.heightError * dot.y) / Math.sqrt(dot.x * dot.y);
}

function least(candidates: readonly Candidate[], costAt: (one: Candidate, position: number) => number): Candidate {
  let best = candidates[0];
  let lowest = Infinity;
  candidates.forEach((one, k) => {
    const cost = costAt(one, k);
    if (cost < lowest - 1e-9) [best, lowest] = [one, cost];
  });
  return best;
}
