import { predictLength } from '../../fit/calibration/design.js';
import type { ReadingResidual } from '../../fit/calibration/types.js';
import { studentQuantile } from '../../fit/statistics/distributions.js';
import type { Size } from '../../geometry/types.js';
import { present } from '../../kept.js';
import { fitVariance } from '../../machine/place-field.js';
import { PARAMETER_NAMES, type ProfileFit, type ReadingSession } from '../../machine/types.js';
import {
  type At,
  CHART_WIDTH_PX,
  type Chart,
  type ChartMark,
  INK,
  type Panel,
  type PointStyle,
  roomFor,
} from './chart.js';
import { renderChart } from './render-chart.js';

const RIM = { stroke: 'white', widthPx: 0.6, opacity: 0.85 } as const;
const LONGER = { symbol: 'up', fill: INK.vermillion, ...RIM } as const;
const SHORTER = { symbol: 'down', fill: INK.blue, ...RIM } as const;
const JOINING = { ink: INK.grey, widthPx: 0.8, opacity: 0.45 };
const SMALLEST_PX2 = 6;
/** Area of the largest symbol, px²: smaller where there are many, for ladders are read close together. */
const largestPx2 = (readings: number): number => Math.min(700, Math.max(160, 24_000 / readings));

/**
 * Where on the bed the readings depart from the fit: a triangle at the middle of each measured length, pointing up where
 * it reads longer and down where shorter, its area in proportion; a thin line joins the two edges that were measured.
 * Triangles of one sort gathered in a corner tell of a bent rail, a slack belt or film that did not lie flat.
 */
export async function residualMap(readings: readonly PlottedReading[], canvas: Size, title: string): Promise<Chart> {
  // Small ones lie on top of large ones.
  const sorted = [...readings].sort((a, b) => Math.abs(b.residualMm) - Math.abs(a.residualMm));
  const largest = Math.max(1e-9, ...sorted.slice(0, 1).map(({ residualMm }) => Math.abs(residualMm)));
  const most = largestPx2(sorted.length);
  const triangles = sorted.map((reading): ChartMark => {
    const areaPx2 = SMALLEST_PX2 + ((most - SMALLEST_PX2) * Math.abs(reading.residualMm)) / largest;
    return { kind: 'points', points: [middleOf(reading)], ...(reading.residualMm >= 0 ? LONGER : SHORTER), areaPx2 };
  });
  const reachMm = 0.08 * canvas.widthMm;
  const height = Math.min(520, Math.max(160, (CHART_WIDTH_PX * canvas.heightMm) / canvas.widthMm));
  const width = Math.min(CHART_WIDTH_PX, (height * canvas.widthMm) / canvas.heightMm);
  const key = (text: string, style: Omit<PointStyle, 'areaPx2'>) => ({ text, point: { ...style, areaPx2: 120 } });
  return renderChart({
    title,
    subtitle: [
      `Area of a triangle: size of the residual; the largest is ${Number((1000 * largest).toPrecision(2))} µm.`,
    ],
    panels: [
      {
        widthPx: width,
        heightPx: height,
        x: { title: 'X, mm', domain: [0, canvas.widthMm] },
        y: { title: 'Y, mm', domain: [0, canvas.heightMm] },
        marks: [
          ...readings.map(({ from, to }): ChartMark => ({ kind: 'line', points: [from, to], ...JOINING })),
          ...triangles,
          ...namesAt(sorted, middleOf, [reachMm, reachMm / 3], { anchor: 'middle', shiftPx: [0, -14] }),
        ],
      },
    ],
    key: [[key('read longer than the fit', LONGER), key('read shorter than the fit', SHORTER)]],
  });
}

const middleOf = ({ from, to }: PlottedReading): At => [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];

/** Names of the readings that stand out; those nearer to each other than `reach` share one label. */
function namesAt(
  readings: readonly PlottedReading[],
  placeOf: (reading: PlottedReading) => At,
  reach: At,
  look: { readonly anchor: 'middle' | 'end'; readonly shiftPx: At },
): ChartMark[] {
  const joined: { readonly at: At; text: string }[] = [];
  for (const reading of readings.filter(({ standsOut }) => standsOut)) {
    const at = placeOf(reading);
    const near = joined.find((other) => [0, 1].every((k) => Math.abs(other.at[k] - at[k]) < reach[k]));
    if (near) near.text += `, ${reading.feature}`;
    else joined.push({ at, text: reading.feature });
  }
  return joined.map((one) => ({ kind: 'text', ...one, ...look, rim: true }));
}

