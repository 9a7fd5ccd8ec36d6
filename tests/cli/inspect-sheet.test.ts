import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readArtwork } from '../../src/artwork/read.js';
import { type Picture, scanFilm, type VirtualScan } from '../scan/virtual-scanner.js';
import { type Bench, bench, layer, profileOf } from './bench.js';

/** Sheets of `layout`, cut from their own files by a laser whose kerf is known, and scanned. */
const LASER = { scaleX: 1.004, scaleY: 0.997, shear: 0.002, kerfXMm: 0.12, kerfYMm: 0.1 };

let desk: Bench;
beforeAll(() => {
  desk = bench();
  desk.put('laser.json', profileOf(LASER));
  desk.put('board.gbr', layer('Bot', '\nD10*X3000000Y4000000D03*X8000000Y2500000D03*'));
});
afterAll(() => desk.remove());

async function put(name: string, { widthPx, heightPx, levels, dotsPerMm }: Picture): Promise<string> {
  const picture = sharp(levels, { raw: { width: widthPx, height: heightPx, channels: 1 } });
  const bytes = await picture.withMetadata({ density: 25.4 * dotsPerMm.x }).png({ compressionLevel: 1 }).toBuffer(); // biome-ignore format: one line
  return desk.put(name, bytes);
}

const SCAN: VirtualScan = {
  ...{ dpi: 600, widthMm: 10, heightMm: 10, turnDeg: 2, atMm: [3, 3], blurMm: 0.025, film: 215, open: 40 },
  ...{ vignette: 0.2, noise: 2, specksPerCm2: 1, hairsPerCm2: 1, seed: 7, scaleX: 0.9985, scaleY: 1.0012 },
};

/** Lays a sheet, cuts it without some openings (numbers in the order of the file), scans and inspects it. */
async function inspected(name: string, options: readonly string[], without: readonly number[]) {
  const out = desk.path(name);
  await desk.run('layout', desk.path('board.gbr'), '--profile', desk.path('laser.json'), '--format', 'svg', ...options, '--out', out); // biome-ignore format: one line
  const { openings } = await readArtwork(desk.read(`${name}/board.sheet.svg`), {});
  const job = JSON.parse(desk.read(`${name}/board.sheet.job.json`).toString());
  const { filmWidthMm, filmHeightMm } = job.canvas;
  const cut = openings.filter((_, i) => !without.includes(i + 1));
  const picture = scanFilm({ openings: cut, machine: LASER }, { ...SCAN, widthMm: filmWidthMm + 6, heightMm: filmHeightMm + 6 }); // biome-ignore format: one line
  const file = await put(`${name}.png`, picture);
  const result = await desk.run('inspect', file, '--job', desk.path(`${name}/board.sheet.job.json`), '--artwork', desk.path('board.gbr'), '--out', desk.path('look'), '--json', '--overwrite'); // biome-ignore format: one line
  return { ...result, report: result.out ? JSON.parse(result.out) : undefined, job, cut: openings };
}

describe('a sheet of layout', () => {
  it('is inspected with its marks, hole, letters and witness, of which none is taken for a hole', async () => {
    const good = await inspected('good', ['--hole', '4,-3,3.2', '--rotate', '90'], []);
    expect(good.said).not.toMatch(/error|warning/);
    expect(good.report).toMatchObject({ go: true, mirrored: false, notAskedFor: [] });
    expect(good.report.openings).toHaveLength(8);
    expect(good.code).toBe(0);
  }, 600_000);

  it('has its missing paste told by the numbers of the artwork, of each copy, and what else did not come out', async () => {
    const { cut } = await inspected('two', ['--copies', '2', '--no-witness'], []);
    // The disc of the second copy, which lies to the right or above; and the first corner mark.
    const wide = cut.flatMap(({ outer }, i) => {
      const [xs, ys] = [0, 1].map((k) => outer.map((point) => point[k]));
      const [w, h] = [Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
      return outer.length > 12 && w > 0.5 && w < 0.8 && h < 0.8 ? [{ i, far: xs[0] + ys[0] }] : [];
    });
    const last = wide.reduce((best, one) => (one.far > best.far ? one : best));
    const { report, said, code } = await inspected(
      'two',
      ['--copies', '2', '--no-witness', '--overwrite'],
      [last.i + 1],
    );
    const faulty = report.openings.filter(({ faults }: { faults: string[] }) => faults.length > 0);
    expect(faulty).toMatchObject([{ number: '2:6', faults: ['missing'] }]);
    expect(report.notAskedFor).toEqual([]);
    expect(said).not.toContain('warning');
    expect(code).toBe(3);
  }, 600_000);
});
