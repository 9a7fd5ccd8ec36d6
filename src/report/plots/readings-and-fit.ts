import type { TopLevelSpec } from 'vega-lite';
import { predictLength } from '../../fit/calibration/length-model.js';
import { studentQuantile } from '../../fit/statistics/student-t.js';
import { fitVariance } from '../../machine/fit-variance.js';
import { PARAMETER_NAMES, type ProfileFit } from '../../machine/types.js';
import { directionOf, type PlottedReading } from './plotted-reading.js';
import { type Chart, INK, renderChart } from './render-chart.js';

const STEPS = 40;
const PANEL_WIDTH_PX = 225;

interface FitPoint {
  readonly nominal: number;
  readonly deviation: number;
  readonly low: number;
  readonly high: number;
}

/**
 * Readings less nominal against nominal, with the fitted line and its 95 % interval: one panel for each kind of length
 * and direction. The slope is the scale's error, the height at zero the kerf (up for openings, down for webs). Diagonals
 * of several slopes share a panel: there each point keeps its distance from the fit, and the line is that of the first.
 */
export async function readingsAndFit(
  readings: readonly PlottedReading[],
  fit: ProfileFit,
  options: { readonly title?: string } = {},
): Promise<Chart> {
  const groups = new Map<string, PlottedReading[]>();
  for (const kind of ['span', 'opening', 'web']) {
    for (const direction of ['along X', 'along Y', 'rising diagonal', 'falling diagonal']) {
      const own = readings.filter((reading) => reading.kind === kind && directionOf(reading) === direction);
      if (own.length > 0) groups.set(`${kind}s, ${direction}`, own);
    }
  }
  const panels = [...groups].map(([name, own]) => panel(name, own, fit));
  return renderChart({
    title: {
      text: options.title ?? 'Readings, fitted line and its 95 % interval',
      subtitle: `Line: fit; grey band: where the true line lies (95 %)${readings.some((reading) => reading.standsOut) ? '; crosses: readings that stand out' : ''}.`,
    },
    columns: 2,
    // Plots of a row and of a column stand in line, however wide their numbers are.
    bounds: 'flush',
    spacing: { row: 78, column: 78 },
    concat: panels,
  } as unknown as TopLevelSpec);
}

function panel(name: string, readings: readonly PlottedReading[], fit: ProfileFit): unknown {
  const deviationAt = lineOf(readings, fit);
  const line = stepsOver(readings).map(deviationAt);
  const points = readings.map((reading) => ({
    nominal: reading.nominalMm,
    deviation: deviationAt(reading.nominalMm).deviation + reading.residualMm,
    standsOut: reading.standsOut,
  }));
  const x = {
    field: 'nominal',
    type: 'quantitative',
    title: 'nominal, mm',
    scale: { zero: false, nice: false, domain: paddedRange(line.map(({ nominal }) => nominal)) },
    axis: { tickCount: 5, format: '.4~g' },
  };
  const levels = [...points.map(({ deviation }) => deviation), ...line.flatMap(({ low, high }) => [low, high])];
  const y = {
    type: 'quantitative',
    title: 'reading − nominal, mm',
    scale: { zero: false, nice: false, domain: paddedRange(levels) },
    axis: { tickCount: 5 },
  };
  const plain = points.filter((point) => !point.standsOut);
  const odd = points.filter((point) => point.standsOut);
  return {
    title: { text: name, fontSize: 13, offset: 4, frame: 'group' },
    width: PANEL_WIDTH_PX,
    height: 170,
    layer: [
      {
        data: { values: line },
        mark: { type: 'area', color: '#bdbdbd', opacity: 0.7 },
        encoding: { x, y: { ...y, field: 'low' }, y2: { field: 'high' } },
      },
      {
        data: { values: line },
        mark: { type: 'line', color: INK.black, strokeWidth: 1.6 },
        encoding: { x, y: { ...y, field: 'deviation' } },
      },
      {
        data: { values: plain },
        mark: {
          type: 'point',
          shape: 'circle',
          size: 32,
          strokeWidth: 1.4,
          stroke: INK.blue,
          filled: false,
          opacity: 1,
        },
        encoding: { x, y: { ...y, field: 'deviation' } },
      },
      {
        data: { values: odd },
        mark: { type: 'point', shape: 'cross', size: 70, fill: INK.vermillion, filled: true, opacity: 1 },
        encoding: { x, y: { ...y, field: 'deviation' } },
      },
    ],
  };
}

function paddedRange(values: readonly number[]): [number, number] {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const pad = 0.07 * (high - low || Math.abs(high) || 1);
  return [low - pad, high + pad];
}

/** Sizes along the line; a single size still gets a short piece of it. */
function stepsOver(readings: readonly PlottedReading[]): number[] {
  const sizes = readings.map((reading) => reading.nominalMm);
  const [smallest, largest] = [Math.min(...sizes), Math.max(...sizes)];
  const reachMm = smallest === largest ? 0.05 * largest : 0;
  const [low, high] = [smallest - reachMm, largest + reachMm];
  return Array.from({ length: STEPS + 1 }, (_, k) => low + ((high - low) * k) / STEPS);
}

/** The model's line in the direction of the first reading, with first-order propagation of the fit's covariance. */
function lineOf(readings: readonly PlottedReading[], fit: ProfileFit): (nominal: number) => FitPoint {
  const first = readings[0];
  const direction = [first.to[0] - first.from[0], first.to[1] - first.from[1]];
  const length = Math.hypot(direction[0], direction[1]);
  const parameters = PARAMETER_NAMES.map((name) => fit[name].value);
  const t = fit.dof > 0 ? studentQuantile(0.05, fit.dof) : 2;
  return (nominal) => {
    const gradient = new Float64Array(5);
    const dx = (direction[0] / length) * nominal;
    const dy = (direction[1] / length) * nominal;
    const value = predictLength({ kind: first.kind, dx, dy }, parameters, gradient);
    const variance = fitVariance(fit, gradient);
    // No band where a number was assumed: nobody knows how wide it would be.
    const reach = Number.isFinite(variance) ? t * Math.sqrt(variance) : 0;
    const deviation = value - nominal;
    return { nominal, deviation, low: deviation - reach, high: deviation + reach };
  };
}
