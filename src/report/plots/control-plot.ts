import type { TopLevelSpec } from 'vega-lite';
import type { ControlChart } from '../../fit/control/chart-parts.js';
import type { DriftChart } from '../../fit/control/drift-chart.js';
import { CHART_WIDTH_PX, type Chart, INK, renderChart } from './render-chart.js';

export interface ControlPlotOptions {
  readonly title?: string;
  /** What the values are, with their unit: the label of the upright axis. */
  readonly quantity: string;
}

/**
 * Control chart of one number of the machine: single values with their limits above, the moving average with its
 * narrower limits below. Points outside are squares.
 *
 * @param drift - from driftChart; without limits (fewer than two points) nothing can be drawn and undefined comes back
 */
export async function controlPlot(drift: DriftChart, options: ControlPlotOptions): Promise<Chart | undefined> {
  if (!drift.individuals || !drift.ewma) return undefined;
  return renderChart({
    title: { text: options.title ?? `Control chart: ${options.quantity}`, subtitle: [...drift.sentences] },
    vconcat: [
      panel('single values', drift.individuals, drift.labels, options.quantity),
      panel(`moving average (weight of the newest ${drift.ewma.lambda})`, drift.ewma, drift.labels, options.quantity),
    ],
    spacing: 18,
  } as unknown as TopLevelSpec);
}

function panel(title: string, chart: ControlChart, labels: readonly string[], quantity: string): unknown {
  const values = chart.points.map((point, i) => ({
    number: i + 1,
    value: point,
    upper: chart.upperLimits[i],
    lower: chart.lowerLimits[i],
    outside: chart.outside.includes(i + 1),
  }));
  const levels = values.flatMap(({ value, upper, lower }) => [value, upper, lower]);
  const [low, high] = [Math.min(...levels), Math.max(...levels)];
  const pad = 0.06 * (high - low || Math.abs(high) || 1);
  const x = {
    field: 'number',
    type: 'ordinal',
    title: null,
    axis: {
      labelExpr: `${JSON.stringify(labels)}[datum.value - 1]`,
      labelAngle: labels.some((label) => label.length > 3) ? -45 : 0,
      labelOverlap: 'greedy',
      grid: false,
    },
  };
  const y = (field: string) => ({
    field,
    type: 'quantitative',
    title: quantity,
    scale: { zero: false, nice: false, domain: [low - pad, high + pad] },
    axis: { tickCount: 6 },
  });
  const last = values[values.length - 1];
  const limit = (field: 'upper' | 'lower') => ({
    data: { values },
    mark: { type: 'line', color: INK.vermillion, strokeDash: [7, 4], strokeWidth: 1.5, interpolate: 'step' },
    encoding: { x, y: y(field) },
  });
  const note = (value: number, text: string) => ({
    data: { values: [{ number: last.number, value, text }] },
    mark: { type: 'text', align: 'left', dx: 14, fontSize: 12 },
    encoding: { x, y: y('value'), text: { field: 'text' } },
  });
  return {
    title: { text: title, fontSize: 13, offset: 6 },
    width: CHART_WIDTH_PX,
    height: 180,
    layer: [
      {
        data: { values: [{}] },
        mark: { type: 'rule', color: INK.grey, strokeWidth: 1.3 },
        encoding: { y: { datum: chart.centre } },
      },
      limit('upper'),
      limit('lower'),
      { data: { values }, mark: { type: 'line', color: INK.blue, strokeWidth: 1.4 }, encoding: { x, y: y('value') } },
      {
        data: { values: values.filter((value) => !value.outside) },
        mark: { type: 'point', shape: 'circle', filled: true, fill: INK.blue, size: 45, opacity: 1 },
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
          size: 90,
          opacity: 1,
        },
        encoding: { x, y: y('value') },
      },
      note(last.upper, 'limit'),
      note(last.lower, 'limit'),
      note(chart.centre, chart.kind === 'ewma' ? 'centre' : 'mean'),
    ],
  };
}
