import { beforeAll, describe, expect, it } from 'vitest';
import { readArtwork } from '../../src/artwork/read.js';
import { scanFilm, type Vec, type VirtualFilm } from '../scan/virtual-scanner.js';
import { union } from '../truth/polygons.js';
import { darkPixels } from '../virtual-laser/image.js';
import { bench, profileOf } from './bench.js';
import { type Pad, padsSvg, SCANNER, scannedPng } from './scanned.js';

/** A stencil whose dots are known, cut by a laser whose kerf, or whose bed, is known, and scanned. */
const LASER = { scaleX: 1.004, scaleY: 0.997, shear: 0.002, kerfXMm: 0.12, kerfYMm: 0.1 };
const CANVAS = { widthMm: 24, heightMm: 18 };
const PITCH_MM = 0.0254;

const desk = bench({}, { once: true });
beforeAll(() => {
  const pads = Array.from({ length: 8 }, (_, i): Pad[] => [
    [2 + 1.1 * i, 3, 0.35 + 0.02 * i, 1.3],
    [2 + 1.1 * i, 8.2, 0.35, 1.3],
    ...(i % 2 === 0 ? ([[13 + 0.4 * i, 2 + 0.9 * i, 0.9, 0.6]] as const) : []),
    ...(i % 3 === 0 ? ([[4 + 0.8 * i, 5.6, 1.4, 1.1]] as const) : []),
  ]).flat();
  desk.put('board.svg', padsSvg(pads, 18, 12));
  const few = Array.from({ length: 12 }, (_, i): Pad => [2 + 1.05 * i + (i % 2), 2 + 0.85 * i - (i % 2), 0.8, 0.55]);
  desk.put('small.svg', padsSvg(few, 18, 12));
});

async function correct(profile: string, format = 'png', artwork = 'board'): Promise<string> {
  const out = `cut-${profile}`;
  const size = ['--canvas-mm', `${CANVAS.widthMm}x${CANVAS.heightMm}`, '--pitch-mm', `${PITCH_MM}`, '--format', format];
  await desk.run(`correct ${artwork}.svg --profile ${profile}`, ...size, '--out', out);
  return `cut-${profile}`;
}

/** The dots that are burnt, line by line, as one drawing. */
async function burnt(png: Uint8Array): Promise<VirtualFilm['openings']> {
  const { width, height, dark } = await darkPixels(png);
  const lines = Array.from({ length: height }, (_, y) => {
    const ends: number[] = [];
    const at = (x: number): number => (x >= 0 && x < width ? dark[y * width + x] : 0);
    for (let x = 0; x <= width; x += 1) if (at(x) !== at(x - 1)) ends.push(x);
    return { y: height - 1 - y, ends: ends.map((x) => x * PITCH_MM) };
  });
  const rects = lines.flatMap(({ y, ends }) =>
    ends.flatMap((from, i) => {
      const [low, high, to] = [y * PITCH_MM, (y + 1) * PITCH_MM, ends[i + 1]];
      return i % 2 === 0 ? [[[from, low], [to, low], [to, high], [from, high]] as const] : []; // biome-ignore format: one rectangle
    }),
  );
  return union(rects).map((outer) => ({ outer }));
}

/** `cut`: the file of the job that the laser was given. */
async function cutAndScan(
  job: string,
  name: string,
  laser: Partial<VirtualFilm>,
  { cut = 'board.png', dpi = 600, heightMm = 21, scanner = {} as Partial<typeof SCANNER> } = {},
): Promise<void> {
  const given = desk.read(`${job}/${cut}`);
  const openings = cut.endsWith('.png') ? await burnt(given) : (await readArtwork(given, {})).openings;
  const picture = scanFilm(
    { openings, machine: LASER, ...laser },
    {
      ...{ ...SCANNER, ...scanner, dpi, widthMm: 27, heightMm, turnDeg: -3, atMm: [1, 2] },
      ...{ specksPerCm2: 2, hairsPerCm2: 1, seed: 7 },
    },
  );
  desk.put(name, await scannedPng(picture));
}

const inspect = (picture: string, job: string, stem = 'board') =>
  desk.run(`inspect ${picture} --job ${job}/${stem}.job.json --artwork ${stem.split('.')[0]}.svg --out look --json`);

