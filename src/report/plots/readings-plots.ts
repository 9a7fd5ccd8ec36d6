import { predictLength } from '../../fit/calibration/design.js';
import type { ReadingResidual } from '../../fit/calibration/types.js';
import { studentQuantile } from '../../fit/statistics/distributions.js';
import type { Size } from '../../geometry/types.js';
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
          ...readings.map(
            ({ from, to }): ChartMark => ({
              kind: 'line',
              points: [from, to],
              ink: INK.grey,
              widthPx: 0.8,
              opacity: 0.45,
            }),
          ),
          ...triangles,
          ...namesOnMap(sorted, 0.08 * canvas.widthMm),
        ],
      },
    ],
    key: [[key('read longer than the fit', LONGER), key('read shorter than the fit', SHORTER)]],
  });
}

const middleOf = ({ from, to }: PlottedReading): [number, number] => [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];

function namesOnMap(readings: readonly PlottedReading[], reachMm: number): ChartMark[] {
  const named = readings.map((reading) => ({ at: middleOf(reading), name: reading.standsOut ? reading.feature : '' }));
  return joinedNames(
    named,
    (a, b) => Math.abs(a.at[0] - b.at[0]) < reachMm && Math.abs(a.at[1] - b.at[1]) < reachMm / 3,
  ).map(({ at, name }) => ({ kind: 'text', at, text: name, anchor: 'middle', shiftPx: [0, -14], rim: true }));
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
        readingMm: residual.readingMm,
        residualMm: residual.residualMm,
        /** Larger than chance allows; drawn with its name. */
        standsOut: standsOut(residual),
      },
    ];
  });
}

/** How the measured length lies, by the direction from edge to edge. */
type DirectionInWords = 'along X' | 'along Y' | 'rising diagonal' | 'falling diagonal';

function directionInWords(reading: Pick<PlottedReading, 'from' | 'to'>): DirectionInWords {
  const dx = reading.to[0] - reading.from[0];
  const dy = reading.to[1] - reading.from[1];
  if (Math.abs(dy) < 1e-6 * Math.abs(dx)) return 'along X';
  if (Math.abs(dx) < 1e-6 * Math.abs(dy)) return 'along Y';
  return dx * dy > 0 ? 'rising diagonal' : 'falling diagonal';
}

/** Names to write into a plot; those of points near each other share one label. */
function joinedNames<T extends { readonly name: string }>(points: readonly T[], isNear: (a: T, b: T) => boolean): T[] {
  const joined: T[] = [];
  for (const point of points.filter(({ name }) => name !== '')) {
    const k = joined.findIndex((other) => isNear(other, point));
    if (k < 0) joined.push(point);
    else joined[k] = { ...joined[k], name: `${joined[k].name}, ${point.name}` };
  }
  return joined;
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
  const residuals = readings.map((reading) => 1000 * reading.residualMm);
  const domain: At = byRatio ? [smallest / 1.2, largest * 1.2] : roomFor(sizes, 0.04);
  const across = (at: number): readonly At[] => domain.map((end) => [end, at] as const);
  const kinds = (['span', 'opening', 'web'] as const).filter((kind) => readings.some((r) => r.kind === kind));
  return renderChart({
    title: 'Residuals against size',
    subtitle: band > 0 ? [bandWords(band)] : [],
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
            const own = readings.filter((reading) => reading.kind === kind);
            return {
              kind: 'points',
              points: own.map((r) => [r.nominalMm, 1000 * r.residualMm] as const),
              ...KINDS[kind],
            };
          }),
          ...namesBySize(readings, largest),
        ],
      },
    ],
    key: [kinds.map((kind) => ({ text: kind, point: KINDS[kind] }))],
  });
}

function namesBySize(readings: readonly PlottedReading[], largest: number): ChartMark[] {
  const tallest = readings.reduce((most, { residualMm }) => Math.max(most, Math.abs(residualMm)), 0);
  const named = readings.map((r) => ({ ...r, name: r.standsOut ? r.feature : '' }));
  const isNear = (a: PlottedReading, b: PlottedReading): boolean =>
    Math.abs(a.residualMm - b.residualMm) < 0.06 * tallest && Math.abs(a.nominalMm - b.nominalMm) < 0.1 * largest;
  return joinedNames(named, isNear).map(({ name, nominalMm, residualMm }) => ({
    kind: 'text',
    at: [nominalMm, 1000 * residualMm],
    text: name,
    anchor: 'end',
    shiftPx: [-8, -1],
    rim: true,
  }));
}

function bandWords(bandUm: number): string {
  return `Dashed: ± 2 residual standard deviations (${Number(bandUm.toPrecision(2))} µm); by chance 1 in 20 lies outside.`;
}

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
  const groups = new Map<string, PlottedReading[]>();
  for (const kind of ['span', 'opening', 'web']) {
    for (const direction of ['along X', 'along Y', 'rising diagonal', 'falling diagonal']) {
      const own = readings.filter((reading) => reading.kind === kind && directionInWords(reading) === direction);
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
