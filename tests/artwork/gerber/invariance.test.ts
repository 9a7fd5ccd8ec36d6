import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Artwork } from '../../../src/artwork/types.js';
import { openingArea, openingCentroid } from '../../../src/geometry/area.js';
import { n, readLayer, readText } from './write-layer.js';

/** What does not depend on where a ring begins: centre and area of each opening. */
const summary = ({ openings }: Artwork, map = (x: number, y: number): [number, number] => [x, y]): number[][] =>
  openings.map((opening) => [...map(...openingCentroid(opening)), openingArea(opening)]);

/** Alike to a nanometre. Rounded texts differ where a value lies at the border of two of them. */
function expectAlike(found: number[][], expected: number[][]): void {
  const near = (row: number[], i: number): boolean =>
    row.length === expected[i]?.length && row.every((value, k) => Math.abs(value - expected[i]![k]!) < 1e-6);
  if (found.length !== expected.length || !found.every(near)) expect(found).toEqual(expected);
}

interface Pad {
  readonly x: number;
  readonly y: number;
  readonly aperture: number;
}
const APERTURES =
  '%ADD10R,1.2X0.4*%\n%ADD11C,0.5*%\n%ADD12O,0.4X1.1*%\n%AMT*4,1,3,0,0,0.9,0,0,0.6,0,0,$1*%\n%ADD13T,20*%\n';
const pads = fc.array(
  fc.record({
    x: fc.integer({ min: -4000, max: 4000 }).map((v) => v / 100),
    y: fc.integer({ min: -4000, max: 4000 }).map((v) => v / 100),
    aperture: fc.integer({ min: 10, max: 13 }),
  }),
  { minLength: 1, maxLength: 12 },
);
const body = (list: readonly Pad[], dx = 0, dy = 0): string =>
  APERTURES + list.map((p) => `D${p.aperture}*\nX${n(p.x + dx)}Y${n(p.y + dy)}D03*`).join('\n');

describe('a layer', () => {
  it('moved is the same layer elsewhere', async () => {
    await fc.assert(
      fc.asyncProperty(
        pads,
        fc.integer({ min: -50, max: 50 }),
        fc.integer({ min: -50, max: 50 }),
        async (list, dx, dy) => {
          const moved = await readLayer(body(list, dx, dy));
          expectAlike(
            summary(moved, (x, y) => [x - dx, y - dy]),
            summary(await readLayer(body(list))),
          );
          const offset = await readLayer(`%OFA${dx}B${dy}*%\n${body(list)}`);
          expectAlike(summary(offset), summary(moved));
        },
      ),
      { numRuns: 40 },
    );
  });

  it('turned by IR is turned about the origin, and so is a block loaded with LR', async () => {
    await fc.assert(
      fc.asyncProperty(pads, fc.constantFrom(90, 180, 270), async (list, turn) => {
        const back: Record<number, (x: number, y: number) => [number, number]> = {
          90: (x, y) => [y, -x],
          180: (x, y) => [-x, -y],
          270: (x, y) => [-y, x],
        };
        const plain = summary(await readLayer(body(list)));
        expectAlike(summary(await readLayer(`%IR${turn}*%\n${body(list)}`), back[turn]), plain);
        const block = `%ABD20*%\n${body(list)}\n%AB*%\n%LR${turn}*%\nD20*\nX0Y0D03*`;
        expectAlike(summary(await readLayer(block), back[turn]), plain);
      }),
      { numRuns: 40 },
    );
  });

  it('mirrored and scaled as a block is the map of the layer', async () => {
    await fc.assert(
      fc.asyncProperty(
        pads,
        fc.constantFrom('N', 'X', 'Y', 'XY'),
        fc.constantFrom(0.5, 1, 2),
        async (list, axes, scale) => {
          const block = await readLayer(`%ABD20*%\n${body(list)}\n%AB*%\n%LM${axes}*%\n%LS${scale}*%\nD20*\nX0Y0D03*`);
          const [sx, sy] = [axes.includes('X') ? -1 : 1, axes.includes('Y') ? -1 : 1];
          const plain = await readLayer(body(list));
          const centres = (artwork: Artwork, kx: number, ky: number): number[][] =>
            artwork.openings.map(openingCentroid).map(([x, y]) => [x / kx, y / ky]);
          expectAlike(centres(block, sx * scale, sy * scale), centres(plain, 1, 1));
        },
      ),
      { numRuns: 40 },
    );
  });

  it('is the same in every coordinate format, unit, and way of writing operations', async () => {
    const whole = fc.array(fc.tuple(fc.integer({ min: -900, max: 900 }), fc.integer({ min: -900, max: 900 })), {
      minLength: 1,
      maxLength: 8,
    });
    // Tenths of a millimetre and their exact inch value in 2.6 digits are both whole: 0.0254 mm steps.
    await fc.assert(
      fc.asyncProperty(whole, async (points) => {
        const signed = (value: number, text: string): string => (value < 0 ? `-${text}` : text);
        const leading = (v: number, decimals: number): string => String(v * 10 ** decimals);
        const trailing = (v: number, integers: number, decimals: number): string =>
          signed(v, (String(Math.abs(v)).padStart(integers, '0') + '0'.repeat(decimals)).replace(/0+$/, '') || '0');
        const lines = (digits: (v: number) => string): string =>
          points.map(([x, y]) => `X${digits(x)}Y${digits(y)}D03*`).join('\n');
        const pad = '%ADD10R,1.2X0.5*%\nD10*\n';
        const variants = [
          `%FSLAX36Y36*%\n%MOMM*%\n${pad}${lines((v) => leading(v, 6))}`,
          `%FSLAX33Y33*%\n%MOMM*%\n${pad}${lines((v) => leading(v, 3))}`,
          `%FSTAX33Y33*%\n%MOMM*%\n${pad}${lines((v) => trailing(v, 3, 3))}`,
          `%FSAX42Y42*%\n%MOMM*%\n${pad}${lines((v) => leading(v, 2))}`,
          `%FSLAX35Y35*%\nG71*\n${pad}${lines((v) => leading(v, 5))}`,
          `%FSLAX33Y33*%\n%MOMM*%\n${pad}${lines((v) => `${v}.0`)}`,
          // Coordinates that did not change are left out, and so is D03.
          `%FSLAX33Y33*%\n%MOMM*%\n${pad}${points
            .map(([x, y], i) => {
              const [px, py] = points[i - 1] ?? [Number.NaN, Number.NaN];
              const text = `${x === px ? '' : `X${x}000`}${y === py ? '' : `Y${y}000`}`;
              return text === '' ? '' : `${text}${i === 0 ? 'D03' : ''}*`;
            })
            .join('\r\n')}`,
          `%FSLIX33Y33*%\n%MOMM*%\n${pad}${points
            .map(
              ([x, y], i) => `X${(x - (points[i - 1]?.[0] ?? 0)) * 1000}Y${(y - (points[i - 1]?.[1] ?? 0)) * 1000}D03*`,
            )
            .join('')}`,
          `%FSLAX33Y33*%\n%MOMM*%\n${pad}${points.map(([x, y]) => `X${x}000Y${y}000D02*D03*`).join('\r')}`,
        ];
        const expected = summary(await readText(`${variants[0]}\nM02*\n`));
        for (const variant of variants) expectAlike(summary(await readText(`${variant}\nM02*\n`)), expected);
      }),
      { numRuns: 60 },
    );
  });
});