describe('a finished stencil', () => {
  it('is a coupon of its own, which tells a kerf that grew, and nothing else', async () => {
    desk.put('laser.json', profileOf(LASER));
    const job = await correct('laser.json');
    await cutAndScan(job, 'may.png', {}, { dpi: 1200 });
    await cutAndScan(job, 'june.png', { machine: { ...LASER, kerfXMm: LASER.kerfXMm + 0.02 } }, { dpi: 800 });
    for (const picture of ['may.png', 'june.png']) expect((await inspect(picture, job)).code).toBe(0);
    const [may, june] = ['may', 'june'].map((name) => `look/${name}.inspect.readings.csv`);
    const first = await desk.run(`fit ${may} --date 2031-05-02 --out may.json --json`);
    const { fit } = JSON.parse(first.out);
    for (const name of ['kerfXMm', 'kerfYMm'] as const) {
      expect(Math.abs(fit[name].value - LASER[name])).toBeLessThan(0.0015);
      // Specks and hairs that fall otherwise give 0.0031 to 0.0040.
      expect(fit[name].stdUncertainty).toBeLessThan(0.0045);
    }
    const added = ['--add-to', 'may.json', '--date', '2031-06-02', '--out', 'june.json'];
    const second = await desk.run(`fit ${june}`, ...added);
    expect(`${second.code} ${second.out}`).toMatch(/^3 Changed since the profile was made: kerf across X\.\n/);
    // What to do is said there: to correct a board with the numbers of before is not it.
    expect(second.said).not.toContain('apertrue correct');
    const control = await desk.run('control june.json');
    expect(control).toMatchObject({ code: 3, out: expect.stringContaining('2031-06-02') });
  });

  it('without a span between its pads is a day that shows the kerf alone, whatever scale the scanner has', async () => {
    desk.put('laser.json', profileOf(LASER));
    expect((await desk.run('fit look/may.inspect.readings.csv --out july.json')).code).toBe(0);
    await desk.run(
      'correct small.svg --profile laser.json --canvas-mm 24x18 --pitch-mm 0.0254 --format svg --out small',
    );
    for (const [name, kerf] of [
      ['same', 0],
      ['wide', 0.03],
    ] as const) {
      const laser = { machine: { ...LASER, kerfXMm: LASER.kerfXMm + kerf } };
      await cutAndScan('small', `${name}.png`, laser, { cut: 'small.svg', scanner: { scaleX: 1.004, scaleY: 0.997 } });
      await desk.run(`inspect ${name}.png --job small/small.job.json --artwork small.svg --out look`);
      expect(new TextDecoder().decode(desk.read(`look/${name}.inspect.readings.csv`))).not.toContain('spans');
      const day = await desk.run(`fit look/${name}.inspect.readings.csv --add-to july.json --out ${name}.json`);
      expect(day.out).toMatch(kerf ? /^Changed since the profile was made: kerf across X\.\n/ : /No change was seen/);
    }
  });

  it('is read from the drawing that was cut, too', async () => {
    desk.put('paths.json', profileOf(LASER));
    const job = await correct('paths.json', 'svg', 'small');
    await cutAndScan(job, 'paths.png', {}, { cut: 'small.svg' });
    const { code, said } = await inspect('paths.png', job, 'small');
    expect(code).toBe(0);
    expect(said).toContain('paths.inspect.readings.csv');
    expect(said).toMatch(
      /^next: look at .*paths\.inspect\.html; to follow the machine by it: apertrue fit .*paths\.inspect\.readings\.csv --add-to laser\.profile\.json --out laser\.profile\.json --overwrite$/m,
    );
    const fitted = await desk.run('fit look/paths.inspect.readings.csv --out p.json --json');
    const { fit } = JSON.parse(fitted.out);
    for (const name of ['kerfXMm', 'kerfYMm'] as const)
      expect(Math.abs(fit[name].value - LASER[name])).toBeLessThan(0.003);
  });

  it('is held against its dots or its drawing, whichever of the two was cut', async () => {
    desk.put('both.json', profileOf(LASER));
    const job = await correct('both.json', 'png,svg');
    for (const ending of ['png', 'svg']) {
      await cutAndScan(job, `by-${ending}.png`, {}, { cut: `board.${ending}` });
      expect((await inspect(`by-${ending}.png`, job)).code).toBe(0);
      const fitted = await desk.run(`fit look/by-${ending}.inspect.readings.csv --out by-${ending}.json --json`);
      const { fit } = JSON.parse(fitted.out);
      // Walls of the drawing lie up to half a dot, 12.7 um, from those of the dots.
      expect(fit.residualSdMm).toBeLessThan(0.0015);
      for (const name of ['kerfXMm', 'kerfYMm'] as const)
        expect(Math.abs(fit[name].value - LASER[name])).toBeLessThan(0.0015);
    }
  });

  it('is read to a few micrometres where pads lie aside of each other and the machine leans, too', async () => {
    const leaning = { ...LASER, shear: 0.008 };
    desk.put('leaning.json', profileOf(leaning));
    const rows = Array.from({ length: 5 }, (_, i): Pad[] => [
      [2 + 1.7 * i, 3 + 0.07 * i, 0.9, 0.62],
      [2.2 + 1.7 * i, 8.3 - 0.05 * i, 0.5, 0.55],
    ]);
    desk.put('aside.svg', padsSvg([...rows.flat(), [12, 4.4, 3, 3], [13.1, 9, 0.9, 0.62]], 18, 12));
    const size = ['--canvas-mm', '24x18', '--pitch-mm', `${PITCH_MM}`, '--format', 'png,svg'];
    await desk.run('correct aside.svg --profile leaning.json --out aside', ...size);
    for (const ending of ['png', 'svg']) {
      const cut = `aside.${ending}`;
      await cutAndScan('aside', `aside-${ending}.png`, { machine: leaning }, { cut, scanner: { noise: 0 } });
      await desk.run(`inspect aside-${ending}.png --job aside/aside.job.json --artwork aside.svg --out look`);
      const { features } = desk.json(`look/aside-${ending}.inspect.features.json`);
      const read = new Map(
        desk.read(`look/aside-${ending}.inspect.readings.csv`).toString().split('\n').map((line) => line.split(',').slice(0, 2) as [string, string]), // biome-ignore format: one thought
      );
      for (const { id, kind, nominalMm } of features) {
        const [scale, kerf] = id.endsWith('X') ? [leaning.scaleX, LASER.kerfXMm] : [leaning.scaleY, LASER.kerfYMm];
        const cutMm = nominalMm * scale + (kind === 'span' ? 0 : kerf);
        expect(Math.abs(Number(read.get(id)) - cutMm), `${id} in ${cut}`).toBeLessThan(0.004);
      }
    }
  });

  it('that is longer as a whole than any scanner shows it is no-go, and what a scanner may be off is told', async () => {
    const right = desk.json('look/may.inspect.json');
    expect(right).toMatchObject({ go: true, warnings: [] });
    // The scanner's own scales, to half a dot at the ends of so small a stencil.
    expect(Math.abs(right.whole.longerMm + 0.0015 * 14)).toBeLessThan(0.0127);
    expect(Math.abs(right.whole.higherMm - 0.0012 * 8)).toBeLessThan(0.0254);
    const longer = { machine: { ...LASER, scaleX: LASER.scaleX * 1.016 } };
    await cutAndScan('cut-laser.json', 'long.png', longer);
    const { code, out } = await inspect('long.png', 'cut-laser.json');
    const found = JSON.parse(out);
    expect(code).toBe(3);
    expect(found.go).toBe(false);
    expect(found.warnings).toMatchObject([{ code: 'INSPECT_WHOLE' }]);
    expect(found.openings.flatMap(({ faults }: { faults: string[] }) => faults)).toEqual([]);
  });

  it('cut on a bent bed is held against what was asked, not against what was commanded', async () => {
    // Second and third order, written out as polynomials: 0.4 mm at the ends of the bed.
    const bend = (q: Vec): Vec => {
      const x = (q[0] - (LASER.shear * q[1]) / LASER.scaleY) / LASER.scaleX;
      const u = (2 * x) / CANVAS.widthMm - 1;
      const [ex, ey] = [(0.4 * (5 * u ** 3 - 3 * u)) / 2, (0.3 * (3 * u ** 2 - 1)) / 2];
      return [q[0] + LASER.scaleX * ex + LASER.shear * ey, q[1] + LASER.scaleY * ey];
    };
    const terms = [
      { moves: 'x', shape: 'uuu', mm: 0.4, stdUncertainty: 0.001 },
      { moves: 'y', shape: 'uu', mm: 0.3, stdUncertainty: 0.001 },
    ];
    const covariance = [[1e-6, 0], [0, 1e-6]]; // biome-ignore format: a matrix
    const field = {
      canvasMm: CANVAS,
      areaMm: [0, 0, 24, 18],
      terms,
      covariance,
      residualSdMm: 0.001,
      dof: 50,
      marks: 60,
    };
    desk.put('bent.json', profileOf(LASER, { field }));
    desk.put('straight.json', profileOf(LASER));
    const inspected = async (job: string, picture: string, format = 'png', stem = 'board') => {
      await cutAndScan(
        job,
        picture,
        { bend },
        { cut: `${stem}.${format}`, heightMm: stem === 'small.sheet' ? 48 : 21 },
      );
      return JSON.parse((await inspect(picture, job, stem)).out);
    };
    const faultsIn = ({ openings }: { openings: { faults: string[] }[] }) => openings.flatMap(({ faults }) => faults);
    const straight = await correct('straight.json', 'png', 'small');
    expect(faultsIn(await inspected(straight, 'straight.png', 'png', 'small'))).toContain('out of place');
    const { openings, ...found } = await inspected(await correct('bent.json', 'svg'), 'bent.png', 'svg');
    expect(faultsIn({ openings })).toEqual([]);
    // What the bends do to a width is in its readings as in what was commanded.
    const readings = desk
      .read('look/bent.inspect.readings.csv')
      .toString()
      .matchAll(/^O(\d+)([XY]),([\d.]+)/gm);
    const off = [...readings].map(([, number, axis, mm]) => {
      const { asked } = openings[Number(number) - 1];
      return Math.abs(Number(mm) - (axis === 'X' ? asked.widthMm : asked.heightMm));
    });
    expect([off.length > 12, 1000 * Math.max(...off) < 12, off, found.go]).toEqual([true, true, off, true]);
    // A sheet on the same spot: its own drawing, which has no names, is laid where the bed lays it.
    const sheet = ['--board-mm', '18x12', '--margin-mm', '2.8', '--no-witness', '--no-marks', '--format', 'svg'];
    await desk.run('layout small.svg --profile bent.json', ...sheet, '--out', 'sheet');
    const laid = await inspected('sheet', 'sheet.png', 'svg', 'small.sheet');
    expect([faultsIn(laid), laid.notAskedFor, laid.warnings]).toEqual([[], [], []]);
  });
});
