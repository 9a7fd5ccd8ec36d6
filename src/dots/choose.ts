import type { Candidate } from './candidates.js';

type PerAxis = { readonly x: number; readonly y: number };

/** What is chosen from, for one class of shapes. */
export interface Choice {
  readonly candidates: readonly Candidate[];
  /** Openings of this shape that count for the mean width; 0 for slanted and thin ones. */
  readonly weight: number;
  /** Narrower side of the shape's box, dots. */
  readonly narrowest: number;
  /** Size of an area error, percent, that counts as much as half a dot in width; default {@link AREA_UNIT_PERCENT}. */
  readonly areaUnitPercent?: number;
}

/** An area error of this size counts as much as half a dot in width; thin shapes keep their width first. */
const AREA_UNIT_PERCENT = 0.8;
const THIN_DOTS = 8;
const WIDTH_UNIT_DOTS = 0.5;

/** Weight of the mean width error may grow to this, in costs per dot of signed error. */
const MAX_PULL = 2.5;

/** The mean signed error that is good enough for shapes, mm. */
const MEAN_GOAL_MM = 2e-4;

/** The mean signed error for which equal openings of different parts may be told different dots, mm. */
const EVENED_GOAL_MM = 1.5e-3;

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
  const costs = choices.map(({ candidates, narrowest, areaUnitPercent }) =>
    candidates.map((one) => costOf(one, narrowest, dot, areaUnitPercent)),
  );
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

/** A part's openings of one shape, which always get equal dots. */
export interface Changeable {
  readonly choice: Choice;
  candidate: Candidate;
  /** Openings in it that count for the mean width. */
  readonly weight: number;
}

/**
 * Where one shape rules a board, no choice that is the same for all of it has a mean near zero. Then some of its parts get
 * the next best dots, cheapest change first, until it is.
 */
export function evenOut(units: readonly Changeable[], dot: PerAxis): void {
  const size = Math.sqrt(dot.x * dot.y);
  const total = 2 * units.reduce((sum, { weight }) => sum + weight, 0);
  const goal = (EVENED_GOAL_MM / size) * total;
  let sum = units.reduce((all, { weight, candidate }) => all + weight * signedError(candidate, dot), 0);
  if (Math.abs(sum) <= goal) return;
  const side = Math.sign(sum);
  const ways = new Map<Choice, { to: Candidate; step: number; price: number } | undefined>();
  const wayOf = ({ choice, candidate }: Changeable) => {
    const cost = (one: Candidate): number => costOf(one, choice.narrowest, dot, choice.areaUnitPercent);
    const own = cost(candidate);
    const all = choice.candidates
      .map((to) => ({ to, step: side * (signedError(candidate, dot) - signedError(to, dot)), more: cost(to) - own }))
      .filter(({ step, more }) => step > 0.2 && more < MOST_TO_EVEN)
      .map(({ to, step, more }) => ({ to, step, price: more / step }));
    return all.length > 0 ? all.reduce((best, one) => (one.price < best.price ? one : best)) : undefined;
  };
  const changes = units.flatMap((unit) => {
    if (unit.weight === 0) return [];
    if (!ways.has(unit.choice)) ways.set(unit.choice, wayOf(unit));
    const way = ways.get(unit.choice);
    return way ? [{ unit, ...way }] : [];
  });
  changes.sort((p, q) => p.price - q.price);
  for (const { unit, to, step } of changes) {
    if (Math.abs(sum) <= goal) return;
    // A part so large that the mean would end up further off on the other side is left alone.
    if (Math.abs(sum - side * step * unit.weight) >= Math.abs(sum)) continue;
    unit.candidate = to;
    sum -= side * step * unit.weight;
  }
}

/** A change for the mean's sake may cost no more than this. */
const MOST_TO_EVEN = 5;
