import { beforeAll, describe, expect, it } from 'vitest';
import type { DimensionalFeature } from '../../src/coupon/features.js';
import type { Profile, ReadingSession } from '../../src/machine/types.js';
import { calibration, MACHINE, witnessFeatures, witnessOn } from '../fit/drift/year.js';
import { seeded } from '../virtual-laser/random.js';
import { bench, featuresOf, layer } from './bench.js';

const desk = bench({}, { now: () => new Date(0) });

let witness: DimensionalFeature[] = [];
beforeAll(async () => {
  witness = await witnessFeatures();
});

const csv = ({ readings }: ReadingSession): string =>
  `feature,reading_mm,resolution_mm\n${readings.map(({ feature, readingMm }) => `${feature},${readingMm?.toFixed(2)},0.01`).join('\n')}\n`;

/** A ruler and ladder, a witness that agrees, and one that is read after the kerf has grown: too little to be sure. */
async function untilDoubtful(): Promise<{ said: string; out: string; code: number }> {
  const first = calibration(seeded(1));
  desk.put('first.csv', csv(first));
  desk.put('first.features.json', featuresOf(first.features));
  desk.put('witness.features.json', featuresOf(witness, 'witness'));
  const days = [0, 0.0116, 0].map((growth, i) => witnessOn(witness, '', MACHINE[3] + growth, seeded(31 + i)));
  for (const [i, day] of days.entries()) desk.put(`w${i + 1}.csv`, csv(day));
  desk.put('board.gbr', layer());
  await desk.run('fit first.csv --features first.features.json --out p.json --film pet --date 2031-01-01');
  expect((await add('w1.csv', '2031-01-08')).code).toBe(0);
  const fitted = await add('w2.csv', '2031-01-15', '--report');
  expect(fitted.out).toMatch(/^Doubtful: kerf across X\. /m);
  return fitted;
}

const add = (file: string, date: string, more = '') =>
  desk.run(
    `fit ${file} --features witness.features.json --date ${date} --add-to p.json --out p.json --overwrite ${more}`,
  );

const line = (words: string): string => words.replace(/\s+/g, ' ');

