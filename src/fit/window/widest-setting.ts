import { type Boundaries, type BoundaryModel, boundaryLogit, chancesAt } from './boundaries.js';
import { ratioDistance } from './contradictions.js';
import type { WindowCell, WindowRange, WindowSetting } from './types.js';

/** Fine steps along a line of the tested grid. */
const STEPS = 120;
/** No margin is claimed beyond this ratio: nothing that far was tried. */
const LARGEST_LOG_MARGIN = Math.log(10);

interface Setting {
  readonly powerPercent: number;
  readonly speedMmS: number;
}

/** As natural logarithms of the ratio; negative outside the window. */
type Margins = Record<'weaker' | 'stronger' | 'faster' | 'slower', number>;

/** Lowest and highest values that were tried. */
interface Tested {
  readonly power: readonly [number, number];
  readonly speed: readonly [number, number];
}

const isVaried = ([least, most]: readonly [number, number]): boolean => least < most;

export function testedRange(cells: readonly WindowCell[]): Tested {
  const ends = (values: readonly number[]): [number, number] => [Math.min(...values), Math.max(...values)];
  return { power: ends(cells.map((cell) => cell.powerPercent)), speed: ends(cells.map((cell) => cell.speedMmS)) };
}

/** Margins to all four sides at a setting. */
function marginsAt({ through, marked }: Boundaries, { powerPercent, speedMmS }: Setting, tested: Tested): Margins {
  const above = boundaryLogit(through, powerPercent, speedMmS);
  const below = -boundaryLogit(marked, powerPercent, speedMmS);
  // Nothing is said of powers and speeds that were not tried; where only one was, its margin is that of the other axis.
  const held = ([least, most]: readonly [number, number], margin: number, ratio: number): number =>
    least === most ? margin : Math.min(margin, Math.log(ratio));
  return {
    weaker: held(tested.power, logMargin(above, through.slopePower), powerPercent / tested.power[0]),
    stronger: held(tested.power, logMargin(below, marked.slopePower), tested.power[1] / powerPercent),
    faster: held(tested.speed, logMargin(above, -through.slopeSpeed), tested.speed[1] / speedMmS),
    slower: held(tested.speed, logMargin(below, -marked.slopeSpeed), speedMmS / tested.speed[0]),
  };
}

/** Distance to a boundary along one axis: logit / slope. */
function logMargin(logit: number, slope: number): number {
  // An axis that hardly matters, or works the wrong way round within its noise, sets no limit inside what was tried.
  const value = slope > 0 ? logit / slope : logit >= 0 ? LARGEST_LOG_MARGIN : -LARGEST_LOG_MARGIN;
  return Math.max(-LARGEST_LOG_MARGIN, Math.min(LARGEST_LOG_MARGIN, value));
}

/** The middle of a distribution, and what lies one standard deviation below it where it is normal, or so many. */
const [MIDDLE, BELOW, LEAST] = [0.5, 0.16, 0.05];
const LEAST_SDS = 1.645;

/** What a number is at some shares of its distribution, wherever the boundaries may lie. */
function quantiles(draws: readonly Boundaries[], of: (boundaries: Boundaries) => number): (share: number) => number {
  const sorted = Float64Array.from(draws, of).sort();
  return (share) => sorted[Math.floor(share * sorted.length)];
}

/** A margin this much smaller than the widest (relative) is as good; the readings tell no finer. */
const AS_GOOD = 0.03;

/**
 * The setting whose narrowest margin is widest, over the tested range. Along the middle line of a window all settings
 * have nearly the same margin; the readings support those among the cells best (to the nearer boundary, less one standard
 * uncertainty), and of the ones that are as good it takes the one nearest to the middle of the clean cells. Tested powers
 * come first, because a knob is not set to a tenth of a percent while a speed is.
 */
export function widestSetting(cells: readonly WindowCell[], model: BoundaryModel): WindowSetting {
  const powers = distinct(cells.map((cell) => cell.powerPercent));
  const speeds = distinct(cells.map((cell) => cell.speedMmS));
  const atPowers = powers.flatMap((powerPercent) => ratioSteps(speeds).map((speedMmS) => ({ powerPercent, speedMmS })));
  const atSpeeds = speeds.flatMap((speedMmS) => ratioSteps(powers).map((powerPercent) => ({ powerPercent, speedMmS })));
  const tested = testedRange(cells);
  const draws = model.draws();
  const scored = [atPowers, atSpeeds].map((list) =>
    list.map((at) => ({ at, score: supportedMargin(draws, at, tested) })),
  );
  const tops = scored.map((list) => Math.max(...list.map(({ score }) => score)));
  const chosen = tops[0] >= tops[1] - AS_GOOD * Math.abs(tops[1]) ? 0 : 1;
  const middle = middleOfClean(cells);
  const best = scored[chosen]
    .filter(({ score }) => score >= tops[chosen] - AS_GOOD * Math.abs(tops[chosen]))
    .reduce((a, b) => (ratioDistance(b.at, middle) < ratioDistance(a.at, middle) - 1e-12 ? b : a));
  const speedMmS = chosen === 0 ? balanced(scored[0], best.at).speedMmS : best.at.speedMmS;
  return describeSetting(cells, model, draws, {
    powerPercent: settable(best.at.powerPercent, powers),
    speedMmS: settable(speedMmS, speeds),
  });
}

