import { expect, it } from 'vitest';
import { chordLackOf, growthFromArea, growthOf, measurePatch } from '../../src/scan/measure/patch-of-opening.js';
import { wallLines } from '../../src/scan/measure/wall-lines.js';
import { area, grown, type Vec } from '../truth/polygons.js';
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
  return { ring, strip, size };
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

it('takes the growth of a disc from its dots, not from a hull around them, which makes it 2 µm too small', () => {
  for (const dots of [4, 7, 12, 31]) {
    const ring = dottedDisc(dots, 0.0254);
    for (const [x, y] of [
      [0.11, 0.09],
      [0.06, 0.15],
      [0.2, 0.2],
    ]) {
      // The area is clipper2-wasm's: another library than the one that the reader uses.
      expect(growthFromArea(ring, area(grown([ring], x, y)), y - x)).toBeCloseTo(x, 3.7);
    }
  }
});

it.each([
  [0.061, 0.147, 0.025],
  [0.147, 0.061, 0.035],
  [0.1, 0.1, 0.03],
])('tells growth across from growth along where the beam is oblong and the picture soft: %f x %f', (x, y, blurMm) => {
  for (const dots of [4, 7, 12]) {
    const { ring, strip, size } = discSeen(dots, [x, y], { blurMm, film: 220, open: 20 });
    const band = [0.02, 0.02] as const;
    const patch = measurePatch(strip, [size / 2, size / 2], band, () => 20);
    if (!patch) throw new Error('no patch');
    // Without what blur takes from the bands it is 2 to 5 um.
    expect(Math.abs((growthOf(ring, patch, band, blurMm) ?? 0) - x)).toBeLessThan(0.0005);
  }
});
