import { describe, expect, it } from 'vitest';
import { compose, type PaintedObject } from '../../../src/artwork/paint/compose.js';
import { readArtwork } from '../../../src/artwork/read.js';
import { openingArea } from '../../../src/geometry/area.js';
import { ellipse, rectangle, solid } from '../../../src/geometry/shapes.js';
import type { Ring } from '../../../src/geometry/types.js';

const paint = (dark: boolean, ring: Ring): PaintedObject => ({ dark, regions: [solid(ring)] });
const square = rectangle(0, 0, 1, 1);

describe('slivers of rounding are no openings', () => {
  it.each([
    ['a clear square a tenth of a micrometre off', rectangle(0.0001, 0, 1.0001, 1)],
    ['a clear square 0.4 um off', rectangle(0.0004, 0, 1.0004, 1)],
    ['a clear square that leaves a corner of 5 um', rectangle(0.005, 0, 2, 2).with(0, [0.005, -1])],
  ])('%s leaves nothing of a land', (_name, clear) => {
    const left = compose([paint(true, square), paint(true, rectangle(5, 0, 6, 1)), paint(false, clear)]);
    const expected = clear[0][0] > 0.001 ? 2 : 1;
    expect(left).toHaveLength(expected);
  });

  it('a strip of 2 um that somebody drew stays', () => {
    expect(compose([paint(true, square), paint(false, rectangle(0.002, -1, 2, 2))])).toHaveLength(1);
    expect(compose([paint(true, rectangle(0, 0, 0.005, 0.005))])).toHaveLength(1);
  });

  it('small pieces that clear shapes leave are counted, thin ones are not', async () => {
    const head = '%FSLAX46Y46*%%MOMM*%%ADD10R,1X1*%%ADD11R,1X2*%%LPD*%D10*';
    // Two of three lands keep a corner of 8 um, alike; the third a strip of 0.3 um.
    const lands = [0, 5, 10].map((x) => `X${x * 1e6}Y0D03*`).join('');
    const corner = (x: number): string => {
      const [l, r, b, t] = [x - 0.5, x + 0.5, -0.5, 0.5].map((v) => Math.round(v * 1e6));
      return `G36*X${l - 9}Y${b - 9}D02*G01X${r - 8000}D01*Y${t + 9}D01*X${l - 9}D01*Y${b - 9}D01*X${r - 8000}Y${b + 8000}D02*X${r + 9}D01*Y${t + 9}D01*X${r - 8000}D01*Y${b + 8000}D01*G37*`;
    };
    const text = `${head}${lands}%LPC*%${corner(0)}${corner(5)}D11*X9999700Y0D03*%LPD*%D10*X0Y9000000D03*M02*`;
    const { openings, warnings } = await readArtwork(new TextEncoder().encode(text), { name: 'a.gbr' });
    expect(openings).toHaveLength(1);
    const [told] = warnings.filter(({ code }) => code === 'PIECES_DROPPED');
    expect(told.place?.file).toBe('a.gbr');
    expect(told.message).toMatch(/^2 piece\(s\) .* 64 µm² at (0|5)\.496, -0\.496 mm\.$/);
  });

  it('film between two circles that were meant to be one is none', () => {
    const ring: PaintedObject = {
      dark: true,
      regions: [{ outer: ellipse(0, 0, 2), islands: [ellipse(0, 0, 1).toReversed()] }],
    };
    const turned = ellipse(0, 0, 1).map(([x, y]): [number, number] => {
      const turn = 0.01;
      return [x * Math.cos(turn) - y * Math.sin(turn), x * Math.sin(turn) + y * Math.cos(turn)];
    });
    const filled = compose([ring, paint(true, turned)]);
    expect(filled).toHaveLength(1);
    expect(filled[0].islands).toHaveLength(0);
    expect(openingArea(filled[0])).toBeCloseTo(4 * Math.PI, 3);
  });

  // The last corner lies 0.2 um across the first wall: the outline goes around a sliver of 0.2 x 22 um, too.
  const overlapping = [
    [0, 0],
    [2, 0],
    [2, 2],
    [0.5, 2],
    [0.5, 0.05],
    [0.478, -0.0002],
  ] as const;

  it.each([
    [
      'a path',
      `<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9"><path d="M${overlapping.map(([x, y]) => `${x + 2},${y + 2}`).join('L')}Z"/></svg>`,
    ],
    [
      'a region',
      `%FSLAX46Y46*%%MOMM*%%LPD*%G36*${[...overlapping, overlapping[0]].map(([x, y], i) => `X${Math.round(x * 1e6)}Y${Math.round(y * 1e6)}D0${i === 0 ? 2 : 1}*`).join('G01')}G37*M02*`,
    ],
  ])('%s whose ends overlap by a rounding is one opening', async (_name, text) => {
    const { openings } = await readArtwork(new TextEncoder().encode(text));
    expect(openings).toHaveLength(1);
    expect(openingArea(openings[0])).toBeCloseTo(3, 0);
  });
});
