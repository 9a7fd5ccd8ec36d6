import type { FilmWords } from '../../fit/window/refusal.js';
import type { WindowBoundary, WindowResult } from '../../fit/window/types.js';
import type { CellOutcome } from '../../readings/types.js';
import { threeDigits } from '../../text.js';
import { type At, CHART_WIDTH_PX, type Chart, type ChartAxis, type ChartMark, INK, type PointStyle } from './chart.js';
import { renderChart } from './render-chart.js';

const CELLS: Readonly<Record<CellOutcome, PointStyle>> = {
  uncut: { symbol: 'circle', stroke: INK.grey, fill: 'white', areaPx2: 95, widthPx: 1.6 },
  partial: { symbol: 'up', stroke: INK.orange, fill: 'white', areaPx2: 95, widthPx: 1.6 },
  through: { symbol: 'square', stroke: INK.green, fill: INK.green, areaPx2: 95, widthPx: 1.6 },
  marked: { symbol: 'cross', stroke: INK.black, areaPx2: 95, widthPx: 1.6 },
};
const DOUBTED: PointStyle = { symbol: 'circle', stroke: INK.purple, areaPx2: 420, widthPx: 1.8 };
const WIDEST: PointStyle = { symbol: 'diamond', stroke: INK.black, fill: 'white', areaPx2: 330, widthPx: 2.4 };
const THROUGH = { ink: INK.blue, widthPx: 2.2 };
const MARKED = { ink: INK.vermillion, widthPx: 2.2, dash: [7, 4] };
/** Steps along a boundary or the edge of an area. */
const STEPS = 120;
const SHADES = [0.5, 0.8, 0.95];
/** A label with its room, px. */
const TICK_ROOM_PX = 30;

interface Range {
  readonly low: number;
  readonly high: number;
}

/**
 * Map of a power/speed grid: the cells as read, the two boundaries of the window, how likely a clean cut is, and the
 * setting with the widest margin.
 *
 * @param result - from fitWindow; without boundaries the cells alone are drawn
 * @param fixed - what the machine can't set: no margin of it is shown
 */
export async function windowMap(result: WindowResult, fixed: FilmWords['fixed'] = []): Promise<Chart> {
  const powers = result.cells.map((cell) => cell.powerPercent);
  const speeds = result.cells.map((cell) => cell.speedMmS);
  const power = padded(powers);
  const speed = padded(speeds);
  const { setting } = result;
  const lines = boundaryLines(result, power, speed);
  const outcomes = (Object.keys(CELLS) as CellOutcome[]).filter((outcome) =>
    result.cells.some((cell) => cell.outcomes.includes(outcome)),
  );
  const doubtful = result.cells.filter(({ id }) => result.contradictions.some((other) => other.id === id));
  return renderChart({
    title: 'Process window',
    subtitle: mapWords(result, fixed),
    panels: [
      {
        widthPx: CHART_WIDTH_PX,
        heightPx: 360,
        x: axisOf('speed, mm/s', speeds, speed, CHART_WIDTH_PX),
        y: axisOf('power, %', powers, power, 360),
        marks: [
          ...shades(result, power, speed).map(
            (points): ChartMark => ({ kind: 'area', points, ink: INK.skyBlue, opacity: 0.22 }),
          ),
          ...lines.map(({ points, stroke }): ChartMark => ({ kind: 'line', points, ...stroke })),
          ...outcomes.map(
            (outcome): ChartMark => ({ kind: 'points', points: cellsOf(result, outcome), ...CELLS[outcome] }),
          ),
          { kind: 'points', points: doubtful.map((cell): At => [cell.speedMmS, cell.powerPercent]), ...DOUBTED },
          ...(setting ? recommendation(setting, power, speed, fixed) : []),
        ],
      },
    ],
    key: [
      outcomes.map((text) => ({ text, point: CELLS[text] })),
      lines.map(({ text, stroke }) => ({ text, line: stroke })),
    ],
  });
}

/** Where cells came out so; several readings of one cell stand beside each other. */
function cellsOf(result: WindowResult, wanted: CellOutcome): At[] {
  return result.cells.flatMap((cell) =>
    cell.outcomes.flatMap((outcome, k): At[] =>
      outcome === wanted ? [[cell.speedMmS * (1 + 0.02 * k), cell.powerPercent * (1 + 0.012 * k)]] : [],
    ),
  );
}

/** What stands above the map. */
export function mapWords(
  { setting, refusal, boundaries, contradictions }: WindowResult,
  fixed: NonNullable<FilmWords['fixed']>,
): string[] {
  const ranges = (['power', 'speed'] as const)
    .filter((one) => !fixed.includes(one))
    .map((one) => (setting ? range(setting[one], one === 'power' ? '%' : 'mm/s') : ''));
  const words = setting
    ? [
        `Diamond: widest margin, ${setting.powerPercent} % at ${setting.speedMmS} mm/s${ranges.length > 0 ? `; clean ${ranges.join(', and ')}` : ''}.`,
      ]
    : [`No setting to recommend: ${refusal?.message ?? ''}`];
  if (boundaries && setting)
    words.push(`Shaded: a clean cut is at least ${SHADES.map((share) => 100 * share).join(', ')} % likely.`);
  if (contradictions.length > 0)
    words.push(`Circled: contradicts its neighbours (${contradictions.map(({ id }) => id).join(', ')}).`);
  return words;
}

