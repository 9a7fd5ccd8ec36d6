import { rmSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { readArtwork } from '../../src/artwork/read.js';
import { scanFilm, type VirtualScan } from '../scan/virtual-scanner.js';
import { bench, layer, profileOf } from './bench.js';
import { SCANNER, scannedPng } from './scanned.js';

/** Sheets of `layout`, cut from their own files by a laser whose kerf is known, and scanned. */
const LASER = { scaleX: 1.004, scaleY: 0.997, shear: 0.002, kerfXMm: 0.12, kerfYMm: 0.1 };

const desk = bench(
  { 'laser.json': profileOf(LASER), 'board.gbr': layer('Bot', '\nD10*X3000000Y4000000D03*X8000000Y2500000D03*') },
  { once: true },
);

const SCAN: VirtualScan = {
  ...{ ...SCANNER, dpi: 600, widthMm: 10, heightMm: 10, turnDeg: 2, atMm: [3, 3] },
  ...{ specksPerCm2: 1, hairsPerCm2: 1, seed: 7 },
};

describe('a sheet of layout', () => {
  it('has its faults told by the numbers of the artwork, copy by copy, and its marks, holes, letters and witness not taken for holes', async () => {
    const out = 'two';
    await desk.run(`layout board.gbr --profile laser.json --format svg --copies 2 --hole 4,-3,3.2 --rotate 90 --out ${out}`); // biome-ignore format: one line
    const { openings } = await readArtwork(desk.read('two/board.sheet.svg'), {});
    const record = 'two/board.sheet.job.json';
    const { filmWidthMm, filmHeightMm } = desk.json('two/board.sheet.job.json').canvas;
    // The round pad of the second copy, which lies farther from the corner; and its hole for a screw.
    const round = openings.map(({ outer }, i) => {
      const [xs, ys] = [0, 1].map((k) => outer.map((point) => point[k]));
      const [w, h] = [Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
      return { i, w: outer.length > 12 && Math.abs(w - h) < 0.1 ? w : 0, far: xs[0] + ys[0] };
    });
    const last = (least: number, most: number): number =>
      round.filter(({ w }) => w > least && w < most).sort((p, q) => q.far - p.far)[0].i;
    const without = [last(0.5, 0.8), last(2.9, 3.3)];
    const cut = openings.filter((_, i) => !without.includes(i));
    const picture = scanFilm({ openings: cut, machine: LASER }, { ...SCAN, widthMm: filmWidthMm + 6, heightMm: filmHeightMm + 6 }); // biome-ignore format: one line
    const file = desk.put('two.png', await scannedPng(picture));
    const { out: text, said, code } = await desk.run(`inspect ${file} --job ${record} --artwork board.gbr --out look --json`); // biome-ignore format: one line
    const { mirrored, notAskedFor, openings: found, warnings } = JSON.parse(text);
    const faulty = found.filter(({ faults }: { faults: string[] }) => faults.length > 0);
    expect(faulty).toMatchObject([{ number: '2:6', faults: ['missing'] }]);
    expect(found).toHaveLength(16);
    expect(mirrored).toBe(false);
    expect(notAskedFor).toEqual([]);
    expect(warnings.map(({ code: name }: { code: string }) => name)).toEqual(['INSPECT_MARKS']);
    expect(said).toMatch(/1 of \d+ openings that are no paste .* M\d+ missing, at/);
    expect(code).toBe(3);

    // Without the sheet's own file only the paste is known.
    rmSync('two/board.sheet.svg');
    const alone = await desk.run(`inspect ${file} --job ${record} --artwork board.gbr --out alone --json`); // biome-ignore format: one line
    expect(alone.said).toContain('marks, holes and letters are told as holes');
    expect(JSON.parse(alone.out).warnings).toContainEqual(expect.objectContaining({ code: 'INSPECT_ONLY_PASTE' }));
    expect(JSON.parse(alone.out).notAskedFor.length).toBeGreaterThan(0);
  });
});
