import type { CholeskyDecomposition } from 'ml-matrix';
import { cholesky, choleskyLogDet, choleskySolve, dot } from '../linear/small-matrices.js';
import { expit } from '../statistics/distributions.js';
import { sampleEnsemble, seeded } from '../statistics/ensemble-sampler.js';

/** One setting with how often each level was seen there. */
export interface OrderedCell {
  readonly x: readonly number[];
  /** Counts per level, lowest level first. */
  readonly counts: readonly number[];
}

/** A fitted cumulative logit model: ln(P(level ≥ j) / P(level < j)) = rowFor(j, x) · parameters. */
export interface OrderedFit {
  /** levelCount − 1 thresholds, then one slope per x: the most likely ones. */
  readonly parameters: readonly number[];
  /** The same as they may be, each as often as it is likely; looked for when asked. */
  draws(): readonly (readonly number[])[];
}

const MAX_ITERATIONS = 300;
const LOGIT_TOLERANCE = 1e-8;
const WALKERS_PER_PARAMETER = 6;
const STEPS = { burnIn: 80, kept: 200 };
/** So many of all draws are handed on: neighbours are hardly new. */
const DRAWS = 250;

/** expit(a) − expit(b) for a ≥ b without cancellation; ±Infinity stand for probability 1 and 0. */
function band(a: number, b: number): number {
  if (a === Number.POSITIVE_INFINITY) return expit(-b);
  if (b === Number.NEGATIVE_INFINITY) return expit(a);
  return expit(a) * expit(-b) * -Math.expm1(b - a);
}

interface State {
  readonly phi: readonly number[];
  readonly score: readonly number[];
  readonly lower: CholeskyDecomposition;
  readonly objective: number;
}

/** Likelihood, score and expected information; undefined where a level's probability isn't positive. */
function stateAt(cells: readonly OrderedCell[], phi: readonly number[]): State | undefined {
  const size = phi.length;
  const score = new Array<number>(size).fill(0);
  const information = Array.from({ length: size }, () => new Array<number>(size).fill(0));
  const change = new Float64Array(size);
  let logLikelihood = 0;
  for (const { x, counts } of cells) {
    const boundaries = counts.length - 1;
    let [shift, total] = [0, 0];
    for (let k = 0; k < x.length; k++) shift += x[k] * phi[boundaries + k];
    for (const count of counts) total += count;
    let [logitBelow, slopeBelow] = [Number.POSITIVE_INFINITY, 0];
    for (let level = 0; level <= boundaries; level++) {
      const logit = level < boundaries ? phi[level] + shift : Number.NEGATIVE_INFINITY;
      const p = logitBelow > logit ? band(logitBelow, logit) : 0;
      if (!(p > 0)) return undefined;
      const slope = level < boundaries ? expit(logit) * expit(-logit) : 0;
      change.fill(0);
      if (level > 0) change[level - 1] = slopeBelow;
      if (level < boundaries) change[level] = -slope;
      for (let k = 0; k < x.length; k++) change[boundaries + k] = (slopeBelow - slope) * x[k];
      logLikelihood += counts[level] * Math.log(p);
      for (let a = 0; a < size; a++) {
        score[a] += (counts[level] * change[a]) / p;
        const own = (total * change[a]) / p;
        for (let b = 0; b <= a; b++) information[a][b] += own * change[b];
      }
      logitBelow = logit;
      slopeBelow = slope;
    }
  }
  // Its lower half counts.
  const lower = cholesky(information, 1e-12);
  if (!lower) return undefined;
  return { phi, score, lower, objective: logLikelihood + choleskyLogDet(lower) / 2 };
}

/** Gradient of ½ ln det information by central differences. */
function penaltySlope(cells: readonly OrderedCell[], phi: readonly number[]): number[] | undefined {
  const slope: number[] = [];
  for (let k = 0; k < phi.length; k++) {
    const h = 1e-5 * Math.max(1, Math.abs(phi[k]));
    const ends = [h, -h].map((move) =>
      stateAt(
        cells,
        phi.map((value, j) => (j === k ? value + move : value)),
      ),
    );
    if (!ends[0] || !ends[1]) return undefined;
    slope.push((choleskyLogDet(ends[0].lower) - choleskyLogDet(ends[1].lower)) / (4 * h));
  }
  return slope;
}

