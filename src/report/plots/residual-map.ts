import type { TopLevelSpec } from 'vega-lite';
import { joinedNames, type PlottedReading } from './plotted-reading.js';
import { CHART_WIDTH_PX, type Chart, INK, renderChart } from './render-chart.js';

const LONGER = 'read longer than the fit';
const SHORTER = 'read shorter than the fit';
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
  const values = sorted.map((reading) => ({
    x: (reading.from[0] + reading.to[0]) / 2,
    y: (reading.from[1] + reading.to[1]) / 2,
    size: 1000 * Math.abs(reading.residualMm),
    side: reading.residualMm >= 0 ? LONGER : SHORTER,
    name: reading.standsOut ? reading.feature : '',
  }));
  const largest = Math.max(1e-6, ...values.map((value) => value.size));
  const reach = 0.08 * canvas.widthMm;
  const names = joinedNames(values, (a, b) => Math.abs(a.x - b.x) < reach && Math.abs(a.y - b.y) < reach / 3);
  const lines = readings.map((reading) => ({
    x: reading.from[0],
    y: reading.from[1],
    x2: reading.to[0],
    y2: reading.to[1],
  }));
  const height = Math.min(520, Math.max(160, (CHART_WIDTH_PX * canvas.heightMm) / canvas.widthMm));
  const width = Math.min(CHART_WIDTH_PX, (height * canvas.widthMm) / canvas.heightMm);
  const axis = (field: 'x' | 'y', title: string, end: number) => ({
    field,
    type: 'quantitative' as const,
    title,
    scale: { domain: [0, end], nice: false },
  });
  const at = { x: axis('x', 'X, mm', canvas.widthMm), y: axis('y', 'Y, mm', canvas.heightMm) };
  return renderChart({
    title: {
      text: options.title ?? 'Residuals by place on the bed',
      subtitle: `Area of a triangle: size of the residual; the largest is ${Number(largest.toPrecision(2))} µm.`,
    },
    width,
    height,
    layer: [
      {
        data: { values: lines },
        mark: { type: 'rule', color: INK.grey, opacity: 0.45, strokeWidth: 0.8 },
        encoding: { ...at, x2: { field: 'x2' }, y2: { field: 'y2' } },
      },
      {
        data: { values },
        mark: { type: 'point', filled: true, opacity: 0.85, stroke: 'white', strokeWidth: 0.6 },
        encoding: {
          ...at,
          size: {
            field: 'size',
            type: 'quantitative',
            scale: { type: 'linear', domain: [0, largest], range: [6, largestPx2(values.length)], zero: true },
            legend: null,
          },
          shape: {
            field: 'side',
            title: null,
            legend: { symbolSize: 160 },
            scale: { domain: [LONGER, SHORTER], range: ['triangle-up', 'triangle-down'] },
          },
          color: {
            field: 'side',
            title: null,
            scale: { domain: [LONGER, SHORTER], range: [INK.vermillion, INK.blue] },
          },
        },
      },
      // A white rim keeps the name legible on lines and triangles.
      ...[{ stroke: 'white', strokeWidth: 3 }, {}].map((rim) => ({
        data: { values: names },
        mark: { type: 'text' as const, dy: -14, fontSize: 12, ...rim },
        encoding: { ...at, text: { field: 'name' } },
      })),
    ],
  } as TopLevelSpec);
}
