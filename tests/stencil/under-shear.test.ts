import { expect, it } from 'vitest';
import type { Opening } from '../../src/geometry/types.js';
import { makeStencil } from '../../src/stencil/make-stencil.js';

const PITCH = 0.0254;

/** An angle of two arms; its walls lean by about a dot from end to end where the machine has some shear. */
function angle(size: number, arm: number, x: number, y: number): Opening {
  const ring = [[0, 0], [size, 0], [size, arm], [arm, arm], [arm, size], [0, size]] as const; // biome-ignore format: one line
  return { outer: ring.map(([u, v]): [number, number] => [u + x, v + y]), islands: [] };
}

it('angles come out within three quarters of a dot of their size, whatever shear makes of their walls', () => {
  for (const shear of [0.003, 0.004, 0.005, 0.006, 0.007]) {
    const fit = { scaleX: 1.004, scaleY: 0.997, shear, kerfXMm: 0.138, kerfYMm: 0.112 };
    const openings = [3, 4.1, 5.3].flatMap((size, i) =>
      [0.6, 1.3].map((arm, j) => angle(size, arm, 8 * i + 997 * shear, 8 * j + 311 * shear)),
    );
    const { check } = makeStencil({ openings, side: 'top' }, { fit }, { pitchMm: { x: PITCH, y: PITCH } });
    expect(check.figures?.maxWidthErrorMm).toBeLessThan(0.75 * PITCH);
  }
});

it('long pads keep their length along their own walls, though their ends are short beside them', () => {
  const fit = {
    scaleX: 1.00611606,
    scaleY: 0.994755397,
    shear: 0.00267180639,
    kerfXMm: 0.138311683,
    kerfYMm: 0.11275259,
  };
  const openings = [21.164, 18.3, 12.77, 9.21].map((length, i): Opening => {
    const x = 6.31 * i;
    return { outer: [[x, 0], [x + 4.233 / (i + 1), 0], [x + 4.233 / (i + 1), length], [x, length]], islands: [] }; // biome-ignore format: one line
  });
  const { check } = makeStencil({ openings, side: 'top' }, { fit }, { pitchMm: { x: PITCH, y: PITCH } });
  // Nearest dots, and no more: walls that lean have no say in how long a pad is.
  expect(check.figures?.maxWidthErrorMm).toBeLessThan(0.55 * PITCH);
});

it('an angle of thin arms misses no part where a row more makes one arm thicker, and so moves the centre of all', () => {
  // Corner marks of a sheet: in whole dots each wall lies within a dot of its place, measured on the dots themselves.
  const fit = { scaleX: 1.003, scaleY: 0.997, shear: 0.002, kerfXMm: 0.11, kerfYMm: 0.09 };
  const ring = (fx: number, fy: number) => angle(5.8, 0.5, 0, 0).outer.map(([x, y]): [number, number] => [20 * (fx + 1) + fx * x, 20 * (fy + 1) + fy * y]); // biome-ignore format: one line
  const openings = [[1, 1], [-1, 1], [1, -1], [-1, -1]].map(([fx, fy]): Opening => ({ outer: fx * fy > 0 ? ring(fx, fy) : ring(fx, fy).reverse(), islands: [] })); // biome-ignore format: one line
  const { check } = makeStencil({ openings, side: 'top' }, { fit }, { pitchMm: { x: PITCH, y: PITCH } });
  expect(check.faults).toEqual([]);
});