/** Thresholds from the shares of the levels, slopes zero: a start where every probability is positive. */
function startAt(cells: readonly OrderedCell[], levelCount: number): number[] {
  const totals = Array.from({ length: levelCount }, (_, level) =>
    cells.reduce((sum, cell) => sum + cell.counts[level] + 0.5, 0),
  );
  const all = totals.reduce((sum, value) => sum + value, 0);
  const thresholds = Array.from({ length: levelCount - 1 }, (_, j) => {
    const above = totals.slice(j + 1).reduce((sum, value) => sum + value, 0) / all;
    return Math.log(above / (1 - above));
  });
  return [...thresholds, ...cells[0].x.map(() => 0)];
}

/**
 * Fits a cumulative logit model with parallel boundaries (proportional odds) to ordered levels, with Jeffreys' prior: the likelihood times the square root of the
 * determinant of the expected information. The answer is finite also when the levels are parted completely, which is
 * the normal case of a power/speed grid.
 *
 * @param cells - settings (x centred and scaled by the caller, about 1 in size) with counts per level; every level seen
 * @returns undefined when the settings can't carry the model (x all alike)
 * @remarks Fisher scoring on the penalised likelihood with step halving. For two levels this is Firth's logistic fit.
 * Sources: McCullagh, J. R. Statist. Soc. B 42 (1980) 109–142; Firth, Biometrika 80 (1993) 27–38.
 */
export function fitOrdered(cells: readonly OrderedCell[]): OrderedFit | undefined {
  const levelCount = cells[0].counts.length;
  let state = stateAt(cells, startAt(cells, levelCount));
  for (let iteration = 1; state && iteration <= MAX_ITERATIONS; iteration++) {
    const pull = penaltySlope(cells, state.phi);
    if (!pull) return undefined;
    const step = choleskySolve(
      state.lower,
      state.score.map((value, k) => value + pull[k]),
    );
    const [thresholds, slopes] = [step.slice(0, levelCount - 1), step.slice(levelCount - 1)];
    const moves = cells.flatMap(({ x }) => thresholds.map((move) => Math.abs(move + dot(x, slopes))));
    const next = Math.max(...moves) < LOGIT_TOLERANCE ? state : climbAlong(cells, state, step);
    if (next === state || next === undefined) break;
    state = next;
  }
  return state && { parameters: state.phi, draws: () => drawsAround(cells, state) };
}

/**
 * The likelihood with the same prior around its top. Parted levels leave slopes open upwards and edges anywhere between two
 * cells; half-widths by curvature at the top were twice as wide as seven cells at one speed leave them.
 */
function drawsAround(cells: readonly OrderedCell[], { phi, lower }: State): number[][] {
  const random = seeded();
  const density = (at: ArrayLike<number>): number =>
    stateAt(cells, Array.from(at))?.objective ?? Number.NEGATIVE_INFINITY;
  const walkers = Array.from({ length: 2 * Math.ceil((WALKERS_PER_PARAMETER * phi.length) / 2) }, () => {
    const step = choleskySolve(lower, phi.map((_, k) => Math.sqrt(lower.lowerTriangularMatrix.get(k, k)) * (random() - 0.5))); // biome-ignore format: one thought
    for (let share = 1; ; share /= 2) {
      const place = Float64Array.from(phi, (value, k) => value + share * step[k]);
      if (density(place) > Number.NEGATIVE_INFINITY) return place;
    }
  });
  const series = sampleEnsemble(density, walkers, STEPS, random);
  const every = series[0].length / DRAWS;
  return Array.from({ length: DRAWS }, (_, i) => series.map((values) => values[Math.floor(i * every)]));
}

function climbAlong(cells: readonly OrderedCell[], from: State, step: readonly number[]): State | undefined {
  for (let share = 1; share > 1e-9; share /= 2) {
    const next = stateAt(
      cells,
      from.phi.map((value, k) => value + share * step[k]),
    );
    if (next && next.objective > from.objective) return next;
  }
  return undefined;
}
