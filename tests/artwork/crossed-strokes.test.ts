import { describe, expect, it } from 'vitest';
import { readArtwork } from '../../src/artwork/read.js';
import { openingArea } from '../../src/geometry/area.js';

type Line = readonly [number, number, number, number];

const digits = (mm: number): string => Math.round(mm * 1e6).toString();
const gerber = (lines: readonly Line[], pen = 0.1): string =>
  `%FSLAX46Y46*%%MOMM*%%ADD10C,${pen}*%D10*G01*\n${lines
    .map(([a, b, c, d]) => `X${digits(a)}Y${digits(b)}D02*\nX${digits(c)}Y${digits(d)}D01*`)
    .join('\n')}\nM02*`;
const svg = (lines: readonly Line[], pen = 0.1): string =>
  `<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">${lines
    .map(([a, b, c, d]) => `<path d="M${a} ${b}L${c} ${d}" stroke="#000" stroke-width="${pen}"/>`)
    .join('')}</svg>`;
const read = (text: string) => readArtwork(new TextEncoder().encode(text), {});

/** The low-order bits of a linear congruence, for files that are the same each time. */
function scattered(count: number): Line[] {
  let seed = 7;
  const next = (): number => {
    seed = (seed * 1103515245 + 12345) % 2147483648;
    return (seed / 2147483648) * 100;
  };
  return Array.from({ length: count }, (): Line => [next(), next(), next(), next()]);
}

const hatch = (count: number): Line[] =>
  Array.from({ length: count }, (_, i): Line => {
    const at = (100 * (i + 1)) / (count + 1);
    return i % 2 === 0 ? [at, 0, at, 100] : [0, at, 100, at];
  });

describe('strokes that all cross each other', () => {
  it.each([
    ['Gerber, scattered', gerber(scattered(8000))],
    ['Gerber, hatch', gerber(hatch(2400), 0.02)],
    ['SVG, hatch', svg(hatch(5000))],
  ])('thousands are refused before they are worked out: %s', async (_, text) => {
    await expect(read(text)).rejects.toMatchObject({ name: 'InputError', code: 'TOO_MUCH' });
  });

  it('a hatched thermal land is read, meshes and all', async () => {
    const lines = hatch(60);
    const { openings } = await read(gerber(lines, 0.2));
    expect(openings).toHaveLength(1);
    expect(openings[0].islands).toHaveLength(29 * 29);
  });

  it('a land painted with thousands of strokes side by side is one opening of the right area', async () => {
    const pitch = 0.02;
    const count = 3000;
    const lines = Array.from({ length: count }, (_, i): Line => [0, i * pitch, 20, i * pitch]);
    const { openings } = await read(gerber(lines, 0.1));
    expect(openings).toHaveLength(1);
    const { outer, islands } = openings[0];
    expect(islands).toHaveLength(0);
    // A rectangle as high as the ends of the outermost strokes, the waves of the round caps less: below 0.2 %.
    const height = (count - 1) * pitch + 0.1;
    const area = openingArea({ outer, islands });
    expect(area).toBeLessThan(20.1 * height);
    expect(area).toBeGreaterThan(20.1 * height * 0.998);
  });
});
