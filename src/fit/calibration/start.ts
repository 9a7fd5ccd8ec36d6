import { median } from '../statistics/averages.js';
import type { FitLength } from './design.js';

/** Slanted widths have no slope by the kerf where it is zero. */
const LEAST_KERF_MM = 0.01;

/**
 * A start for the iteration that wrong readings hardly move: each axis's scale from its spans, the shear from
 * slanted ones, the kerf from what openings and webs differ by; medians throughout.
 */
export function startParameters(lengths: readonly FitLength[]): number[] {
  const nominal = (l: FitLength): number => Math.hypot(l.dx, l.dy);
  const dimensional = lengths.filter(({ kind, valueMm }) => kind !== 'vernier' && valueMm > 0);
  const spans = dimensional.filter(({ kind }) => kind === 'span');
  const scaleOf = (pool: readonly FitLength[]): number | undefined => {
    const longest = Math.max(0, ...pool.map(nominal));
    const long = pool.filter((l) => nominal(l) >= longest / 4);
    return median(long.map((l) => l.valueMm / nominal(l)));
  };
  const overall = scaleOf(spans.length > 0 ? spans : dimensional) ?? 1;
  const scaleX = scaleOf(spans.filter(({ dy }) => dy === 0)) ?? overall;
  const scaleY = scaleOf(spans.filter(({ dx }) => dx === 0)) ?? overall;
  const kerfs = lengths.flatMap((l): { kerf: number; dx: number; dy: number }[] => {
    if (l.kind === 'span') return [];
    const film = Math.hypot(scaleX * l.dx, scaleY * l.dy);
    const kerf = l.kind === 'vernier' ? l.valueMm * film : l.kind === 'web' ? film - l.valueMm : l.valueMm - film;
    return [{ kerf, dx: l.dx, dy: l.dy }];
  });
  const kerfOf = (pool: typeof kerfs): number | undefined => median(pool.map(({ kerf }) => kerf));
  const kerf = kerfOf(kerfs) ?? 0.1;
  const kerfX = kerfOf(kerfs.filter(({ dy }) => dy === 0)) ?? kerf;
  const kerfY = kerfOf(kerfs.filter(({ dx }) => dx === 0)) ?? kerf;
  // From a slanted span: (scaleX dx + shear dy)² = m² - (scaleY dy)².
  const shear = median(
    spans
      .filter(({ dx, dy }) => dx !== 0 && dy !== 0)
      .map(({ dx, dy, valueMm }) => {
        const across = Math.sqrt(Math.max(0, valueMm ** 2 - (scaleY * dy) ** 2));
        return (Math.sign(dx) * across - scaleX * dx) / dy;
      }),
  );
  return [scaleX, scaleY, shear ?? 0, Math.max(kerfX, LEAST_KERF_MM), Math.max(kerfY, LEAST_KERF_MM)];
}
