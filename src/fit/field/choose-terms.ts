import type { FieldTerm } from '../../machine/types.js';
import { fisherUpper } from '../statistics/distributions.js';
import type { AxisFit, Fitted, Shape } from './axis-fit.js';

const POLYNOMIALS = (['uu', 'uv', 'vv', 'uuu', 'uuv', 'uvv', 'vvv'] as const).map((shape): Shape[] => [{ shape }]);
/** Chance with which a term is taken that is not there, over all that were looked at. */
const LEVEL = 0.01;
/** Waves that are shorter can't be told from the marks' own size, mm. */
const SHORTEST_MM = 4;
const MOST_WAVES = 3;

interface Candidate {
  readonly shapes: readonly Shape[];
  /** Numbers that are fitted for it. */
  readonly numbers: number;
  /** How many like it were looked at, and could have come out by chance. */
  readonly tries: number;
}

/** The terms that the places along one axis ask for, with what is known of them. */
export function chooseTerms(axis: AxisFit, moves: 'x' | 'y') {
  const polynomials = POLYNOMIALS.map((shapes): Candidate => ({ shapes, numbers: 1, tries: POLYNOMIALS.length }));
  let taken = forward(axis, [], () => polynomials);
  for (let wave = 0; wave < MOST_WAVES; wave += 1) {
    const more = forward(axis, taken, (now) => [...waves(axis, now), ...polynomials], 1);
    if (more.length === taken.length) break;
    taken = forward(axis, backward(axis, more), () => polynomials);
  }
  return told(axis, moves, backward(axis, taken));
}

const shapesOf = (taken: readonly Candidate[]): Shape[] => taken.flatMap(({ shapes }) => [...shapes]);

/** Takes the best of what is offered as long as it passes both tests. */
function forward(
  axis: AxisFit,
  start: readonly Candidate[],
  offered: (taken: readonly Candidate[]) => readonly Candidate[],
  most = 20,
): Candidate[] {
  const taken = [...start];
  let now = axis.fit(shapesOf(taken));
  for (let n = 0; n < most; n += 1) {
    const best = offered(taken)
      .filter(({ shapes }) => !taken.some((one) => one.shapes[0].shape === shapes[0].shape && !shapes[0].periodMm))
      .map((candidate) => ({ candidate, fit: axis.fit([...shapesOf(taken), ...candidate.shapes]) }))
      .map((one) => ({ ...one, f: fOf(now, one.fit, one.candidate.numbers) }))
      .sort((a, b) => b.f - a.f)
      .at(0);
    if (!best || best.fit.dof < 8) break;
    const chance = fisherUpper(best.f, best.candidate.numbers, best.fit.dof - (best.candidate.numbers - 1));
    if (!(chance * best.candidate.tries < LEVEL) || best.fit.press >= now.press) break;
    taken.push(best.candidate);
    now = best.fit;
  }
  return taken;
}

/** Leaves out what is no longer needed beside later terms. */
function backward(axis: AxisFit, start: readonly Candidate[]): Candidate[] {
  let taken = [...start];
  for (;;) {
    const whole = axis.fit(shapesOf(taken));
    const chances = taken.map((one) => {
      const without = axis.fit(shapesOf(taken.filter((other) => other !== one)));
      return fisherUpper(fOf(without, whole, one.numbers), one.numbers, whole.dof) * one.tries;
    });
    const worst = chances.indexOf(Math.max(...chances));
    if (worst < 0 || chances[worst] < LEVEL) return taken;
    taken = taken.filter((_, i) => i !== worst);
  }
}

const fOf = (smaller: Fitted, larger: Fitted, numbers: number): number =>
  (smaller.sum - larger.sum) / numbers / (larger.sum / Math.max(1, larger.dof) + 1e-18);

/** The best wave along each axis: the period by a search over all that the marks can tell, then finer. */
function waves(axis: AxisFit, taken: readonly Candidate[]): Candidate[] {
  const [x0, y0, x1, y1] = axis.areaMm;
  const gain = axis.gainOf(shapesOf(taken));
  return (['u', 'v'] as const).flatMap((letter): Candidate[] => {
    const length = letter === 'u' ? x1 - x0 : y1 - y0;
    const places = new Set(axis.marks.map(({ at }) => Math.round(2 * at[letter === 'u' ? 0 : 1]) / 2)).size;
    const shortest = Math.max(SHORTEST_MM, (2.2 * length) / Math.max(1, places - 1));
    if (places < 8 || shortest > length / 2) return [];
    const shapes = (frequency: number): [Shape, Shape] => [
      { shape: `sin ${letter}`, periodMm: 1 / frequency },
      { shape: `cos ${letter}`, periodMm: 1 / frequency },
    ];
    const step = 1 / (4 * length);
    let [best, most] = [0, -1];
    let count = 0;
    for (let frequency = 1 / length; frequency <= 1 / shortest; frequency += step) {
      const gained = gain(shapes(frequency));
      count += 1;
      if (gained > most) [best, most] = [frequency, gained];
    }
    for (let width = step; width > 1e-3 * step; width *= 0.6) {
      for (const near of [best - width / 2, best + width / 2]) {
        const gained = gain(shapes(near));
        if (gained > most) [best, most] = [near, gained];
      }
    }
    return [{ shapes: shapes(best), numbers: 3, tries: count }];
  });
}

function told(axis: AxisFit, moves: 'x' | 'y', taken: readonly Candidate[]) {
  const shapes = shapesOf(taken);
  const { values, left, pressed, sum } = axis.fit(shapes);
  // A period that is not quite known shifts the wave along the bed: its own column takes that part.
  const slopes = taken.flatMap(({ shapes: own }) => {
    if (own[0].periodMm === undefined) return [];
    const at = shapes.indexOf(own[0]);
    const h = 1e-4;
    const nudged = (by: number): Float64Array[] =>
      own.map(({ shape, periodMm = 1 }) => axis.columnOf({ shape, periodMm: periodMm * (1 + by) }));
    const [up, down] = [nudged(h), nudged(-h)];
    return [
      up[0].map(
        (_, i) =>
          (values[at] * (up[0][i] - down[0][i]) + values[at + 1] * (up[1][i] - down[1][i])) /
          (2 * h * Math.hypot(values[at], values[at + 1])),
      ),
    ];
  });
  const { inverse, dof } = axis.fit(shapes, slopes);
  const variance = sum / Math.max(1, dof);
  // Beside a slope or a cubic a long wave is hardly known, and what they make of a place together is known well: so places
  // are told with the straight part held. Periods count by the mean over the marks, where each number takes the same share.
  const share = (shapes.length + slopes.length) / Math.max(1, shapes.length);
  const covariance = axis.inverseAlone(shapes).map((row) => row.map((value) => value * share * variance));
  const terms = shapes.map((shape, i): FieldTerm => {
    return { moves, ...shape, mm: values[i], stdUncertainty: Math.sqrt(inverse[i][i] * variance) };
  });
  return { terms, covariance, left, pressed, dof };
}
