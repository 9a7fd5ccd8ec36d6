import { describe, expect, it } from 'vitest';
import type { Point } from '../../src/geometry/types.js';
import { scanPictureSvg } from '../../src/report/scan-picture.js';

describe('a scan with what was recognised on it', () => {
  // A row of fine pads as of a chip, seen at 1200 dpi on a picture of 1800 x 1400 dots.
  const marks = Array.from({ length: 8 }, (_, i) => {
    const [x, y] = [i % 2 === 0 ? 700 : 780, 600 + 24 * Math.floor(i / 2)];
    const ends: readonly [Point, Point] = [
      [x, y],
      [x + 33, y],
    ];
    return { name: `${21 + i}`, ends, doubt: i === 3 ? 'too <small>' : undefined };
  });
  const svg = scanPictureSvg({ widthPx: 1800, heightPx: 1400, marks });
  const names = [...svg.matchAll(/<text x="([\d.]+)" y="([\d.]+)" font-size="([\d.]+)"[^>]*>([^<]*)<\/text>/g)].map(
    ([, x, y, size, words]) => ({ x: Number(x), y: Number(y), size: Number(size), words }),
  );

  it('has names that can be read with the whole picture on the screen, none upon another or upon a mark', () => {
    expect(names.map(({ words }) => words)).toEqual(marks.map(({ name }) => name));
    for (const { x, y, size, words } of names) {
      expect(size).toBeGreaterThan(1800 / 100);
      const half = 0.3 * size * words.length;
      for (const other of names.filter((one) => one.words !== words))
        expect([words, other.words, Math.abs(other.x - x) >= 2 * half || Math.abs(other.y - y) >= 0.7 * size]).toEqual([words, other.words, true]); // biome-ignore format: one line
      for (const { ends } of marks) {
        const isClear =
          ends[0][0] > x + half || ends[1][0] < x - half || ends[0][1] > y || ends[0][1] < y - 0.75 * size;
        expect([words, isClear]).toEqual([words, true]);
      }
    }
  });

  it('says why a person should look when one points at it', () => {
    expect(svg.match(/<title>24: too &lt;small&gt;<\/title>/g)).toHaveLength(2);
    expect(svg.match(/stroke-dasharray/g)).toHaveLength(1);
  });
});