/** One reading as the plots need it: what was measured, where, and what the fit leaves of it. */
export type PlottedReading = ReturnType<typeof plottedReadings>[number];

/**
 * Joins the residuals of a fit to the features they were read from. Vernier readings, which are line numbers, are left out.
 *
 * @param standsOut - which readings to name in the plots
 */
export function plottedReadings(
  residuals: readonly ReadingResidual[],
  sessions: readonly ReadingSession[],
  standsOut: (residual: ReadingResidual) => boolean = () => false,
) {
  const places = sessions.map((session) => new Map(session.features.map((feature) => [feature.id, feature])));
  return residuals.flatMap((residual) => {
    const feature = places[residual.session]?.get(residual.feature);
    if (!feature || feature.kind === 'cell' || feature.kind === 'vernier') return [];
    return [
      {
        feature: residual.feature,
        kind: feature.kind,
        from: feature.from,
        to: feature.to,
        nominalMm: feature.nominalMm,
        residualMm: residual.residualMm,
        /** Larger than chance allows; drawn with its name. */
        standsOut: standsOut(residual),
      },
    ];
  });
}

/** How the measured length lies, by the direction from edge to edge. */
const DIRECTIONS = ['along X', 'along Y', 'rising diagonal', 'falling diagonal'] as const;

function directionInWords({ from, to }: PlottedReading): (typeof DIRECTIONS)[number] {
  const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
  if (Math.abs(dy) < 1e-6 * Math.abs(dx)) return 'along X';
  if (Math.abs(dx) < 1e-6 * Math.abs(dy)) return 'along Y';
  return dx * dy > 0 ? 'rising diagonal' : 'falling diagonal';
}

const KINDS: Readonly<Record<PlottedReading['kind'], PointStyle>> = {
  span: { symbol: 'circle', stroke: INK.blue, areaPx2: 55 },
  opening: { symbol: 'square', stroke: INK.orange, areaPx2: 55 },
  web: { symbol: 'up', stroke: INK.green, areaPx2: 55 },
};
/** Sizes that differ by more than this are spread out by ratio instead of evenly. */
const LARGEST_PLAIN_RATIO = 30;

/**
 * What the fit leaves of each reading against its nominal size. A funnel, a slope or a bow tells of a wrong model or a
 * bad gauge; a cloud about zero is what it should be.
 *
 * @param residualSdMm - draws the band of ± 2 standard deviations
 */
export async function residualsBySize(readings: readonly PlottedReading[], residualSdMm: number): Promise<Chart> {
  const sizes = readings.map((reading) => reading.nominalMm);
  const [smallest, largest] = [Math.min(...sizes), Math.max(...sizes)];
  const byRatio = smallest > 0 && largest / smallest > LARGEST_PLAIN_RATIO;
  const band = 2000 * residualSdMm;
  const placeOf = ({ nominalMm, residualMm }: PlottedReading): At => [nominalMm, 1000 * residualMm];
  const residuals = readings.map((reading) => 1000 * reading.residualMm);
  const tallest = Math.max(...residuals.map(Math.abs));
  const domain: At = byRatio ? [smallest / 1.2, largest * 1.2] : roomFor(sizes, 0.04);
  const across = (at: number): readonly At[] => domain.map((end) => [end, at] as const);
  const kinds = (['span', 'opening', 'web'] as const).filter((kind) => readings.some((r) => r.kind === kind));
  return renderChart({
    title: 'Residuals against size',
    subtitle: present(
      band > 0 &&
        `Dashed: ± 2 residual standard deviations (${Number(band.toPrecision(2))} µm); by chance 1 in 20 lies outside.`,
    ),
    panels: [
      {
        widthPx: CHART_WIDTH_PX,
        heightPx: 280,
        x: { title: `nominal size, mm${byRatio ? ' (ratio scale)' : ''}`, domain, byRatio, ticks: 5 },
        y: { title: 'reading − fit, µm', domain: roomFor([...residuals, -band, band], 0.06) },
        marks: [
          { kind: 'line', points: across(0), ink: INK.black, widthPx: 1.2 },
          ...(band > 0 ? [-band, band] : []).map(
            (at): ChartMark => ({ kind: 'line', points: across(at), ink: INK.grey, widthPx: 1.2, dash: [5, 4] }),
          ),
          ...kinds.map((kind): ChartMark => {
            const points = readings.filter((reading) => reading.kind === kind).map(placeOf);
            return { kind: 'points', points, ...KINDS[kind] };
          }),
          ...namesAt(readings, placeOf, [0.1 * largest, 0.06 * tallest], { anchor: 'end', shiftPx: [-8, -1] }),
        ],
      },
    ],
    key: [kinds.map((kind) => ({ text: kind, point: KINDS[kind] }))],
  });
}

