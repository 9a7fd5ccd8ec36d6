import type { CalibrationResult } from '../../fit/calibration/index.js';
import type { FieldFit } from '../../fit/field/fit-field.js';
import type { ReadingSession } from '../../machine/types.js';
import type { Chart } from '../../report/plots/chart.js';
import type { PlottedReading } from '../../report/plots/plotted-reading.js';

/** A chart, and what it shows to those who don't see it. */
export interface FitPlot {
  readonly chart: Chart;
  readonly words: string;
}

interface Bed {
  /** Places of the sessions that were cut on a canvas of this size. */
  readonly sessions: readonly number[];
  readonly canvas: { readonly widthMm: number; readonly heightMm: number };
}

/**
 * Draws what a fit leaves of its readings: against size, by place on the bed (one map for each size of coupon), and the
 * readings themselves with the fitted line.
 */
export async function fitPlots(
  result: CalibrationResult,
  sessions: readonly ReadingSession[],
  bends?: FieldFit,
): Promise<FitPlot[]> {
  const plots = await import('../../report/plots/index.js');
  const odd = new Set(result.flagged.map(({ session, index }) => `${session} ${index}`));
  const drawn: FitPlot[] = [];
  const plotted = (kept: readonly number[]): PlottedReading[] =>
    plots.plottedReadings(
      result.residuals.filter(({ session }) => kept.includes(session)),
      sessions,
      ({ session, index }) => odd.has(`${session} ${index}`),
    );
  if (bends) {
    const places = await plots.placeArrows(bends.marks);
    drawn.push({
      chart: places,
      words: 'How far the marks lie off their places, before and after the bends are corrected.',
    });
  }
  const all = plotted([...sessions.keys()]);
  if (all.length === 0) return drawn;
  const bySize = await plots.residualsBySize(all, { residualSdMm: typicalSdMm(result) });
  drawn.push({ chart: bySize, words: 'What the fit leaves of every reading, against the size of what was read.' });
  const withFit = await plots.readingsAndFit(all, result.fit);
  drawn.push({ chart: withFit, words: 'The readings with the fitted line and its 95 % interval.' });
  for (const { sessions: own, canvas } of bedsOf(sessions)) {
    const here = plotted(own);
    if (here.length === 0) continue;
    const coupons = [...new Set(own.map((k) => sessions[k].coupon))].join(', ');
    const map = await plots.residualMap(here, canvas, { title: `Residuals by place on the bed: ${coupons}` });
    drawn.push({ chart: map, words: `What the fit leaves of every reading, by place on the bed: ${coupons}.` });
  }
  return drawn;
}

/** Root mean square of what the readings' weights stand for; wrong readings that count don't widen it. */
function typicalSdMm({ residuals }: CalibrationResult): number {
  const sum = residuals.reduce((total, { sdMm }) => total + sdMm ** 2, 0);
  return Math.sqrt(sum / Math.max(1, residuals.length));
}

/** Coupons of one size lie on the same bed; a small one in a margin gets a map of its own. */
function bedsOf(sessions: readonly ReadingSession[]): Bed[] {
  const beds = new Map<string, { sessions: number[]; canvas: Bed['canvas'] }>();
  sessions.forEach((session, k) => {
    const reach = reachOf(session);
    if (!reach) return;
    const canvas = session.canvas ?? reach;
    const key = `${canvas.widthMm} x ${canvas.heightMm}`;
    const bed = beds.get(key);
    if (bed) bed.sessions.push(k);
    else beds.set(key, { sessions: [k], canvas });
  });
  return [...beds.values()];
}

/** The corner that the lengths of a coupon reach to; undefined where there are none. */
function reachOf({ features }: ReadingSession): Bed['canvas'] | undefined {
  const points = features.flatMap((feature) => ('from' in feature ? [feature.from, feature.to] : []));
  if (points.length === 0) return undefined;
  return {
    widthMm: Math.max(1, ...points.map(([x]) => x)),
    heightMm: Math.max(1, ...points.map(([, y]) => y)),
  };
}