/** In the machine's own unit: a share of a power in percent would be percent of percent. */
const range = ({ from, to }: { from: number; to: number }, unit: string): string =>
  `from ${threeDigits(from)} to ${threeDigits(to)} ${unit}`;

/** The setting as a diamond, with its clean ranges of power and speed as whiskers. */
function recommendation(
  setting: NonNullable<WindowResult['setting']>,
  power: Range,
  speed: Range,
  fixed: NonNullable<FilmWords['fixed']>,
): ChartMark[] {
  const within = (value: number, { low, high }: Range): number => Math.min(high, Math.max(low, value));
  const { powerPercent, speedMmS } = setting;
  const speeds = [setting.speed.from, setting.speed.to].map((value): At => [within(value, speed), powerPercent]);
  const powers = [setting.power.from, setting.power.to].map((value): At => [speedMmS, within(value, power)]);
  return [
    ...[...(fixed.includes('speed') ? [] : [speeds]), ...(fixed.includes('power') ? [] : [powers])].map(
      (points): ChartMark => ({ kind: 'line', points, ink: INK.black, widthPx: 2.2 }),
    ),
    { kind: 'points', points: [[speedMmS, powerPercent]], ...WIDEST },
  ];
}

function padded(values: readonly number[]): Range {
  const low = Math.min(...values);
  const high = Math.max(...values);
  const pad = Math.max(1.06, (high / low) ** 0.07);
  return { low: low / pad, high: high * pad };
}

/** Ratio scale over the tested range, marked at the tested values as far as the labels have room. */
function axisOf(title: string, values: readonly number[], { low, high }: Range, lengthPx: number): ChartAxis {
  const tested = [...new Set(values)].sort((a, b) => a - b);
  const room = (TICK_ROOM_PX / lengthPx) * Math.log(high / low);
  const ticks: number[] = [];
  for (const value of tested)
    if (ticks.length === 0 || Math.log(value / ticks[ticks.length - 1]) > room) ticks.push(value);
  return { title, domain: [low, high], byRatio: true, ticks };
}

function logitAt(b: WindowBoundary, power: number, speed: number): number {
  return (
    b.constant +
    b.slopePower * Math.log(power / b.centre.powerPercent) +
    b.slopeSpeed * Math.log(speed / b.centre.speedMmS)
  );
}

function stepped({ low, high }: Range): number[] {
  return Array.from({ length: STEPS + 1 }, (_, k) => low * (high / low) ** (k / STEPS));
}

/** Boundaries that cells lie beyond; others are not drawn, for nobody has seen them. */
function boundaryLines(result: WindowResult, power: Range, speed: Range) {
  if (!result.boundaries) return [];
  const { through, marked } = result.boundaries;
  return [
    { text: 'comes through (even odds)', stroke: THROUGH, boundary: through },
    { text: 'gets marked (even odds)', stroke: MARKED, boundary: marked },
  ]
    .filter(({ boundary }) => boundary.seen)
    .map((line) => ({ ...line, points: evenOdds(line.boundary, power, speed) }));
}

function evenOdds(boundary: WindowBoundary, power: Range, speed: Range): At[] {
  const { powerPercent, speedMmS } = boundary.centre;
  return Math.abs(boundary.slopeSpeed) >= Math.abs(boundary.slopePower)
    ? stepped(power).map((p) => [speedMmS * Math.exp(-logitAt(boundary, p, speedMmS) / boundary.slopeSpeed), p])
    : stepped(speed).map((v) => [
        v,
        powerPercent * Math.exp(-logitAt(boundary, powerPercent, v) / boundary.slopePower),
      ]);
}

/** Areas where a clean cut is at least so likely, as one stretch of speeds per power; what was tried alone is as wide as the chart. */
function shades({ map, refusal }: WindowResult, power: Range, speed: Range): At[][] {
  if (!map || refusal) return [];
  const wide = ({ low, high }: Range, values: readonly number[]) => (values.length > 1 ? values : [low, high]);
  const [powers, speeds] = [wide(power, map.powersPercent), wide(speed, map.speedsMmS)];
  const chance = (i: number, k: number): number => {
    const row = map.probabilityClean[Math.min(i, map.powersPercent.length - 1)];
    return row[Math.min(k, row.length - 1)];
  };
  return SHADES.flatMap((level) => {
    const slices = powers.flatMap((p, i) => {
      const stretch = cleanStretch(speeds, (k) => chance(i, k), level);
      return stretch ? [{ p, ...stretch }] : [];
    });
    if (slices.length < 2) return [];
    return [[...slices.map(({ p, low }): At => [low, p]), ...slices.map(({ p, high }): At => [high, p]).reverse()]];
  });
}

/** The stretch of speeds where the chance, which rises and then falls, is at least `level`. */
function cleanStretch(speeds: readonly number[], chance: (k: number) => number, level: number): Range | undefined {
  const best = speeds.reduce((a, _, k) => (chance(k) > chance(a) ? k : a), 0);
  if (chance(best) < level) return undefined;
  const edge = (step: 1 | -1): number => {
    let k = best;
    while (speeds[k + step] !== undefined && chance(k + step) >= level) k += step;
    const beyond = speeds[k + step];
    if (beyond === undefined) return speeds[k];
    return speeds[k] * (beyond / speeds[k]) ** ((chance(k) - level) / (chance(k) - chance(k + step)));
  };
  return { low: edge(-1), high: edge(1) };
}
