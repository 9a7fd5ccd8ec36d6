import { predictLength } from '../../fit/calibration/length-model.js';
import { studentQuantile } from '../../fit/statistics/student-t.js';
import { fitVariance } from '../../machine/fit-variance.js';
import { PARAMETER_NAMES, type ProfileFit } from '../../machine/types.js';
import { type At, type Chart, INK, type Panel, roomFor } from './chart.js';
import { directionOf, type PlottedReading } from './plotted-reading.js';
import { renderChart } from './render-chart.js';

const STEPS = 40;
const PANEL_WIDTH_PX = 225;
/** Share of a panel that is left free at each end. */
const ROOM = 0.04;

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
export async function readingsAndFit(readings: readonly PlottedReading[], fit: ProfileFit): Promise<Chart> {
  const groups = new Map<string, PlottedReading[]>();
  for (const kind of ['span', 'opening', 'web']) {
    for (const direction of ['along X', 'along Y', 'rising diagonal', 'falling diagonal']) {
      const own = readings.filter((reading) => reading.kind === kind && directionOf(reading) === direction);
      if (own.length > 0) groups.set(`${kind}s, ${direction}`, own);
    }
  }
  return renderChart({
    title: 'Readings, fitted line and its 95 % interval',
    subtitle: [
      `Line: fit; grey band: where the true line lies (95 %)${readings.some((reading) => reading.standsOut) ? '; crosses: readings that stand out' : ''}.`,
    ],
    columns: 2,
    panels: [...groups].map(([name, own]) => panel(name, own, fit)),
  });
}

function panel(title: string, readings: readonly PlottedReading[], fit: ProfileFit): Panel {
  const deviationAt = lineOf(readings, fit);
  const line = stepsOver(readings).map(deviationAt);
  const pointOf = (reading: PlottedReading): At => [
    reading.nominalMm,
    deviationAt(reading.nominalMm).deviation + reading.residualMm,
  ];
  const plain = readings.filter((reading) => !reading.standsOut).map(pointOf);
  const odd = readings.filter((reading) => reading.standsOut).map(pointOf);
  const upper = line.map(({ nominal, high }): At => [nominal, high]);
  const lower = line.map(({ nominal, low }): At => [nominal, low]);
  return {
    title,
    widthPx: PANEL_WIDTH_PX,
    heightPx: 170,
    x: {
      title: 'nominal, mm',
      domain: roomFor(
        line.map(({ nominal }) => nominal),
        ROOM,
      ),
      ticks: 5,
    },
    y: {
      title: 'reading − nominal, mm',
      domain: roomFor(
        [...plain, ...odd, ...upper, ...lower].map(([, deviation]) => deviation),
        ROOM,
      ),
      ticks: 5,
    },
    marks: [
      { kind: 'area', points: [...upper, ...lower.reverse()], ink: '#bdbdbd', opacity: 0.7 },
      {
        kind: 'line',
        points: line.map(({ nominal, deviation }) => [nominal, deviation]),
        ink: INK.black,
        widthPx: 1.6,
      },
      { kind: 'points', points: plain, symbol: 'circle', areaPx2: 32, stroke: INK.blue, widthPx: 1.4 },
      { kind: 'points', points: odd, symbol: 'plus', areaPx2: 70, fill: INK.vermillion },
    ],
  };
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
