import { threeDigits } from '../../text.js';
import { type BoundaryModel, chancesAt, logsOf, middleOfCells, thinned } from './boundaries.js';
import { ratioDistance } from './contradictions.js';
import type { Edges } from './ordered.js';
import type { WindowCell, WindowRange, WindowSetting } from './types.js';

/** Fine steps along a line of the tested grid. */
const STEPS = 120;

export interface Setting {
  readonly powerPercent: number;
  readonly speedMmS: number;
}

/** As natural logarithms of the ratio; negative outside the window. */
type Margins = Record<'weaker' | 'stronger' | 'faster' | 'slower', number>;

type Tested = ReturnType<typeof testedRange>;

const isVaried = ([least, most]: readonly [number, number]): boolean => least < most;

/** Lowest and highest values that were tried. */
export function testedRange(cells: readonly WindowCell[]) {
  const ends = (values: readonly number[]): [number, number] => [Math.min(...values), Math.max(...values)];
  return { power: ends(cells.map((cell) => cell.powerPercent)), speed: ends(cells.map((cell) => cell.speedMmS)) };
}

/** The same as logarithms, from the middle of the grid. */
function testedLogs(cells: readonly WindowCell[], { through: { centre } }: BoundaryModel): Tested {
  const { power, speed } = testedRange(cells);
  const [least, most] = [0, 1].map((i) => logsOf({ powerPercent: power[i], speedMmS: speed[i] }, centre));
  return { power: [least.power, most.power], speed: [least.speed, most.speed] };
}

/** Margins to all four sides at a setting. Nothing is said of powers and speeds that were not tried. */
function marginsAt(edges: Edges, { power, speed }: ReturnType<typeof logsOf>, tested: Tested): Margins {
  const above = power - edges.throughSpeed * speed - edges.through;
  const below = edges.marked - power + edges.markedSpeed * speed;
  const weaker = Math.min(above, power - tested.power[0]);
  const stronger = Math.min(below, tested.power[1] - power);
  const faster = Math.min(above / edges.throughSpeed, tested.speed[1] - speed);
  const slower = Math.min(below / edges.markedSpeed, speed - tested.speed[0]);
  // Where only one was tried, its margin is that of the other axis.
  if (!isVaried(tested.power)) return { weaker: faster, stronger: slower, faster, slower };
  if (!isVaried(tested.speed)) return { weaker, stronger, faster: weaker, slower: stronger };
  return { weaker, stronger, faster, slower };
}

/** The middle of a distribution, and what lies one standard deviation below it where it is normal, or so many. */
const [MIDDLE, BELOW, LEAST] = [0.5, 0.16, 0.05];
export const LEAST_SDS = 1.645;

/** What margins are at some shares of their distribution, wherever the boundaries may lie. */
function quantiles(margins: readonly Margins[], of: (one: Margins) => number): (share: number) => number {
  const sorted = Float64Array.from(margins, of).sort();
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
  const tested = testedLogs(cells, model);
  const { centre } = model.through;
  const { draws } = thinned(model);
  const scored = [atPowers, atSpeeds].map((list) =>
    list.map((at) => ({ at, score: supportedMargin(draws, logsOf(at, centre), tested) })),
  );
  const tops = scored.map((list) => Math.max(...list.map(({ score }) => score)));
  const chosen = tops[0] >= tops[1] - AS_GOOD * Math.abs(tops[1]) ? 0 : 1;
  const middle = middleOfCells(cells.filter(({ outcomes }) => outcomes.includes('through')));
  const best = scored[chosen]
    .filter(({ score }) => score >= tops[chosen] - AS_GOOD * Math.abs(tops[chosen]))
    .reduce((a, b) => (ratioDistance(b.at, middle) < ratioDistance(a.at, middle) - 1e-12 ? b : a));
  // At a power that was tried, the speed with the very widest margin.
  const alike = scored[0].filter(({ at }) => at.powerPercent === best.at.powerPercent);
  const { speedMmS } = chosen === 0 ? alike.reduce((a, b) => (b.score > a.score ? b : a)).at : best.at;
  return describeSetting(cells, model, {
    powerPercent: settable(best.at.powerPercent, powers),
    speedMmS: settable(speedMmS, speeds),
  });
}

