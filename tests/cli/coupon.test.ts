import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { decode } from 'fast-bmp';
import { PDFDocument } from 'pdf-lib';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { builtInPattern } from '../../src/coupon/built-in.js';
import type { CellFeature } from '../../src/coupon/features.js';
import { parseFeatures } from '../../src/coupon/parse-features.js';
import { bench } from './bench.js';

const desk = bench();

const BED = '--width-mm 90 --height-mm 70 --pitch-mm 0.05x0.0254 --out .';
const coupon = (line: string) => desk.run(`coupon ${line}`);

/** Codes of all problems for which nothing is made. */
async function codesOf(line: string): Promise<string> {
  const { code, out } = await coupon(`${line} --json`);
  expect(code).toBe(2);
  return JSON.parse(out)
    .error.problems.map((problem: { code: string }) => problem.code)
    .join(' ');
}

describe('apertrue coupon', () => {
  it('writes images of one size in four formats, features, readings, worksheet and sidecar', async () => {
    const { code, out, said } = await coupon(`scale-ruler ${BED}`);
    expect(code).toBe(0);
    const endings = [
      'bmp',
      'features.json',
      'job.json',
      'pdf',
      'png',
      'readings.csv',
      'readings.html',
      'svg',
      'worksheet.pdf',
    ];
    expect(desk.list()).toEqual(endings.map((ending) => `scale-ruler.${ending}`));
    expect(said.match(/^wrote /gm)).toHaveLength(endings.length);
    const { canvas } = parseFeatures(desk.text('scale-ruler.features.json'), 'features');
    expect(canvas).toEqual({ widthMm: 90, heightMm: 69.977, pitchXMm: 0.05, pitchYMm: 0.0254 });
    const [widthPx, heightPx] = [1800, 2755];

    // pHYs: pixels per metre across and down, unit 1 (PNG specification, chunk pHYs). 0.05 mm is 20000/m, 0.0254 mm 39370/m.
    const png = desk.read('scale-ruler.png');
    const at = png.indexOf('pHYs') + 4;
    expect([png.readUInt32BE(at), png.readUInt32BE(at + 4), png[at + 8]]).toEqual([20000, 39370, 1]);
    const image = sharp(png);
    expect(await image.metadata()).toMatchObject({ width: widthPx, height: heightPx });
    const pixels = await image.greyscale().raw().toBuffer({ resolveWithObject: true });

    // BMP: biXPelsPerMeter and biYPelsPerMeter at bytes 38 and 42, 1 bit per pixel (BITMAPINFOHEADER).
    const bmp = desk.read('scale-ruler.bmp');
    expect([bmp.readInt32LE(38), bmp.readInt32LE(42), bmp.readUInt16LE(28)]).toEqual([20000, 39370, 1]);
    const decoded = decode(bmp);
    expect([decoded.width, decoded.height]).toEqual([widthPx, heightPx]);
    let dark = 0;
    for (let i = 0; i < widthPx * heightPx; i += 1) if (pixels.data[i * pixels.info.channels] < 128) dark += 1;
    let zeros = 0;
    for (const value of decoded.data as Uint8Array) if (value === 0) zeros += 1;
    expect([dark, widthPx * heightPx - dark]).toContain(zeros);

    expect(desk.text('scale-ruler.svg')).toMatch(/width="90mm" height="69\.977mm"/);
    const page = (await PDFDocument.load(desk.read('scale-ruler.pdf'))).getPage(0);
    expect([(page.getWidth() * 25.4) / 72, (page.getHeight() * 25.4) / 72].map((mm) => mm.toFixed(3))).toEqual([
      '90.000',
      '69.977',
    ]);
    expect(out).toContain('1800 x 2755 px');
    expect(out).toContain('508 x 1000 dpi');
    expect(said).toMatch(/apertrue fit .*scale-ruler\.readings\.csv --out/);
    expect(said).toMatch(/class 4/);
  });

  it('the sidecar names pattern, hashes, parameters, canvas and counts', async () => {
    await coupon(`witness ${BED}`);
    const job = desk.json('witness.job.json');
    const pattern = readFileSync(new URL('../../patterns/witness.json', import.meta.url));
    expect(job.source).toEqual({ file: 'witness.json', sha256: createHash('sha256').update(pattern).digest('hex') });
    expect(job.parameters).toMatchObject({ widthMm: 90, heightMm: 70, pitchXMm: 0.05, pitchYMm: 0.0254 });
    expect(job.canvas).toMatchObject({ widthPx: 240, heightPx: 472 });
    for (const { file, sha256 } of job.outputs) {
      expect([file, createHash('sha256').update(desk.read(file)).digest('hex')]).toEqual([file, sha256]);
    }
  });

  it('the same command gives the same bytes', async () => {
    for (const out of ['a', 'b']) await coupon(`vernier ${BED} --out ${out}`);
    const names = desk.list('a');
    expect(names.length).toBeGreaterThan(6);
    for (const name of names) expect(desk.read(`a/${name}`).equals(desk.read(`b/${name}`))).toBe(true);
  });

  it('a power grid gives an image per setting on one canvas, and a list of steps', async () => {
    const { said } = await coupon(`power-speed-grid ${BED} --power-steps 30,60 --speeds 100`);
    const images = ['power-speed-grid.p30-s100.png', 'power-speed-grid.p60-s100.png'];
    for (const name of images)
      expect(await sharp(desk.read(name)).metadata()).toMatchObject({ width: 1800, height: 2755 });
    expect(desk.text('power-speed-grid.steps.txt')).toMatch(/Job 1 of 2: power-speed-grid\.p30-s100\.png/);
    expect(said).toMatch(/fire/);
  });

  it.each([
    ['', ['p100-s100.png', 'p40-s100.png']],
    ['--format bmp', ['p100-s100.bmp', 'p40-s100.bmp']],
    ['--format svg', []],
  ])('a power grid with %j writes an image per setting as %j only', async (format, expected) => {
    const { out } = await coupon(`power-speed-grid ${BED} --power-steps 40,100 --speeds 100 ${format}`);
    const images = desk.list().filter((name) => /\.(png|bmp|tif)$/.test(name));
    expect(images).toEqual(expected.map((name) => `power-speed-grid.${name}`));
    const jobs = expected.length > 0 ? images.toReversed() : [];
    expect([...out.matchAll(/Job \d of 2: (\S+) with/g)].map(([, name]) => name)).toEqual(jobs);
    if (jobs.length === 0) expect(out).toContain('Give each cell its power and speed in your program');
  });

  it('a grid of grey levels has to be PNG', async () => {
    expect(await codesOf(`power-speed-grid ${BED} --power-by grey --format bmp`)).toBe('GREY_NEEDS_PNG');
  });

  it('a grey machine gets its powers as grey levels in one image', async () => {
    await coupon(`power-speed-grid ${BED} --power-steps 20,40,100 --speeds 100 --power-by grey`);
    const { data, info } = await sharp(desk.read('power-speed-grid.png'))
      .greyscale()
      .raw()
      .toBuffer({ resolveWithObject: true });
    const features = parseFeatures(desk.text('power-speed-grid.features.json'), 'f').features;
    const levels = features.map((feature) => {
      const [x0, y0, x1, y1] = (feature as CellFeature).box;
      const column = Math.floor((x0 + x1) / 2 / 0.05);
      const row = info.height - 1 - Math.floor((y0 + y1) / 2 / 0.0254);
      return data[(row * info.width + column) * info.channels];
    });
    expect(levels).toEqual([204, 153, 0]);
  });

  it("a user's own pattern is read by its path", async () => {
    const own = { ...builtInPattern('witness'), name: 'mine', prefix: 'X', $schema: undefined };
    desk.put('mine.json', JSON.stringify(own));
    const { code } = await coupon(`mine.json ${BED} --out out`);
    expect(code).toBe(0);
    expect(desk.text('out/mine.features.json')).toContain('"XA0-1"');
  });

  it('lists the built-in patterns', async () => {
    const { out } = await coupon('--list');
    expect(out.trim().split('\n')).toHaveLength(6);
    expect(out).toMatch(/^aperture-ladder +Openings and webs/m);
  });

  it('--json says what was made', async () => {
    const { out } = await coupon(`witness ${BED} --json`);
    expect(JSON.parse(out)[0]).toMatchObject({ name: 'witness', features: 12 });
  });

  it('names everything that is missing at once', async () => {
    expect(await codesOf('scale-ruler')).toBe('OPTION_MISSING OPTION_MISSING OPTION_MISSING OPTION_MISSING');
  });

  it('a misspelt pattern is named before a bed is asked for', async () => {
    const { code, said } = await desk.run('coupon scale-rulr');
    expect(code).toBe(2);
    expect(said).toMatch(/^error: there is no pattern "scale-rulr"\. .*scale-ruler/);
  });

  it('does not write over files, and writes nothing when one is there', async () => {
    desk.put('witness.png', 'mine');
    expect(await codesOf(`witness ${BED}`)).toBe('FILE_EXISTS');
    expect(desk.list()).toEqual(['witness.png']);
    expect((await coupon(`witness ${BED} --overwrite`)).code).toBe(0);
    expect(desk.read('witness.png').length).toBeGreaterThan(50);
  });

  it.each([
    ['no-such-pattern', 'UNKNOWN_PATTERN'],
    ['missing.json', 'FILE_NOT_READ'],
    ['witness witness', 'COUPON_TWICE'],
  ])('%j is refused with %s', async (names, code) => {
    expect(await codesOf(`${names} ${BED}`)).toBe(code);
    expect(desk.list()).toEqual([]);
  });

  it('a bed that is too small names the pattern file, and nothing is written for the others either', async () => {
    expect(await codesOf('witness scale-ruler --width-mm 40 --height-mm 40 --dpi 1000 --out .')).toBe('BED_TOO_SMALL');
    expect(desk.list()).toEqual([]);
  });

  it('never replaces readings that were filled in, not even when told to overwrite', async () => {
    await coupon(`witness ${BED}`);
    expect((await coupon(`witness ${BED} --overwrite`)).code).toBe(0);
    const blank = desk.text('witness.readings.csv');
    const id = /^(W\w+)/m.exec(blank)?.[1];
    desk.put('witness.readings.csv', `feature,reading_mm\n${id},1.23\n`);
    expect(await codesOf(`witness ${BED} --overwrite`)).toBe('READINGS_FILLED_IN');
    expect(desk.text('witness.readings.csv')).toContain('1.23');
  });
});