const FITTED = { ink: INK.black, widthPx: 1.6 };
const STEPS = 40;
const PANEL_WIDTH_PX = 225;
/** Share of a panel that is left free at each end. */
const ROOM = 0.04;

/**
 * Readings less nominal against nominal, with the fitted line and its 95 % interval: one panel for each kind of length
 * and direction. The slope is the scale's error, the height at zero the kerf (up for openings, down for webs). Diagonals
 * of several slopes share a panel: there each point keeps its distance from the fit, and the line is that of the first.
 */
export async function readingsAndFit(readings: readonly PlottedReading[], fit: ProfileFit): Promise<Chart> {
  const panels = Object.keys(KINDS).flatMap((kind) =>
    DIRECTIONS.flatMap((direction) => {
      const own = readings.filter((reading) => reading.kind === kind && directionInWords(reading) === direction);
      return own.length > 0 ? [panel(`${kind}s, ${direction}`, own, fit)] : [];
    }),
  );
  return renderChart({
    title: 'Readings, fitted line and its 95 % interval',
    subtitle: [
      `Line: fit; grey band: where the true line lies (95 %)${readings.some((reading) => reading.standsOut) ? '; crosses: readings that stand out' : ''}.`,
    ],
    columns: 2,
    panels,
  });
}

function panel(title: string, readings: readonly PlottedReading[], fit: ProfileFit): Panel {
  const deviationAt = lineOf(readings, fit);
  const sizes = stepsOver(readings);
  const line = sizes.map(deviationAt);
  const pointOf = (reading: PlottedReading): At => [
    reading.nominalMm,
    deviationAt(reading.nominalMm).deviation + reading.residualMm,
  ];
  const plain = readings.filter((reading) => !reading.standsOut).map(pointOf);
  const odd = readings.filter((reading) => reading.standsOut).map(pointOf);
  const upper = line.map(({ nominal, high }): At => [nominal, high]);
  const lower = line.map(({ nominal, low }): At => [nominal, low]);
  const deviations = [...plain, ...odd, ...upper, ...lower].map(([, deviation]) => deviation);
  return {
    title,
    widthPx: PANEL_WIDTH_PX,
    heightPx: 170,
    x: { title: 'nominal, mm', domain: roomFor(sizes, ROOM), ticks: 5 },
    y: { title: 'reading − nominal, mm', domain: roomFor(deviations, ROOM), ticks: 5 },
    marks: [
      { kind: 'area', points: [...upper, ...lower.reverse()], ink: '#bdbdbd', opacity: 0.7 },
      { kind: 'line', points: line.map(({ nominal, deviation }) => [nominal, deviation]), ...FITTED },
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
function lineOf(readings: readonly PlottedReading[], fit: ProfileFit) {
  const first = readings[0];
  const direction = [first.to[0] - first.from[0], first.to[1] - first.from[1]];
  const length = Math.hypot(direction[0], direction[1]);
  const parameters = PARAMETER_NAMES.map((name) => fit[name].value);
  const t = fit.dof > 0 ? studentQuantile(0.05, fit.dof) : 2;
  return (nominal: number) => {
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
