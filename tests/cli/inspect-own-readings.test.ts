import { describe, expect, it } from 'vitest';
import { profileOf } from './bench.js';
import { finishedStencils, LASER, PITCH_MM } from './finished-stencils.js';
import { type Pad, padsSvg } from './scanned.js';

const { desk, correct, cutAndScan, inspect } = finishedStencils();

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

  it('without a span between its pads, read from the drawing that was cut, is a day that shows the kerf alone, whatever scale the scanner has', async () => {
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
      const { code, said } = await desk.run(`inspect ${name}.png --job small/small.job.json --artwork small.svg --out look`); // biome-ignore format: one line
      expect(code).toBe(0);
      expect(said).toMatch(
        new RegExp(
          `^next: look at .*${name}\\.inspect\\.html; to follow the machine by it: apertrue fit .*${name}\\.inspect\\.readings\\.csv --add-to laser\\.profile\\.json --out laser\\.profile\\.json --overwrite$`,
          'm',
        ),
      );
      const alone = JSON.parse(
        (await desk.run(`fit look/${name}.inspect.readings.csv --out p.json --overwrite --json`)).out,
      );
      expect(Math.abs(alone.fit.kerfXMm.value - LASER.kerfXMm - kerf)).toBeLessThan(0.003);
      expect(Math.abs(alone.fit.kerfYMm.value - LASER.kerfYMm)).toBeLessThan(0.003);
      expect(new TextDecoder().decode(desk.read(`look/${name}.inspect.readings.csv`))).not.toContain('spans');
      const day = await desk.run(`fit look/${name}.inspect.readings.csv --add-to july.json --out ${name}.json`);
      expect(day.out).toMatch(kerf ? /^Changed since the profile was made: kerf across X\.\n/ : /No change was seen/);
    }
  });

  it('is held against its dots or its drawing, whichever of the two was cut: to a few micrometres, where pads lie aside of each other and the machine leans, too', async () => {
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
      await cutAndScan('aside', `aside-${ending}.png`, { machine: leaning }, { cut, dpi: 1200, scanner: { noise: 0 } });
      const job = '--job aside/aside.job.json --artwork aside.svg --out look';
      expect((await desk.run(`inspect aside-${ending}.png ${job}`)).code).toBe(0);
      const fitted = await desk.run(`fit look/aside-${ending}.inspect.readings.csv --out by-${ending}.json --json`);
      const { fit } = JSON.parse(fitted.out);
      // Walls of the drawing lie up to half a dot, 12.7 um, from those of the dots.
      expect(fit.residualSdMm).toBeLessThan(0.0015);
      for (const name of ['kerfXMm', 'kerfYMm'] as const)
        expect(Math.abs(fit[name].value - LASER[name])).toBeLessThan(0.0015);
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
});
