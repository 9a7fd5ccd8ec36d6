import { expect, it } from 'vitest';
import { wallLines } from '../../src/scan/measure/edge.js';
import { chordLackOf, fitPatch } from '../../src/scan/measure/patch-of-opening.js';
import type { Strip } from '../../src/scan/measure/strip.js';
import type { Vec } from '../truth/polygons.js';
import { scanFilm } from './virtual-scanner.js';

/** A disc of whole dots, as a coupon draws it, with its stairs. */
function dottedDisc(dots: number, pitch: number): Vec[] {
  const half = Array.from({ length: dots }, (_, column) => {
    const x = (2 * (column + 0.5)) / dots - 1;
    return Math.floor((Math.sqrt(1 - x * x) * dots) / 2 + 0.5);
  });
  const upper = half.flatMap((h, column): Vec[] => [
    [column * pitch, h * pitch],
    [(column + 1) * pitch, h * pitch],
  ]);
  return [...upper, ...upper.toReversed().map(([x, y]): Vec => [x, -y])].reverse();
}

/** The disc, cut with a kerf, and a strip of rows about its middle as a scanner of 2400 dpi sees it. */
function discSeen(
  dots: number,
  [kerfXMm, kerfYMm]: Vec,
  look: { readonly blurMm: number; readonly film: number; readonly open: number; readonly wallLineMm?: number },
  rowsMm = 1.2,
) {
  const ring = dottedDisc(dots, 0.0254).map(([u, v]): Vec => [u - (0.0254 * dots) / 2, v]);
  const size = 1.2;
  const { levels, widthPx, heightPx, dotsPerMm } = scanFilm(
    { openings: [{ outer: ring }], machine: { scaleX: 1, scaleY: 1, shear: 0, kerfXMm, kerfYMm } },
    { dpi: 2400, widthMm: size, heightMm: size, turnDeg: 0, atMm: [size / 2, size / 2], ...look },
  );
  const step = 1 / dotsPerMm.x;
  const rows = Math.min(heightPx, 2 * Math.floor(rowsMm / 2 / step) + (heightPx % 2));
  const first = (heightPx - rows) / 2;
  const strip = {
    ...{ rows, columns: widthPx, stepMm: step, rowStepMm: step, phases: 0 },
    levels: Float32Array.from(levels.subarray(first * widthPx, (first + rows) * widthPx)),
    ...{ firstMm: (0.5 - widthPx / 2) * step, firstRowMm: (0.5 - rows / 2) * step },
  };
  return { ring, strip };
}

it('reads round walls, which blur draws inwards, between their two lines', () => {
  for (const dots of [4, 7, 12]) {
    const { ring, strip } = discSeen(dots, [0.1, 0.1], { blurMm: 0.03, film: 210, open: 60, wallLineMm: 0.03 }, 0.06);
    const lines = wallLines(strip, (0.0254 * dots) / 2, 0.4, undefined);
    if (!lines || lines === 'missing') throw new Error('no lines');
    const seen = lines.high.mm - lines.low.mm;
    // Each line is 30 µm wide and lies outside of the opening; without the chords it is 4 to 10 µm off.
    expect(Math.abs(seen + chordLackOf(ring, seen, -strip.firstRowMm, 0.03) - (0.0254 * dots + 0.13))).toBeLessThan(
      0.001,
    );
  }
});

/** A hair as soft as the picture is takes half of the light along a line, `far` mm from the middle, leaning. */
const withHair = (strip: Strip, far: number): Strip => ({
  ...strip,
  levels: strip.levels.map((level, at) => {
    const [s, t] = [at % strip.columns, Math.floor(at / strip.columns)].map((k) => strip.firstMm + k * strip.stepMm);
    return level * (1 - 0.5 * Math.exp(-(((s + 0.3 * t - far) / 0.025) ** 2) / 2));
  }),
});

it.each([
  [0.061, 0.147, 0.025],
  [0.147, 0.061, 0.035],
  [0.1, 0.1, 0.03],
])('tells growth across from growth along where the beam is oblong and the picture soft: %f x %f', (x, y, blurMm) => {
  for (const dots of [4, 7, 12]) {
    // Of its stairs, not of a hull around them, which makes a disc 2 um too small.
    const { ring, strip } = discSeen(dots, [x, y], { blurMm, film: 220, open: 20 });
    const sharpness = { openShare: 20 / 220, sigmaMm: Math.hypot(blurMm, 25.4 / 2400 / Math.sqrt(12)) };
    const grown = (seen: Strip): readonly number[] =>
      fitPatch(seen, ring, sharpness, [x + 0.006, y - 0.006])?.growth ?? [];
    const off = (seen: Strip): number => Math.max(...[x, y].map((mm, k) => Math.abs(grown(seen)[k] - mm)));
    expect(off(strip)).toBeLessThan(0.0005);
    // Over the midst of it, at its wall, and beside it; of what is hardly wider than a hair little is left.
    if (dots > 7)
      for (const far of [0.02, 0.0127 * dots + x / 2, 0.0127 * dots + x / 2 + 0.06])
        expect(off(withHair(strip, far))).toBeLessThan(0.007);
  }
});
