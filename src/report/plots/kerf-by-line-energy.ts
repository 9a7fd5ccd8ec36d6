import type { TopLevelSpec } from 'vega-lite';
import type { SpotPoint, SpotResult } from '../../fit/spot/fit-spot.js';
import { CHART_WIDTH_PX, type Chart, INK, renderChart } from './render-chart.js';

const SIDES = ['used', 'left out'];

/** Kerf squared against power/speed (ratio scale) with the fitted law, a straight line there if the law holds. */
export async function kerfByLineEnergy(
  points: readonly SpotPoint[],
  result: SpotResult,
  options: { readonly title?: string } = {},
): Promise<Chart> {
  const values = points.map((point, i) => ({
    energy: point.powerPercent / point.speedMmS,
    square: point.kerfMm ** 2,
    side: result.used.includes(i + 1) ? SIDES[0] : SIDES[1],
  }));
  const highest = Math.max(...values.map((value) => value.energy));
  const line = [result.threshold, highest].map((energy) => ({ energy, square: result.kerfAt(energy, 1) ** 2 }));
  const x = {
    field: 'energy',
    type: 'quantitative',
    title: 'power / speed, % per mm/s (ratio scale)',
    scale: {
      type: 'log',
      nice: false,
      domain: [Math.min(result.threshold, ...values.map((v) => v.energy)) * 0.9, highest * 1.1],
    },
    axis: { format: '~r', tickCount: 6, labelOverlap: 'greedy' },
  };
  const y = { field: 'square', type: 'quantitative', title: 'kerf², mm²' };
  const um = (mm: number): string => (1000 * mm).toFixed(1);
  return renderChart({
    title: {
      text: options.title ?? 'Kerf against line energy',
      subtitle: `Spot radius ${um(result.spotRadiusMm)} ± ${um(result.stdUncertaintyRadiusMm)} µm; cuts from ${result.threshold.toPrecision(3)} ± ${result.stdUncertaintyThreshold.toPrecision(2)} % per mm/s on.`,
    },
    width: CHART_WIDTH_PX,
    height: 280,
    layer: [
      { data: { values: line }, mark: { type: 'line', color: INK.black, strokeWidth: 1.6 }, encoding: { x, y } },
      {
        data: { values },
        mark: { type: 'point', size: 60, strokeWidth: 1.6, opacity: 1 },
        encoding: {
          x,
          y,
          shape: { field: 'side', title: null, scale: { domain: SIDES, range: ['circle', 'cross'] } },
          color: { field: 'side', title: null, scale: { domain: SIDES, range: [INK.blue, INK.vermillion] } },
        },
      },
    ],
  } as unknown as TopLevelSpec);
}
