import type { ControlChart } from '../../fit/drift/charts.js';
import type { DriftChart } from '../../fit/drift/drift-chart.js';
import { type At, CHART_WIDTH_PX, type Chart, type ChartMark, INK, type Panel, roomFor } from './chart.js';
import { renderChart } from './render-chart.js';

/** Height of a panel, px. */
const PANEL_PX = 180;
/** A line of a label, px. */
const LINE_PX = 14;
/** From so many points on their symbols are small. */
const MANY = 30;
const LIMIT = { ink: INK.vermillion, widthPx: 1.5, dash: [7, 4] };
const WHISKER = { ink: INK.blue, widthPx: 0.8, opacity: 0.6 };
const INSIDE = { symbol: 'circle', fill: INK.blue } as const;
const OUTSIDE = { symbol: 'square', fill: INK.vermillion, stroke: INK.black, widthPx: 1 } as const;

/**
 * Control chart of one number of the machine: single values with their limits above, the moving average with its
 * narrower limits below. A thin line through a value is ± its standard uncertainty by the readings within that date;
 * points outside are squares.
 *
 * @param quantity - what the values are, with their unit: the label of the upright axis
 * @param drift - from driftChart; without limits (fewer than two points) nothing can be drawn and undefined comes back
 */
export async function controlPlot(drift: DriftChart, quantity: string): Promise<Chart | undefined> {
  if (!drift.individuals || !drift.ewma) return undefined;
  const { individuals, ewma, labels, stdUncertainties } = drift;
  const single = 'single values, each with its standard uncertainty';
  return renderChart({
    title: `Control chart: ${quantity}`,
    subtitle: drift.sentences,
    panels: [
      panel({ title: single, chart: individuals, quantity, whiskers: stdUncertainties }),
      panel({ title: `moving average (weight of the newest ${ewma.lambda})`, chart: ewma, quantity, labels }),
    ],
  });
}

interface PanelData {
  readonly title: string;
  readonly chart: ControlChart;
  readonly quantity: string;
  /** Under the points; not given: none, those of the panel below stand for both. */
  readonly labels?: readonly string[];
  readonly whiskers?: readonly number[];
}

function panel({ title, chart, quantity, labels, whiskers = [] }: PanelData): Panel {
  const count = chart.points.length;
  const numbered = (values: readonly number[]): At[] => values.map((value, i) => [i + 1, value]);
  const bars = numbered(chart.points).filter((_, i) => whiskers[i] > 0);
  const reach = bars.flatMap(([n, value]) => [value - whiskers[n - 1], value + whiskers[n - 1]]);
  const domain = roomFor([...chart.points, ...chart.upperLimits, ...chart.lowerLimits, ...reach], 0.06);
  const ends: At = [0.5, count + 0.5];
  const limit = (values: readonly number[]): ChartMark => {
    const points: At[] = [[ends[0], values[0]], ...numbered(values), [ends[1], values[count - 1]]];
    return { kind: 'line', points, stepped: true, ...LIMIT };
  };
  const points = numbered(chart.points);
  const isOutside = ([n]: At): boolean => chart.outside.includes(n);
  const areaPx2 = count > MANY ? 24 : 45;
  return {
    title,
    widthPx: CHART_WIDTH_PX,
    heightPx: PANEL_PX,
    x: { domain: ends, ticks: labelled(count), label: (n) => labels?.[n - 1] ?? '', grid: false },
    y: { title: quantity, domain },
    marks: [
      { kind: 'line', points: ends.map((x) => [x, chart.centre]), ink: INK.grey, widthPx: 1.3 },
      limit(chart.upperLimits),
      limit(chart.lowerLimits),
      ...bars.map(([n, value]): ChartMark => {
        const ends = [-1, 1].map((side): At => [n, value + side * whiskers[n - 1]]);
        return { kind: 'line', points: ends, ...WHISKER };
      }),
      { kind: 'line', points, ink: INK.blue, widthPx: 1.2 },
      { kind: 'points', points: points.filter((at) => !isOutside(at)), ...INSIDE, areaPx2 },
      { kind: 'points', points: points.filter(isOutside), ...OUTSIDE, areaPx2: 1.6 * areaPx2 },
      ...notes(chart, domain, ends[1]),
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
function notes({ centre, kind, upperLimits, lowerLimits }: ControlChart, [low, high]: At, right: number): ChartMark[] {
  const middle = kind === 'ewma' ? 'centre' : 'mean';
  const decimals = Math.max(0, 2 - Math.floor(Math.log10(high - low)));
  const lines = [
    { value: upperLimits[upperLimits.length - 1], text: 'limit' },
    { value: centre, text: middle },
    { value: lowerLimits[lowerLimits.length - 1], text: 'limit' },
  ];
  const at = lines.map(({ value }) => ((high - value) / (high - low)) * PANEL_PX);
  const shifts = [-Math.max(0, LINE_PX - (at[1] - at[0])), 0, Math.max(0, LINE_PX - (at[2] - at[1]))];
  return lines.map(({ value, text }, i) => ({
    kind: 'text',
    at: [right, value],
    text: `${text} ${value.toFixed(Math.min(decimals, 8))}`,
    shiftPx: [8, shifts[i]],
  }));
}