function supportedMargin(draws: readonly Edges[], at: ReturnType<typeof logsOf>, tested: Tested): number {
  const margins = draws.map((one) => marginsAt(one, at, tested));
  return quantiles(margins, ({ weaker, stronger, faster, slower }) => Math.min(weaker, stronger, faster, slower))(
    BELOW,
  );
}

/** Margins, probability and nearest cell of any setting. */
function describeSetting(cells: readonly WindowCell[], model: BoundaryModel, at: Setting): WindowSetting {
  const tested = testedLogs(cells, model);
  const logs = logsOf(at, model.through.centre);
  const margins = model.draws.map((one) => marginsAt(one, logs, tested));
  const over = (of: (one: Margins) => number) => quantiles(margins, of);
  const [power, speed] = [
    range(at.powerPercent, over((one) => one.weaker)(MIDDLE), over((one) => one.stronger)(MIDDLE)),
    range(at.speedMmS, over((one) => one.slower)(MIDDLE), over((one) => one.faster)(MIDDLE)),
  ];
  const ofPower = over(({ weaker, stronger }) => nearer(weaker, stronger));
  const ofSpeed = over(({ slower, faster }) => nearer(slower, faster));
  // What was not varied can hardly be set, and its margin is that of the other axis in its own measure.
  const varied = [ofPower, ofSpeed].filter((_, i) => isVaried([tested.power, tested.speed][i]));
  const [narrower = ofPower] = varied.sort((p, q) => p(MIDDLE) - q(MIDDLE));
  const nearest = [...cells].sort((a, b) => ratioDistance(a, at) - ratioDistance(b, at))[0];
  return {
    ...at,
    marginPowerPercent: ofPower(MIDDLE),
    marginSpeedPercent: ofSpeed(MIDDLE),
    probabilityClean: probabilityClean(model, at),
    narrowestMarginPercent: narrower(MIDDLE),
    power,
    speed,
    // Upwards a margin ends where nothing was tried.
    stdUncertaintyMarginPercent: (narrower(MIDDLE) - narrower(LEAST)) / LEAST_SDS,
    nearestCell: nearest.id,
  };
}

/** A margin as it is told everywhere; narrow ones with a digit more. */
export const marginWords = (percent: number): string => percent.toFixed(percent < 9.95 ? 1 : 0);

/** Of what can be set, the narrowest margin: wherever the edges may lie, at most what each side is told to have. */
export function narrowestTold(
  { narrowestMarginPercent, power, speed }: WindowSetting,
  fixed: readonly ('power' | 'speed')[] = [],
): number {
  const sides = Object.entries({ power, speed }).filter(([axis]) => !fixed.some((one) => one === axis));
  const margins = sides.flatMap(([, { downPercent, upPercent }]) => [downPercent, upPercent]);
  return Math.min(narrowestMarginPercent, ...margins);
}

/** In percent, of the way down and the way up. */
function nearer(downLog: number, upLog: number): number {
  return Math.min(-100 * Math.expm1(-downLog), 100 * Math.expm1(upLog));
}

function range(value: number, downLog: number, upLog: number): WindowRange {
  return {
    from: value * Math.exp(-downLog),
    to: value * Math.exp(upLog),
    downPercent: -100 * Math.expm1(-downLog),
    upPercent: 100 * Math.expm1(upLog),
  };
}

/** P(through) − P(marked). */
export function probabilityClean(model: BoundaryModel, at: Setting): number {
  const { through, marked } = chancesAt(model, at);
  return Math.max(0, through - marked);
}

/** Each once, rising. */
export function distinct(values: readonly number[]): number[] {
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
  return near ?? threeDigits(value);
}