describe('a day that is doubtful', () => {
  it('is that in the words of every command, until a later day settles it', async () => {
    const fitted = await untilDoubtful();
    expect(fitted.code).toBe(3);
    expect(fitted.said).toMatch(
      /^next: before you cut stencils, read the piece of 2031-01-15 again, or cut and read another, and add that: apertrue fit w2\.csv --add-to p\.json --out p\.json --overwrite$/m,
    );
    expect(fitted.said).not.toContain('apertrue correct');
    const profile: Profile = desk.json('p.json');
    expect(profile.sessions.map(({ doubtful }) => doubtful && Object.keys(doubtful))).toEqual([undefined, undefined, ['kerfXMm']]); // biome-ignore format: one list
    const page = line(desk.text('p.report.html'));
    expect(page).not.toMatch(/readings agree with each other|Correct a stencil|Cut it as the coupons/);
    expect(page).toMatch(/class="warning">Doubtful: kerf across X \(off by [\d.]+ µm\) by the readings of 2031-01-15/);
    expect(page).toMatch(/<ol[^>]*><li>Before you cut stencils, read the piece of 2031-01-15 again/);

    const control = await desk.run('control p.json');
    expect(control.code).toBe(3);
    expect(line(control.out)).toMatch(
      /^Doubtful, and not settled since: kerf across X of 2031-01-15\. .* before you cut stencils, read the piece of 2031-01-15 again/,
    );
    expect(control.out).toContain('The limits rest on the first 2 of 3.');
    for (const command of ['correct', 'predict', 'layout']) {
      const made = await desk.run(`${command} board.gbr -p p.json --pitch-mm 0.05 -o ${command}`);
      expect([command, made.code]).toEqual([command, 3]);
      expect(line(made.said)).toContain('warning: doubtful: kerf across X');
      expect(made.said).not.toMatch(/^next: (cut|print .*, then cut)/m);
    }
    for (const [command, stem] of [['correct', 'board'], ['layout', 'board.sheet']]) {
      await desk.run(`${command} board.gbr -p p.json --pitch-mm 0.05 -o ${command} --report --overwrite`);
      const said = line(desk.text(`${command}/${stem}.report.html`));
      expect([command, said]).toEqual([command, expect.stringMatching(/<h1>[^<]*<\/h1> <p class="warning">Doubtful: kerf across X/)]);
      expect(said).toContain('<ol><li>Do not cut it before what is said above of the machine is settled.</li>');
    } // biome-ignore format: two commands

    const later = await add('w3.csv', '2031-01-22', '--report');
    expect(later.code).toBe(0);
    expect(later.said).toContain('next: every stencil from now on');
    expect((desk.json('p.json') as Profile).sessions.filter(({ doubtful }) => doubtful)).toEqual([]);
    expect((await desk.run('control p.json')).out).toMatch(/^In control: no change was seen over 4 dates\./);
    expect(desk.text('p.report.html')).toContain('Correct a stencil');
    expect((await desk.run('predict board.gbr -p p.json --pitch-mm 0.05 -o after')).said).not.toContain('doubtful');
  });

  it('is settled where it is left out, or all is taken together, and is never the newer profile that holds', async () => {
    await untilDoubtful();
    desk.put('doubtful.json', desk.text('p.json'));
    desk.put('before.json', JSON.stringify({ ...desk.json('p.json'), sessions: [], readings: [] }));
    const compared = await desk.run('control before.json p.json');
    expect(compared.code).toBe(3);
    expect(compared.out).not.toContain('still holds');
    desk.put('own/apertrue.json', JSON.stringify({ format: 'apertrue-project', version: 1, profile: '../p.json' }));
    process.chdir('own');
    const doctor = await desk.run('doctor');
    process.chdir('..');
    expect(doctor.code).toBe(3);
    expect(line(doctor.out)).toMatch(/BAD profile doubtful: kerf across X .* nothing has settled that since/);
    for (const option of ['--drop 2031-01-15', '--keep-all']) {
      desk.put('p.json', desk.text('doubtful.json'));
      const { said } = await add('w3.csv', '2031-01-22', option);
      expect(said).toContain('next: every stencil from now on');
      expect((desk.json('p.json') as Profile).sessions.some(({ doubtful }) => doubtful)).toBe(false);
    }
  });
});

it('pieces of later days are held against the coupons that they are given with, as with --add-to', async () => {
  const first = calibration(seeded(1));
  desk.put('first.readings.csv', csv(first));
  desk.put('first.features.json', featuresOf(first.features));
  const small = { ...JSON.parse(featuresOf(witness, 'witness')), canvas: { widthMm: 12, heightMm: 12, pitchXMm: 0.0254, pitchYMm: 0.0254 } }; // biome-ignore format: one record
  desk.put('a.features.json', JSON.stringify(small));
  for (const [growth, code] of [
    [0, 0],
    [0.02, 3],
  ]) {
    const day = csv(witnessOn(witness, '', MACHINE[3] + growth, seeded(31)));
    desk.put('a.readings.csv', day.replace('\n', '\n# date: 2031-03-01\n'));
    const all = await desk.run('fit a.readings.csv first.readings.csv --out both.json --film pet --overwrite');
    expect([growth, all.code]).toEqual([growth, code]);
    const { sessions, fit }: Profile = desk.json('both.json');
    expect(sessions.map(({ coupon, refused }) => [coupon, refused !== undefined])).toEqual([['bench', false], ['witness', code === 3]]); // biome-ignore format: one list
    if (code === 3) expect(all.out).toMatch(/^Changed since the profile was made: kerf across X\./);
    expect(Math.abs(fit.kerfXMm.value - MACHINE[3])).toBeLessThan(0.004);
  }
  const twice = await desk.run(
    'fit a.readings.csv first.readings.csv first.readings.csv --features first.features.json',
  );
  expect(twice.code).toBe(2);
});