/** At the chosen power, the speed with the very widest margin. */
function balanced(scored: readonly { at: Setting; score: number }[], at: Setting): Setting {
  return scored
    .filter((other) => other.at.powerPercent === at.powerPercent)
    .reduce((a, b) => (b.score > a.score ? b : a)).at;
}

function middleOfClean(cells: readonly WindowCell[]): Setting {
  const clean = cells.filter((cell) => cell.outcomes.includes('through'));
  const mean = (values: readonly number[]): number =>
    Math.exp(values.reduce((sum, value) => sum + Math.log(value), 0) / values.length);
  return {
    powerPercent: mean(clean.map((cell) => cell.powerPercent)),
    speedMmS: mean(clean.map((cell) => cell.speedMmS)),
  };
}

function supportedMargin(draws: readonly Boundaries[], at: Setting, tested: Tested): number {
  return quantiles(draws, (one) => {
    const { weaker, stronger, faster, slower } = marginsAt(one, at, tested);
    return Math.min(weaker, stronger, faster, slower);
  })(BELOW);
}

/** Margins, probability and nearest cell of any setting. */
function describeSetting(
  cells: readonly WindowCell[],
  model: Boundaries,
  draws: readonly Boundaries[],
  at: Setting,
): WindowSetting {
  const tested = testedRange(cells);
  const rangesOf = (boundaries: Boundaries) => {
    const { weaker, stronger, slower, faster } = marginsAt(boundaries, at, tested);
    return { power: range(at.powerPercent, weaker, stronger), speed: range(at.speedMmS, slower, faster) };
  };
  const nearer = (axis: 'power' | 'speed') =>
    quantiles(draws, (one) => {
      const { downPercent, upPercent } = rangesOf(one)[axis];
      return Math.min(downPercent, upPercent);
    });
  const [ofPower, ofSpeed] = [nearer('power'), nearer('speed')];
  // What was not varied can hardly be set, and its margin is that of the other axis in its own measure.
  const varied = [ofPower, ofSpeed].filter((_, i) => isVaried([tested.power, tested.speed][i]));
  const [narrower = ofPower] = varied.sort((p, q) => p(MIDDLE) - q(MIDDLE));
  const nearest = [...cells].sort((a, b) => ratioDistance(a, at) - ratioDistance(b, at))[0];
  return {
    ...at,
    marginPowerPercent: ofPower(MIDDLE),
    marginSpeedPercent: ofSpeed(MIDDLE),
    probabilityClean: probabilityClean(model, at.powerPercent, at.speedMmS),
    narrowestMarginPercent: narrower(MIDDLE),
    ...rangesOf(model),
    // Upwards a margin ends where nothing was tried.
    stdUncertaintyMarginPercent: (narrower(MIDDLE) - narrower(LEAST)) / LEAST_SDS,
    nearestCell: nearest.id,
  };
}

function range(value: number, downLog: number, upLog: number): WindowRange {
  return {
    from: value * Math.exp(-downLog),
    to: value * Math.exp(upLog),
    downPercent: -100 * Math.expm1(-downLog),
    upPercent: 100 * Math.expm1(upLog),
  };
}

/** P(through) − P(marked); a boundary that was not seen takes nothing away. */
export function probabilityClean(model: Boundaries, powerPercent: number, speedMmS: number): number {
  const { through, marked } = chancesAt(model, powerPercent, speedMmS);
  return Math.max(0, through - marked);
}

function distinct(values: readonly number[]): number[] {
  return [...new Set(values)].sort((a, b) => a - b);
}

/** Evenly spaced in ratio from the smallest to the largest; the ends included. */
export function ratioSteps(sorted: readonly number[], steps = STEPS): number[] {
  const first = sorted[0];
  const last = sorted[sorted.length - 1];
  if (first === last) return [first];
  return Array.from({ length: steps + 1 }, (_, k) => first * (last / first) ** (k / steps));
}

/** A tested value as it is; any other with the three digits that a person can set. */
function settable(value: number, tested: readonly number[]): number {
  const near = tested.find((other) => Math.abs(other / value - 1) < 1e-9);
  return near ?? Number(value.toPrecision(3));
}
