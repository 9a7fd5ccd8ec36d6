import { parse } from 'csv-parse/sync';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { bench, PASTE_LAYER } from './bench.js';

const desk = bench({ 'board-paste.gbr': PASTE_LAYER });

const rowsOf = (name: string): Record<string, string>[] => parse(desk.text(name), { columns: true });

describe('apertrue number', () => {
  it('shows every opening with the number that check gives it', async () => {
    const { code } = await desk.run('number board-paste.gbr --out .');
    expect(code).toBe(0);
    const page = desk.text('board-paste.numbers.html');
    expect([...page.matchAll(/<text [^>]*>(\d+)</g)].map(([, number]) => Number(number))).toEqual([
      1, 2, 3, 4, 5, 6, 7, 8,
    ]);
    await desk.run('check board-paste.gbr -t 0.1 --out .');
    const checked = rowsOf('board-paste.check.csv');
    expect(rowsOf('board-paste.numbers.csv').map((row) => row.centre_x_mm)).toEqual(
      checked.map((row) => row.centre_x_mm),
    );
  });

  it('numbers a picture of unknown size, so that its size can be told by a distance', async () => {
    const svg =
      '<svg xmlns="http://www.w3.org/2000/svg" width="200" height="100"><rect width="200" height="100" fill="#fff"/><rect x="20" y="40" width="20" height="20"/><rect x="120" y="40" width="40" height="20"/></svg>';
    const picture = 'artwork.png';
    desk.put(picture, await sharp(Buffer.from(svg)).png().toBuffer().then(withoutResolution));
    const { code, out, said } = await desk.run(`number ${picture} --out .`);
    expect(code).toBe(0);
    expect(out).toMatch(/its size is not known, so lengths are percent of its width/);
    expect(said).toMatch(/next: .*--known-distance 1,2,25\.4/);
    // Nobody said a width: no doubt of it is told.
    expect(said).not.toMatch(/warning|dpi/);
    expect(desk.text('artwork.numbers.html')).toContain('--known-distance');
    const rows = rowsOf('artwork.numbers.csv');
    expect(rows.map((row) => Number(row.width_percent))).toEqual([expect.closeTo(10, 1), expect.closeTo(20, 1)]);
    // The centres lie 110 px apart; told that this is 22 mm, the first opening is 4 mm wide.
    await desk.run(`check ${picture} -t 0.1 --known-distance 1,2,22 --out .`);
    expect(Number(rowsOf('artwork.check.csv')[0].width_mm)).toBeCloseTo(4, 2);
  });

  it('ends with 3 where the size of the picture is doubtful', async () => {
    const svg = '<svg xmlns="http://www.w3.org/2000/svg" width="200" height="100"><rect width="200" height="100" fill="#fff"/><rect x="20" y="40" width="20" height="20"/></svg>'; // biome-ignore format: one file
    const picture = 'artwork.png';
    desk.put(picture, await sharp(Buffer.from(svg)).withMetadata({ density: 72 }).png().toBuffer());
    expect((await desk.run(`number ${picture} --out .`)).code).toBe(3);
  });

  it('goes on after a file that is no artwork, and replaces nothing unasked', async () => {
    desk.put('notes.gbr', 'no artwork');
    const args = ['number', 'board-paste.gbr', 'notes.gbr', '--out', '.'];
    expect((await desk.run(...args)).code).toBe(4);
    const again = await desk.run(...args, '--json');
    expect([again.code, again.said]).toEqual([2, expect.stringMatching(/exists already.*--overwrite/)]);
    const { code, out } = await desk.run(...args, '--json', '--overwrite');
    expect(code).toBe(4);
    expect(JSON.parse(out)[0].openings).toHaveLength(8);
  });
});

/** A PNG without its pHYs chunk (PNG specification, third edition, 11.3.4.3): a picture that does not said how large it is. */
function withoutResolution(png: Buffer): Buffer {
  const parts = [png.subarray(0, 8)];
  for (let at = 8; at < png.length; ) {
    const end = at + 12 + png.readUInt32BE(at);
    if (png.toString('latin1', at + 4, at + 8) !== 'pHYs') parts.push(png.subarray(at, end));
    at = end;
  }
  return Buffer.concat(parts);
}
