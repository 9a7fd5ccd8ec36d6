import type { SpotPoint, SpotResult } from '../../fit/spot/fit-spot.js';
import { micrometres } from '../../text.js';
import { type At, CHART_WIDTH_PX, type Chart, INK, type PointStyle, roomFor } from './chart.js';
import { renderChart } from './render-chart.js';

const USED: PointStyle = { symbol: 'circle', stroke: INK.blue, areaPx2: 60, widthPx: 1.6 };
const LEFT_OUT: PointStyle = { symbol: 'plus', stroke: INK.vermillion, areaPx2: 60, widthPx: 1.6 };

/** Kerf squared against power/speed (ratio scale) with the fitted law, a straight line there if the law holds. */
export async function kerfByLineEnergy(
  points: readonly SpotPoint[],
  result: SpotResult,
  title: string,
): Promise<Chart> {
  const all = points.map((point): At => [point.powerPercent / point.speedMmS, point.kerfMm ** 2]);
  const energies = all.map(([energy]) => energy);
  const highest = Math.max(...energies);
  const line = [result.threshold, highest].map((energy): At => [energy, result.kerfAt(energy, 1) ** 2]);
  const isUsed = (_: At, i: number): boolean => result.used.includes(i + 1);
  const groups = [
    { text: 'used', point: USED, points: all.filter(isUsed) },
    { text: 'left out', point: LEFT_OUT, points: all.filter((at, i) => !isUsed(at, i)) },
  ].filter((group) => group.points.length > 0);
  return renderChart({
    title,
    subtitle: [
      `Spot radius ${micrometres(result.spotRadiusMm)} ± ${micrometres(result.stdUncertaintyRadiusMm)} µm; cuts from ${result.threshold.toPrecision(3)} ± ${result.stdUncertaintyThreshold.toPrecision(2)} % per mm/s on.`,
    ],
    panels: [
      {
        widthPx: CHART_WIDTH_PX,
        heightPx: 280,
        x: {
          title: 'power / speed, % per mm/s (ratio scale)',
          domain: [Math.min(result.threshold, ...energies) * 0.9, highest * 1.1],
          byRatio: true,
        },
        y: { title: 'kerf², mm²', domain: roomFor([0, ...[...all, ...line].map(([, square]) => square)], 0.04) },
        marks: [
          { kind: 'line', points: line, ink: INK.black, widthPx: 1.6 },
          ...groups.map(({ point, points: own }) => ({ kind: 'points' as const, points: own, ...point })),
        ],
      },
    ],
    key: [groups],
  });
}
