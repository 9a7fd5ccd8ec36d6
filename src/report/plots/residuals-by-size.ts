import { type At, CHART_WIDTH_PX, type Chart, type ChartMark, INK, type PointStyle, roomFor } from './chart.js';
import { joinedNames, type PlottedReading } from './plotted-reading.js';
import { renderChart } from './render-chart.js';

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
 * @param options.residualSdMm - draws the band of ± 2 standard deviations
 */
export async function residualsBySize(
  readings: readonly PlottedReading[],
  { residualSdMm = 0 }: { readonly residualSdMm?: number } = {},
): Promise<Chart> {
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
          ...namesOf(readings, largest),
        ],
      },
    ],
    key: [kinds.map((kind) => ({ text: kind, point: KINDS[kind] }))],
  });
}

function namesOf(readings: readonly PlottedReading[], largest: number): ChartMark[] {
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
