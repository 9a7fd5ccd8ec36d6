import { dot } from '../linear/small-matrices.js';
import { type BoundaryModel, boundaryLogit, chancesAt } from './boundaries.js';
import { ratioDistance } from './contradictions.js';
import type { WindowBoundary, WindowCell, WindowRange, WindowSetting } from './types.js';

/** Fine steps along a line of the tested grid. */
const STEPS = 240;
/** No margin is claimed beyond this ratio: nothing that far was tried. */
const LARGEST_LOG_MARGIN = Math.log(10);

interface Setting {
  readonly powerPercent: number;
  readonly speedMmS: number;
}

interface LogMargin {
  readonly value: number;
  readonly stdUncertainty: number;
}

type Margins = Record<'weaker' | 'stronger' | 'faster' | 'slower', LogMargin>;

/** Lowest and highest values that were tried. */
interface Tested {
  readonly power: readonly [number, number];
  readonly speed: readonly [number, number];
}

function testedRange(cells: readonly WindowCell[]): Tested {
  const ends = (values: readonly number[]): [number, number] => [Math.min(...values), Math.max(...values)];
  return { power: ends(cells.map((cell) => cell.powerPercent)), speed: ends(cells.map((cell) => cell.speedMmS)) };
}

/** Margins to all four sides at a setting, as natural logarithms of the ratio; negative outside the window. */
function marginsAt(model: BoundaryModel, at: Setting, tested: Tested): Margins {
  const margins = {
    weaker: logMargin(model.through, at, 'power', 1),
    stronger: logMargin(model.marked, at, 'power', -1),
    faster: logMargin(model.through, at, 'speed', 1),
    slower: logMargin(model.marked, at, 'speed', -1),
  };
  // Nothing is said of powers and speeds that were not tried; where only one was, its margin is that of the other axis.
  const held = ([least, most]: readonly [number, number], margin: LogMargin, ratio: number): LogMargin =>
    least === most ? margin : upTo(margin, ratio);
  return {
    weaker: held(tested.power, margins.weaker, at.powerPercent / tested.power[0]),
    stronger: held(tested.power, margins.stronger, tested.power[1] / at.powerPercent),
    faster: held(tested.speed, margins.faster, tested.speed[1] / at.speedMmS),
    slower: held(tested.speed, margins.slower, at.speedMmS / tested.speed[0]),
  };
}

function upTo(margin: LogMargin, ratio: number): LogMargin {
  const limit = Math.log(ratio);
  return margin.value > limit ? { value: limit, stdUncertainty: 0 } : margin;
}

/** Distance to a boundary along one axis: logit / slope, its uncertainty by first-order propagation. */
function logMargin(boundary: WindowBoundary, at: Setting, axis: 'power' | 'speed', sign: 1 | -1): LogMargin {
  const logit = sign * boundaryLogit(boundary, at.powerPercent, at.speedMmS);
  const slope = axis === 'power' ? boundary.slopePower : -boundary.slopeSpeed;
  // An axis that hardly matters, or works the wrong way round within its noise, sets no limit inside what was tried.
  const value = slope > 0 ? logit / slope : logit >= 0 ? LARGEST_LOG_MARGIN : -LARGEST_LOG_MARGIN;
  if (Math.abs(value) >= LARGEST_LOG_MARGIN) {
    return { value: Math.sign(value) * LARGEST_LOG_MARGIN, stdUncertainty: 0 };
  }
  const offsets = [
    1,
    Math.log(at.powerPercent / boundary.centre.powerPercent),
    Math.log(at.speedMmS / boundary.centre.speedMmS),
  ];
  const gradient = offsets.map((offset) => (sign * offset) / slope);
  gradient[axis === 'power' ? 1 : 2] -= (axis === 'power' ? 1 : -1) * (value / slope);
  const variance = dot(
    gradient,
    boundary.covariance.map((row) => dot(row, gradient)),
  );
  return { value, stdUncertainty: Math.sqrt(Math.max(0, variance)) };
}

/** A margin this much smaller than the widest (relative) is as good; the readings tell no finer. */
const AS_GOOD = 0.03;

/**
 * The setting whose narrowest margin is widest, over the tested range. Along the middle line of a window all settings
 * have nearly the same margin; the readings support those among the cells best (margin less one standard uncertainty),
 * and of the ones that are as good it takes the one nearest to the middle of the clean cells. Tested powers come first,
 * because a knob is not set to a tenth of a percent while a speed is.
 */
export function widestSetting(cells: readonly WindowCell[], model: BoundaryModel): WindowSetting {
  const powers = distinct(cells.map((cell) => cell.powerPercent));
  const speeds = distinct(cells.map((cell) => cell.speedMmS));
  const atPowers = powers.flatMap((powerPercent) => ratioSteps(speeds).map((speedMmS) => ({ powerPercent, speedMmS })));
  const atSpeeds = speeds.flatMap((speedMmS) => ratioSteps(powers).map((powerPercent) => ({ powerPercent, speedMmS })));
  const tested = testedRange(cells);
  const scored = [atPowers, atSpeeds].map((list) =>
    list.map((at) => ({ at, score: supportedMargin(model, at, tested) })),
  );
  const tops = scored.map((list) => Math.max(...list.map(({ score }) => score)));
  const chosen = tops[0] >= tops[1] - AS_GOOD * Math.abs(tops[1]) ? 0 : 1;
  const middle = middleOfClean(cells);
  const best = scored[chosen]
    .filter(({ score }) => score >= tops[chosen] - AS_GOOD * Math.abs(tops[chosen]))
    .reduce((a, b) => (ratioDistance(b.at, middle) < ratioDistance(a.at, middle) - 1e-12 ? b : a));
  const speedMmS = chosen === 0 ? balanced(scored[0], best.at).speedMmS : best.at.speedMmS;
  return describeSetting(cells, model, {
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

function supportedMargin(model: BoundaryModel, at: Setting, tested: Tested): number {
  return Math.min(
    ...Object.values(marginsAt(model, at, tested)).map(({ value, stdUncertainty }) => value - stdUncertainty),
  );
}

/** Margins, probability and nearest cell of any setting. */
function describeSetting(cells: readonly WindowCell[], model: BoundaryModel, at: Setting): WindowSetting {
  const margins = marginsAt(model, at, testedRange(cells));
  const power = range(at.powerPercent, margins.weaker.value, margins.stronger.value);
  const speed = range(at.speedMmS, margins.slower.value, margins.faster.value);
  // A boundary that nobody has seen bounds the margin from below and has no uncertainty to tell.
  const seen = [
    ...(model.through.seen ? [margins.weaker, margins.faster] : []),
    ...(model.marked.seen ? [margins.stronger, margins.slower] : []),
  ];
  const narrowest = seen.sort((a, b) => a.value - b.value)[0];
  const nearest = [...cells].sort((a, b) => ratioDistance(a, at) - ratioDistance(b, at))[0];
  return {
    ...at,
    marginPowerPercent: Math.min(power.downPercent, power.upPercent),
    marginSpeedPercent: Math.min(speed.downPercent, speed.upPercent),
    probabilityClean: probabilityClean(model, at.powerPercent, at.speedMmS),
    power,
    speed,
    stdUncertaintyMarginPercent: 100 * (narrowest?.stdUncertainty ?? 0),
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
export function probabilityClean(model: BoundaryModel, powerPercent: number, speedMmS: number): number {
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
