import type { TopLevelSpec } from 'vega-lite';
import type { WindowBoundary, WindowResult } from '../../fit/window/types.js';
import { CHART_WIDTH_PX, type Chart, INK, renderChart } from './render-chart.js';

/** Two strokes from corner to corner. */
const CROSS = 'M-1,-1L1,1M-1,1L1,-1';
const OUTCOMES = ['uncut', 'partial', 'through', 'marked'];
const BOUNDARIES = ['comes through (even odds)', 'gets marked (even odds)'];
const BOUNDARY_COLOURS = [INK.blue, INK.vermillion];
const BOUNDARY_DASHES = [
  [1, 0],
  [7, 4],
];
/** Steps along a boundary or the edge of an area. */
const STEPS = 120;
const SHADES = [0.5, 0.8, 0.95];

interface Range {
  readonly low: number;
  readonly high: number;
}

/**
 * Map of a power/speed grid: the cells as read, the two boundaries of the window, how likely a clean cut is, and the
 * setting with the widest margin.
 *
 * @param result - from fitWindow; without boundaries the cells alone are drawn
 */
export async function windowMap(result: WindowResult, options: { readonly title?: string } = {}): Promise<Chart> {
  return renderChart(windowMapSpec(result, options.title ?? 'Process window'));
}

function windowMapSpec(result: WindowResult, title: string): TopLevelSpec {
  const powers = result.cells.map((cell) => cell.powerPercent);
  const speeds = result.cells.map((cell) => cell.speedMmS);
  const power = padded(powers);
  const speed = padded(speeds);
  const cells = result.cells.flatMap((cell) =>
    cell.outcomes.map((outcome, k) => ({
      power: cell.powerPercent * (1 + 0.012 * k),
      speed: cell.speedMmS * (1 + 0.02 * k),
      outcome,
    })),
  );
  const doubtful = result.contradictions.flatMap(({ id }) => {
    const cell = result.cells.find((other) => other.id === id);
    return cell ? [{ power: cell.powerPercent, speed: cell.speedMmS, id }] : [];
  });
  const { setting } = result;
  const lines = boundaryLines(result, power, speed);
  const drawn = BOUNDARIES.filter((name) => lines.some((point) => point.boundary === name));
  const subtitle = setting
    ? [
        `Diamond: widest margin, ${setting.powerPercent} % at ${setting.speedMmS} mm/s; power may move ${range(setting.power)}, speed ${range(setting.speed)}.`,
      ]
    : [`No setting to recommend: ${result.refusal?.message ?? ''}`];
  if (result.boundaries && setting)
    subtitle.push(`Shaded: a clean cut is at least ${SHADES.map((share) => 100 * share).join(', ')} % likely.`);
  if (doubtful.length > 0)
    subtitle.push(`Circled: contradicts its neighbours (${doubtful.map((cell) => cell.id).join(', ')}).`);
  const x = (title: string) => ({ field: 'speed', type: 'quantitative' as const, title, ...axisOf(speeds, speed) });
  const y = (title: string) => ({ field: 'power', type: 'quantitative' as const, title, ...axisOf(powers, power) });
  const xy = { x: x('speed, mm/s'), y: y('power, %') };
  return {
    title: { text: title, subtitle },
    width: CHART_WIDTH_PX,
    height: 360,
    layer: [
      ...shades(result, power, speed).map((area) => ({
        data: { values: area.values },
        mark: { type: 'area' as const, orient: 'horizontal' as const, color: INK.skyBlue, opacity: 0.22, clip: true },
        encoding: { ...xy, x2: { field: 'speedTo' } },
      })),
      ...(lines.length === 0
        ? []
        : [
            {
              data: { values: lines },
              mark: { type: 'line', clip: true, strokeWidth: 2.2 },
              encoding: {
                ...xy,
                order: { field: 'step', type: 'quantitative' },
                color: {
                  field: 'boundary',
                  scale: { domain: drawn, range: drawn.map((name) => BOUNDARY_COLOURS[BOUNDARIES.indexOf(name)]) },
                  title: 'boundary',
                  legend: { symbolSize: 700, symbolStrokeWidth: 2.2 },
                },
                strokeDash: {
                  field: 'boundary',
                  scale: { domain: drawn, range: drawn.map((name) => BOUNDARY_DASHES[BOUNDARIES.indexOf(name)]) },
                  title: 'boundary',
                },
              },
            },
          ]),
      {
        data: { values: cells },
        mark: { type: 'point', size: 95, strokeWidth: 1.6, opacity: 1 },
        encoding: {
          ...xy,
          shape: {
            field: 'outcome',
            title: 'cell',
            scale: { domain: OUTCOMES, range: ['circle', 'triangle-up', 'square', CROSS] },
          },
          stroke: {
            field: 'outcome',
            title: 'cell',
            scale: { domain: OUTCOMES, range: [INK.grey, INK.orange, INK.green, INK.black] },
          },
          fill: {
            field: 'outcome',
            title: 'cell',
            scale: { domain: OUTCOMES, range: ['white', 'white', INK.green, INK.black] },
          },
        },
      },
      {
        data: { values: doubtful },
        mark: {
          type: 'point',
          shape: 'circle',
          size: 420,
          strokeWidth: 1.8,
          stroke: INK.purple,
          filled: false,
          opacity: 1,
        },
        encoding: xy,
      },
      ...(setting ? recommendation(setting, power, speed, xy) : []),
    ],
    resolve: {
      scale: {
        color: 'independent',
        shape: 'independent',
        strokeDash: 'independent',
        stroke: 'independent',
        fill: 'independent',
      },
    },
  } as TopLevelSpec;
}

