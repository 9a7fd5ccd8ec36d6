import type { TopLevelSpec } from 'vega-lite';
import { joinedNames, type PlottedReading } from './plotted-reading.js';
import { CHART_WIDTH_PX, type Chart, INK, renderChart } from './render-chart.js';

export const KINDS = ['span', 'opening', 'web'];
export const KIND_SHAPES = ['circle', 'square', 'triangle-up'];
export const KIND_COLOURS = [INK.blue, INK.orange, INK.green];
/** Sizes that differ by more than this are spread out by ratio instead of evenly. */
const LARGEST_PLAIN_RATIO = 30;

/**
 * What the fit leaves of each reading against its nominal size. A funnel, a slope or a bow tells of a wrong model or a
 * bad gauge; a cloud about zero is what it should be.
 *
 * @param options.residualSdMm - draws the band of ± 2 standard deviations
 */
export async function residualsBySize(
  readings: readonly PlottedReading[],
  options: { readonly title?: string; readonly residualSdMm?: number } = {},
): Promise<Chart> {
  const sizes = readings.map((reading) => reading.nominalMm);
  const [smallest, largest] = [Math.min(...sizes), Math.max(...sizes)];
  const byRatio = smallest > 0 && largest / smallest > LARGEST_PLAIN_RATIO;
  const values = readings.map((reading) => ({
    nominal: reading.nominalMm,
    residual: 1000 * reading.residualMm,
    kind: reading.kind,
    name: reading.standsOut ? reading.feature : '',
  }));
  const tallest = Math.max(...values.map((value) => Math.abs(value.residual)));
  const names = joinedNames(
    values,
    (a, b) => Math.abs(a.residual - b.residual) < 0.06 * tallest && Math.abs(a.nominal - b.nominal) < 0.1 * largest,
  );
  const x = {
    field: 'nominal',
    type: 'quantitative' as const,
    title: byRatio ? 'nominal size, mm (ratio scale)' : 'nominal size, mm',
    scale: byRatio ? { type: 'log' as const, nice: false, domain: [smallest / 1.2, largest * 1.2] } : { zero: false },
    axis: { format: '~r', ...(byRatio ? { tickCount: 5, labelOverlap: 'greedy' as const } : {}) },
  };
  const y = { field: 'residual', type: 'quantitative' as const, title: 'reading − fit, µm', axis: { format: '~f' } };
  const band = 2000 * (options.residualSdMm ?? 0);
  return renderChart({
    title: { text: options.title ?? 'Residuals against size', ...(band > 0 ? { subtitle: bandWords(band) } : {}) },
    width: CHART_WIDTH_PX,
    height: 280,
    layer: [
      {
        data: { values: [{ at: 0 }] },
        mark: { type: 'rule', color: INK.black, strokeWidth: 1.2 },
        encoding: { y: { datum: 0 } },
      },
      ...(band > 0 ? [-band, band] : []).map((at) => ({
        data: { values: [{ at }] },
        mark: { type: 'rule' as const, color: INK.grey, strokeDash: [5, 4], strokeWidth: 1.2 },
        encoding: { y: { datum: at } },
      })),
      {
        data: { values },
        mark: { type: 'point', size: 55, strokeWidth: 1.5, opacity: 1 },
        encoding: {
          x,
          y,
          shape: { field: 'kind', title: null, scale: { domain: KINDS, range: KIND_SHAPES } },
          color: { field: 'kind', title: null, scale: { domain: KINDS, range: KIND_COLOURS } },
        },
      },
      {
        data: { values: names },
        mark: { type: 'text', dx: -8, dy: -1, align: 'right', fontSize: 12 },
        encoding: { x, y, text: { field: 'name' } },
      },
    ],
  } as TopLevelSpec);
}

function bandWords(bandUm: number): string {
  return `Dashed: ± 2 residual standard deviations (${Number(bandUm.toPrecision(2))} µm); by chance 1 in 20 lies outside.`;
}
