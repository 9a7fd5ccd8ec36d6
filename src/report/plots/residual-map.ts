import { CHART_WIDTH_PX, type Chart, type ChartMark, INK, type PointStyle } from './chart.js';
import { joinedNames, type PlottedReading } from './plotted-reading.js';
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
export async function residualMap(
  readings: readonly PlottedReading[],
  canvas: { readonly widthMm: number; readonly heightMm: number },
  options: { readonly title?: string } = {},
): Promise<Chart> {
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
    title: options.title ?? 'Residuals by place on the bed',
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
          ...namesOf(sorted, 0.08 * canvas.widthMm),
        ],
      },
    ],
    key: [[key('read longer than the fit', LONGER), key('read shorter than the fit', SHORTER)]],
  });
}

const middleOf = ({ from, to }: PlottedReading): [number, number] => [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];

function namesOf(readings: readonly PlottedReading[], reachMm: number): ChartMark[] {
  const named = readings.map((reading) => ({ at: middleOf(reading), name: reading.standsOut ? reading.feature : '' }));
  return joinedNames(
    named,
    (a, b) => Math.abs(a.at[0] - b.at[0]) < reachMm && Math.abs(a.at[1] - b.at[1]) < reachMm / 3,
  ).map(({ at, name }) => ({ kind: 'text', at, text: name, anchor: 'middle', shiftPx: [0, -14], rim: true }));
}