function range(margin: { downPercent: number; upPercent: number }): string {
  return `−${margin.downPercent.toFixed(0)}/+${margin.upPercent.toFixed(0)} %`;
}

/** The setting as a diamond, with its clean ranges of power and speed as whiskers. */
function recommendation(
  setting: NonNullable<WindowResult['setting']>,
  power: Range,
  speed: Range,
  xy: Record<string, unknown>,
): unknown[] {
  const within = (value: number, { low, high }: Range): number => Math.min(high, Math.max(low, value));
  const at = { power: setting.powerPercent, speed: setting.speedMmS };
  const across = { ...at, speed: within(setting.speed.from, speed), speedTo: within(setting.speed.to, speed) };
  const up = { ...at, power: within(setting.power.from, power), powerTo: within(setting.power.to, power) };
  const rule = { type: 'rule', color: INK.black, strokeWidth: 2.2, clip: true };
  return [
    { data: { values: [across] }, mark: rule, encoding: { ...xy, x2: { field: 'speedTo' } } },
    { data: { values: [up] }, mark: rule, encoding: { ...xy, y2: { field: 'powerTo' } } },
    {
      data: { values: [at] },
      mark: {
        type: 'point',
        shape: 'diamond',
        size: 330,
        filled: true,
        fill: 'white',
        stroke: INK.black,
        strokeWidth: 2.4,
        opacity: 1,
      },
      encoding: xy,
    },
  ];
}

function padded(values: readonly number[]): Range {
  const low = Math.min(...values);
  const high = Math.max(...values);
  const pad = Math.max(1.06, (high / low) ** 0.07);
  return { low: low / pad, high: high * pad };
}

/** Ratio scale over the tested range, marked at the tested values as far as the labels have room. */
function axisOf(values: readonly number[], { low, high }: Range) {
  const tested = [...new Set(values)].sort((a, b) => a - b);
  const room = Math.log(high / low) / 16;
  const ticks = tested.filter(
    (value, i) => i === 0 || Math.log(value / tested[i - 1]) > room / 2 || i === tested.length - 1,
  );
  return {
    scale: { type: 'log' as const, domain: [low, high], nice: false },
    axis: { values: ticks, format: '~r', labelOverlap: 'greedy' as const },
  };
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
  return [result.boundaries.through, result.boundaries.marked].flatMap((boundary, k) => {
    if (!boundary.seen) return [];
    const steep = Math.abs(boundary.slopeSpeed) >= Math.abs(boundary.slopePower);
    return stepped(steep ? power : speed).map((value, step) => {
      const logit = steep
        ? logitAt(boundary, value, boundary.centre.speedMmS)
        : logitAt(boundary, boundary.centre.powerPercent, value);
      const other = steep
        ? boundary.centre.speedMmS * Math.exp(-logit / boundary.slopeSpeed)
        : boundary.centre.powerPercent * Math.exp(-logit / boundary.slopePower);
      return { step, boundary: BOUNDARIES[k], power: steep ? value : other, speed: steep ? other : value };
    });
  });
}

/** Areas where a clean cut is at least so likely, as one stretch of speeds per power. */
function shades(result: WindowResult, power: Range, speed: Range) {
  if (!result.boundaries || result.refusal) return [];
  const { through, marked } = result.boundaries;
  const chance = (p: number, v: number): number => {
    const share = (b: WindowBoundary): number => 1 / (1 + Math.exp(-logitAt(b, p, v)));
    return (through.seen ? share(through) : 1) - (marked.seen ? share(marked) : 0);
  };
  return SHADES.map((level) => ({
    level,
    values: stepped(power).flatMap((p) => {
      const stretch = cleanStretch((v) => chance(p, v), level, speed);
      return stretch ? [{ power: p, speed: stretch.low, speedTo: stretch.high }] : [];
    }),
  })).filter(({ values }) => values.length > 1);
}

/** The stretch of speeds where the chance, which rises and then falls, is at least `level`. */
function cleanStretch(chance: (speed: number) => number, level: number, speed: Range): Range | undefined {
  const best = stepped(speed).reduce((a, b) => (chance(b) > chance(a) ? b : a));
  if (chance(best) < level) return undefined;
  const edge = (end: number): number => {
    if (chance(end) >= level) return end;
    let [inside, outside] = [best, end];
    for (let k = 0; k < 40; k++) {
      const middle = Math.sqrt(inside * outside);
      if (chance(middle) >= level) inside = middle;
      else outside = middle;
    }
    return inside;
  };
  return { low: edge(speed.low), high: edge(speed.high) };
}
