import type { TopLevelSpec } from 'vega-lite';
import type { ControlChart } from '../../fit/drift/chart-parts.js';
import type { DriftChart } from '../../fit/drift/drift-chart.js';
import type { ScatterChart } from '../../fit/drift/scatter-chart.js';
import { CHART_WIDTH_PX, type Chart, INK, renderChart } from './render-chart.js';

export interface ControlPlotOptions {
  readonly title?: string;
  /** What the values are, with their unit: the label of the upright axis. */
  readonly quantity: string;
}

/** Height of a panel, px. */
const PANEL_PX = 180;
/** A line of a label, px. */
const LINE_PX = 14;
/** From so many points on their symbols are small. */
const MANY = 30;

/**
 * Control chart of one number of the machine: single values with their limits above, the moving average with its
 * narrower limits below. A thin line through a value is ± its standard uncertainty by the readings within that date;
 * points outside are squares.
 *
 * @param drift - from driftChart; without limits (fewer than two points) nothing can be drawn and undefined comes back
 */
export async function controlPlot(drift: DriftChart, options: ControlPlotOptions): Promise<Chart | undefined> {
  if (!drift.individuals || !drift.ewma) return undefined;
  const { individuals, ewma, labels, stdUncertainties } = drift;
  const { quantity } = options;
  return renderChart({
    title: { text: options.title ?? `Control chart: ${quantity}`, subtitle: [...drift.sentences] },
    vconcat: [
      panel({
        title: 'single values, each with its standard uncertainty',
        chart: individuals,
        quantity,
        whiskers: stdUncertainties,
      }),
      panel({ title: `moving average (weight of the newest ${ewma.lambda})`, chart: ewma, quantity, labels }),
    ],
    // Both plots begin and end on one line, however wide their numbers are.
    bounds: 'flush',
    spacing: 40,
  } as unknown as TopLevelSpec);
}

/** Control chart of the scatter within each date; limits follow how many readings each has. */
export async function scatterPlot({ chart, labels, sentences }: ScatterChart): Promise<Chart> {
  const um = (values: readonly number[]): number[] => values.map((value) => 1000 * value);
  const inUm = {
    ...chart,
    points: um(chart.points),
    centre: 1000 * chart.centre,
    upperLimits: um(chart.upperLimits),
    lowerLimits: um(chart.lowerLimits),
  };
  return renderChart({
    title: { text: 'Control chart: scatter of the readings within a date, µm', subtitle: [...sentences] },
    vconcat: [panel({ chart: inUm, quantity: 'standard deviation, µm', labels })],
  } as unknown as TopLevelSpec);
}

interface Panel {
  readonly title?: string;
  readonly chart: ControlChart;
  readonly quantity: string;
  /** Under the points; not given: none, those of the panel below stand for both. */
  readonly labels?: readonly string[];
  readonly whiskers?: readonly number[];
}

function panel({ title, chart, quantity, labels, whiskers }: Panel): unknown {
  const values = chart.points.map((point, i) => ({
    number: i + 1,
    value: point,
    upper: chart.upperLimits[i],
    lower: chart.lowerLimits[i],
    outside: chart.outside.includes(i + 1),
  }));
  const bars = values.flatMap(({ number, value }, i) => {
    const reach = whiskers?.[i] ?? Number.NaN;
    return reach > 0 ? [{ number, low: value - reach, high: value + reach }] : [];
  });
  const levels = [
    ...values.flatMap(({ value, upper, lower }) => [value, upper, lower]),
    ...bars.flatMap((bar) => [bar.low, bar.high]),
  ];
  const [low, high] = [Math.min(...levels), Math.max(...levels)];
  const pad = 0.06 * (high - low || Math.abs(high) || 1);
  const domain = [low - pad, high + pad];
  const x = {
    field: 'number',
    type: 'ordinal',
    title: null,
    axis: labels
      ? {
          labelExpr: `${JSON.stringify(labels)}[datum.value - 1]`,
          labelAngle: labels.some((label) => label.length > 3) ? -45 : 0,
          labelOverlap: false,
          values: labelled(labels.length),
          labelLimit: 130,
          grid: false,
        }
      : { labels: false, grid: false },
  };
  const y = (field: string) => ({
    field,
    type: 'quantitative',
    title: quantity,
    scale: { zero: false, nice: false, domain },
    axis: { tickCount: 6 },
  });
  const last = values[values.length - 1];
  const limit = (field: 'upper' | 'lower') => ({
    data: { values },
    mark: { type: 'line', color: INK.vermillion, strokeDash: [7, 4], strokeWidth: 1.5, interpolate: 'step' },
    encoding: { x, y: y(field) },
  });
  const size = values.length > MANY ? 24 : 45;
  return {
    ...(title === undefined ? {} : { title: { text: title, fontSize: 13, offset: 6, frame: 'group' } }),
    width: CHART_WIDTH_PX,
    height: PANEL_PX,
    layer: [
      {
        data: { values: [{}] },
        mark: { type: 'rule', color: INK.grey, strokeWidth: 1.3 },
        encoding: { y: { datum: chart.centre } },
      },
      limit('upper'),
      limit('lower'),
      {
        data: { values: bars },
        mark: { type: 'rule', color: INK.blue, strokeWidth: 0.8, opacity: 0.6, clip: true },
        encoding: { x, y: y('low'), y2: { field: 'high' } },
      },
      { data: { values }, mark: { type: 'line', color: INK.blue, strokeWidth: 1.2 }, encoding: { x, y: y('value') } },
      {
        data: { values: values.filter((value) => !value.outside) },
        mark: { type: 'point', shape: 'circle', filled: true, fill: INK.blue, size, opacity: 1 },
        encoding: { x, y: y('value') },
      },
      {
        data: { values: values.filter((value) => value.outside) },
        mark: {
          type: 'point',
          shape: 'square',
          filled: true,
          fill: INK.vermillion,
          stroke: INK.black,
          strokeWidth: 1,
          size: 1.6 * size,
          opacity: 1,
        },
        encoding: { x, y: y('value') },
      },
      ...notes(last, chart, domain).map(({ value, text, dyPx }) => ({
        data: { values: [{ value, text }] },
        mark: { type: 'text', align: 'left', dx: 8, dy: dyPx, fontSize: 12 },
        encoding: { x: { value: CHART_WIDTH_PX }, y: y('value'), text: { field: 'text' } },
      })),
    ],
  };
}

/** A slanted label is so wide, px. */
const LABEL_ROOM_PX = 24;

/** Numbers of the points that have room for a label: every so many, counted from the newest. */
function labelled(count: number): number[] {
  const every = Math.ceil((count * LABEL_ROOM_PX) / CHART_WIDTH_PX);
  return Array.from({ length: count }, (_, i) => i + 1).filter((n) => (count - n) % every === 0);
}

/** What the lines are, at their right end; moved apart where the lines lie closer than a label is high. */
function notes(
  last: { readonly upper: number; readonly lower: number },
  { centre, kind }: ControlChart,
  [low, high]: readonly number[],
): { value: number; text: string; dyPx: number }[] {
  const middle = kind === 'ewma' ? 'centre' : kind === 'sd' ? 'usual' : 'mean';
  const decimals = Math.max(0, 2 - Math.floor(Math.log10(high - low)));
  const lines = [
    { value: last.upper, text: 'limit' },
    { value: centre, text: middle },
    { value: last.lower, text: 'limit' },
  ].map(({ value, text }) => ({ value, text: `${text} ${value.toFixed(Math.min(decimals, 8))}` }));
  const at = lines.map(({ value }) => ((high - value) / (high - low)) * PANEL_PX);
  const above = Math.max(0, LINE_PX - (at[1] - at[0]));
  const below = Math.max(0, LINE_PX - (at[2] - at[1]));
  return lines.map((line, i) => ({ ...line, dyPx: i === 0 ? -above : i === 2 ? below : 0 }));
}
