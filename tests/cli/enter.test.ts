import { beforeEach, describe, expect, it } from 'vitest';
import type { Feature, FeaturesFile } from '../../src/coupon/features.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import { predictLength } from '../../src/fit/calibration/design.js';
import { couponOrder } from '../../src/fit/plan/plan-words.js';
import { blankReadings } from '../../src/readings/blank-readings.js';
import { bench, featuresOf, filledIn, PROJECT, profileOf } from './bench.js';

/** An invented machine: scales, shear, kerfs. */
const MACHINE = [1.003, 0.998, 0.001, 0.14, 0.12];

const desk = bench();

const coupons = new Map<string, ReturnType<typeof generateCoupon>>();

/** What `coupon` leaves to be read, without its pictures. */
async function put(name: string): Promise<void> {
  if (!coupons.has(name)) coupons.set(name, generateCoupon(name, { widthMm: 100, heightMm: 80, pitchXMm: 0.0254 }));
  const coupon = await coupons.get(name)!;
  desk.put(`results/${name}.features.json`, JSON.stringify(coupon.features));
  desk.put(`results/${name}.readings.csv`, blankReadings(coupon));
}

describe('apertrue enter', () => {
  const csv = 'results/scale-ruler.readings.csv';
  const rows = () =>
    desk
      .text(csv)
      .split('\n')
      .filter((line) => /^R/.test(line) && !/^[^,]*,,,/.test(line))
      .map((line) => line.split(',').slice(0, 2).join(' '));
  const features = (): Feature[] =>
    (desk.json('results/scale-ruler.features.json') as FeaturesFile).features as Feature[];
  const read = (feature: Feature): string =>
    'nominalMm' in feature
      ? predictLength(
          { kind: feature.kind, dx: feature.to[0] - feature.from[0], dy: feature.to[1] - feature.from[1] },
          MACHINE,
        ).toFixed(2)
      : '';

  const fillIn = (some: readonly Feature[]): void => {
    const rows = some.map((feature) => [feature.id, read(feature)] as const);
    desk.put(csv, filledIn(desk.text(csv), rows, { gauge: 'caliper', resolution_mm: '0.01' }));
  };

  beforeEach(async () => {
    desk.put('apertrue.json', JSON.stringify(PROJECT));
    await put('scale-ruler');
  });

  it('takes numbers in any unit, questions what can’t be right, goes back, and saves each at once', async () => {
    const { code, said, out } = await desk.type('enter scale-ruler', [
      '9.077',
      '90,77',
      '0.3952in',
      '45370um',
      'b',
      '45.36',
      'n dust',
      'q',
    ]);
    expect(code).toBe(0);
    expect(said).toMatch(
      /9\.077 mm, where about 90\.50 mm is expected: is the decimal mark one place off\? \(that would be 90\.77 mm\)/,
    );
    expect(rows()).toEqual(
      ['RA0-6 90', 'RA0-1 0.3952in', 'RA0-3 45.36'].map((row) => expect.stringContaining(row.split(' ')[0])),
    );
    expect(desk.text(csv)).toContain('RA0-6,"90,77",,0.01,caliper,');
    expect(desk.text(csv)).toContain('RA0-3,45.36,,0.01,caliper,');
    expect(desk.text(csv)).toMatch(/^# date .*: \d{4}-\d\d-\d\d$/m);
    expect(desk.text(csv)).toMatch(/^RA3-6,,,,,"From .*\. Note: dust"$/m);
    expect(out).toMatch(/^3 of 49 readings/);
    expect(said).toMatch(/^next: to go on where this ended: apertrue enter results.scale-ruler\.readings\.csv$/m);
    const skipped = await desk.type(
      'enter scale-ruler',
      Array.from({ length: 49 }, () => 's'),
    );
    expect(skipped.said).not.toContain('where this ended');
  });

  it('takes bare numbers in the unit in which the step of the gauge was given', async () => {
    const options = ['--machine', 'm', '--bed-mm', '100x80', '--dpi', '1000', '--format', 'png', '--film', 'pet'];
    const gauges = ['--thickness-mm', '0.1', '--gauge', 'caliper:0.0005in', '--gauge', 'loupe:0.05', '--overwrite'];
    await desk.type(['start', ...options, ...gauges, '--out', 'results']);
    expect(desk.json('apertrue.json').gauges).toEqual([
      { name: 'caliper', resolutionMm: 0.0127, unit: 'in' },
      { name: 'loupe', resolutionMm: 0.05 },
    ]);
    const { said } = await desk.type('enter scale-ruler', ['3.5734', 'b', '90.76mm', 'q']);
    expect(said).toMatch(/about 90\.50 mm\. In inches, as its gauge shows it: about 3\.5630\.\n/);
    expect(said).not.toContain('type the right value');
    expect(desk.text(csv)).toContain('RA0-6,90.76mm,,0.0127,caliper,');
    await desk.type('enter scale-ruler', ['b', '3.5734', 'q']);
    expect(desk.text(csv)).toContain('RA0-6,3.5734in,,0.0127,caliper,');
    await put('aperture-ladder');
    await desk.type('enter aperture-ladder', ['0.30', 'q']);
    expect(desk.text('results/aperture-ladder.readings.csv')).toMatch(/^L\w+,0\.30,,0\.05,loupe,/m);
  });

  it('offers what the coupon beside was cut with, so that it is typed once', async () => {
    await put('aperture-ladder');
    await desk.type('enter scale-ruler', ['45', '90.5', 'q'], true);
    const { said } = await desk.type('enter aperture-ladder', ['', '80', 'q'], true);
    expect(said).toMatch(/Cut with which power, % \[45\]: [\s\S]*At which speed, mm\/s \[90\.5\]: /);
    expect(desk.text('results/aperture-ladder.readings.csv')).toMatch(/power .*: 45 %\n# speed .*: 80 mm\/s\n/);
    // Nobody is asked through a pipe: what is known is taken and told, and no reading goes for an answer.
    await put('witness');
    const piped = await desk.type('enter witness', ['10.97', 'q']);
    expect(piped.said).not.toContain('Cut with which power');
    expect(piped.said).toMatch(/^power [\d.]+ %, speed [\d.]+ mm\/s: as the coupons beside say; --power-percent/m);
    expect(desk.text('results/witness.readings.csv')).toMatch(/power .*: 45 %\n# speed .*: (80|90\.5) mm\/s\n/);
    expect(piped.out).toMatch(/^1 of /);
    const again = await desk.type('enter witness', ['q']);
    expect(again.said).not.toContain('as the coupons beside say');
  });

  it('is left at each of its questions, with nothing written that was not typed', async () => {
    const blank = desk.text(csv);
    for (const typed of [['q'], ['45', 'QUIT']]) {
      const { code, said } = await desk.type('enter scale-ruler', [...typed, '9'], true);
      expect([code, said]).toEqual([0, expect.not.stringMatching(/1 of 49|Expected/)]);
      expect(desk.text(csv)).toBe(blank);
    }
  });

  it('offers the setting that the grid beside shows, so that what `window` said need not be typed', async () => {
    const cells = [20, 30, 45, 65, 100].flatMap((power) => [25, 50, 100, 200].map((speed) => ({ power, speed })));
    const putGrid = (folder: string, read: (energy: number) => string): void => {
      const features = cells.map(({ power, speed }, i) => ({ id: `G${i}`, kind: 'cell', powerPercent: power, speedMmS: speed, box: [i, 0, i + 0.5, 1], say: 'look' })); // biome-ignore format: one row
      desk.put(`${folder}power-speed-grid.features.json`, featuresOf(features, 'power-speed-grid'));
      const rows = cells.map(({ power, speed }, i) => `G${i},${read(power / speed)}`);
      desk.put(`${folder}power-speed-grid.readings.csv`, `feature,outcome\n${rows.join('\n')}\n`);
    };
    const asked = async (): Promise<string[]> => {
      const { said } = await desk.type('enter scale-ruler', ['q'], true);
      return [/power, % (\S+)/.exec(said)![1], /speed, mm\/s (\S+)/.exec(said)?.[1] ?? ''];
    };
    const window = async (path: string) =>
      /Cut with (\S+) % at (\S+) mm/
        .exec((await desk.run(`window ${path}power-speed-grid.readings.csv`)).out)
        ?.slice(1);
    putGrid('results/', (energy) => (energy < 0.5 ? 'uncut' : energy < 2.1 ? 'through' : 'marked'));
    const { said } = await desk.type('enter scale-ruler', ['', '', 'q'], true);
    const [power, speed] = (await window('results/'))!;
    expect(said).toContain(`Cut with which power, % [${power}]: `);
    const form = `: ${power} %\n# speed (such as 100 mm/s): ${speed} mm/s\n`;
    expect(desk.text(csv)).toContain(form);
    await put('scale-ruler');
    const piped = await desk.type('enter scale-ruler', []);
    expect(piped.said).toContain(`power ${power} %, speed ${speed} mm/s: as the coupons beside say`);
    expect(desk.text(csv)).toContain(form);
    await put('scale-ruler');
    // A second grid, in its folder, is the newer one.
    putGrid('results/grid-2/', (energy) => (energy < 0.25 ? 'uncut' : energy < 1.1 ? 'through' : 'marked'));
    expect((await asked())[0]).toBe(`[${(await window('results/grid-2/'))![0]}]:`);
    await put('scale-ruler');
    // One that shows no setting offers none.
    putGrid('results/grid-2/', () => 'uncut');
    putGrid('results/', () => 'marked');
    expect((await asked())[0]).toBe('(Enter');
  });

  it('keeps no length that is none, and takes every word where it asks again', async () => {
    const { said } = await desk.type('enter scale-ruler', ['-5', '0', '9.077', 'b', '90.77', 'q']);
    expect(said.match(/A length is above 0/g)).toHaveLength(2);
    expect(said).not.toContain('Not understood');
    expect(desk.text(csv)).toContain('RA0-6,90.77,');
    expect(desk.text(csv)).not.toMatch(/,-5,|,0,/);
  });

  it('goes on where the last sitting ended', async () => {
    await desk.type('enter scale-ruler', ['90.77', 's', 'q']);
    const { said } = await desk.type('enter scale-ruler', []);
    expect(said).toMatch(/1 of 49 read/);
    expect(said).toMatch(/2 of 49 {2}RA0-1: From the left edge/);
  });

  it.each([true, false])(
    'stands after the last one, from where b goes back to a slip (terminal: %s)',
    async (terminal) => {
      await put('power-speed-grid');
      const name = 'enter power-speed-grid';
      const all = Array.from({ length: 15 }, () => 't');
      const first = await desk.type(name, [...all, '0.3', 'b', 'm', 'q', 'u'], terminal);
      const grid = (): string => desk.text('results/power-speed-grid.readings.csv');
      const [, last] = /^15 of 15 {2}(\w+):/m.exec(first.said)!;
      expect([first.code, first.out, first.said]).toEqual([0, expect.stringContaining('15 of 15'), expect.stringContaining('nothing more to read')]); // biome-ignore format: one line
      expect(grid()).toContain(`${last},,marked,`);
      // A sheet that is complete is opened there, too.
      const again = await desk.type(name, ['b', 'p'], terminal);
      expect(again.said.match(/^15 of 15 {2}/gm)).toHaveLength(1);
      expect(grid()).toContain(`${last},,partial,`);
      expect((await desk.type(name, ['b', 'q'], terminal)).said).not.toContain('where this ended');
      expect((await desk.type(name, [], terminal)).code).toBe(0);
    },
  );

  it('asks in the order of today’s plan where a sheet is older than the gauge', async () => {
    const coupon = await coupons.get('scale-ruler')!;
    const asked = async (): Promise<string[]> => {
      const { said } = await desk.type('enter scale-ruler', ['s', 's', 's', 's', 'q']);
      return [...said.matchAll(/^\d of 49 {2}(\S+):/gm)].map(([, id]) => id);
    };
    const plans = [couponOrder(coupon), couponOrder(coupon, { takes: 'windows', stepMm: 0.01 })];
    const [edges, windows] = plans.map((plan) => plan?.features.slice(0, 5).map(({ id }) => id));
    expect(edges).not.toEqual(windows);
    desk.put(csv, blankReadings(coupon, plans[0]));
    expect(await asked()).toEqual(windows);
    desk.put('apertrue.json', JSON.stringify({ ...PROJECT, gauges: undefined }));
    expect(await asked()).toEqual(edges);
    // What the form says of the gauge counts as much.
    desk.put(csv, blankReadings(coupon, plans[0]).replace(/^# gauge .*:/m, '$& caliper 0.01 mm'));
    expect(await asked()).toEqual(windows);
  });

  it('says how sure the numbers are by now, and when it is enough; what was typed is fitted', async () => {
    const all = features();
    const first = await desk.type('enter scale-ruler', all.slice(0, 5).map(read));
    fillIn(all.slice(0, 23));
    const { said } = await desk.type('enter scale-ruler', all.slice(23, 29).map(read));
    expect(first.said).toMatch(
      /so far: 100 mm along X ± 0\.\d{3} mm, Y not told yet, lean of a 100 mm vertical not told yet;/,
    );
    // A caliper's limit of error stays, however much is read with it.
    expect(said.match(/That is most of what this gauge can tell: the \d+ that are left/g)).toHaveLength(1);
    expect(said).toMatch(/some more tell most of what this gauge can; for scale ± 0\.0001 and shear ± 0\.0002/);
    const fitted = await desk.type(`fit ${csv}`);
    expect([fitted.code, desk.list()]).toEqual([0, expect.arrayContaining(['desk.profile.json'])]);
    expect(desk.json('desk.profile.json').fit.scaleX.value).toBeCloseTo(1.003, 3);
    expect(desk.json('desk.profile.json').film).toEqual({ kind: 'pet', thicknessMm: 0.1 });
  });

  it('names the neighbour that a reading is right for, once the machine is known', async () => {
    const all = features();
    const lines = all.slice(0, 8).map(read);
    const { said } = await desk.type('enter scale-ruler', [...lines, read(all[10]), 'y', 'q']);
    expect(said).toContain(`that is right for ${all[10].id}; is it the right place?`);
    expect(desk.text(csv)).toContain(`${all[8].id},${read(all[10])},`);
  });

  it('on a terminal asks for power and speed, which go into the form', async () => {
    await desk.type('enter scale-ruler', ['45%', '3000mm/min', 'q'], true);
    expect(desk.text(csv)).toMatch(/^# power .*: 45 %\n# speed .*: 50 mm\/s$/m);
    expect((await desk.type('enter scale-ruler', ['q'], true)).said).not.toContain('which power');
  });

  it('takes letters for the cells of a grid and nothing else', async () => {
    await put('power-speed-grid');
    const { said, out } = await desk.type('enter power-speed-grid', ['u', 'p', '0.3', 't', 'c', 'marked', 'q']);
    expect(
      desk.text('results/power-speed-grid.readings.csv').match(/^GP\w+,,(uncut|partial|through|marked),/gm),
    ).toHaveLength(4);
    expect(said).toMatch(/Type u, p, t or m[\s\S]*closed is nothing that a cell can be/);
    expect(out).toContain('4 of 15');
  });

  it('says what can be typed, and what may mean two things', async () => {
    const { said } = await desk.type('enter scale-ruler', ['?', 'about five', '1,234', '0', 'q']);
    expect(said.match(/u p t m: a cell is uncut/g)).toHaveLength(2);
    expect(said).toMatch(/Not understood\.[\s\S]*1,234 could mean two things[\s\S]*A length is above 0/);
  });

  it('goes back from behind the last one, and ends there', async () => {
    await put('aperture-ladder');
    const file = 'results/aperture-ladder.readings.csv';
    const rows = desk.text(file).replace(/^(L\w+),,/gm, '$1,0.5,');
    desk.put(file, rows);
    const { said, out } = await desk.type('enter aperture-ladder', ['x', 'b', 's', 'q']);
    expect(said.match(/That was the last one/g)).toHaveLength(3);
    expect(said).toContain('There is nothing more to read here.');
    expect(out).toMatch(/^(\d+) of \1 readings/);
  });

  it('asks which coupon was meant where none is called so', async () => {
    expect((await desk.type('enter scale-rular')).said).toContain('Did you mean "scale-ruler"?');
    expect((await desk.type('enter powerspeed')).said).toContain('Built-in coupons are power-speed-grid, ');
  });

  it('gives readings that `fit` takes by the name of the coupon', async () => {
    await put('aperture-ladder');
    const all = features();
    fillIn(all.slice(0, -3));
    await desk.type('enter scale-ruler', all.slice(-3).map(read));
    const named = await desk.type('fit scale-ruler aperture-ladder --no-report');
    const byPath = await desk.type(`fit results/scale-ruler.readings.csv results/aperture-ladder.readings.csv --no-report --overwrite`); // biome-ignore format: one line
    expect(named.out.slice(0, 200)).toBe(byPath.out.slice(0, 200));
    // Why a limit holds that nobody stated is said once, of tips and jaws.
    expect(named.out.match(/Gauge of caliper(?: jaws)?, limit/g)).toHaveLength(2);
    expect(named.out.match(/none was stated/g)).toHaveLength(1);
    expect((await desk.type('fit scale-rule')).said).toContain('scale-rule');
  });

  it('goes on with a witness by adding it to the profile, and names no file twice', async () => {
    desk.put('desk.profile.json', profileOf());
    const witness = await generateCoupon('witness', { widthMm: 12, heightMm: 12, pitchXMm: 0.0254 });
    desk.put('results/board.witness.features.json', JSON.stringify(witness.features));
    desk.put('results/board.witness.readings.csv', blankReadings(witness));
    const { said } = await desk.type('enter board.witness', ['10.97', 'q']);
    expect(said).toContain(
      'next: apertrue fit results/board.witness.readings.csv --add-to desk.profile.json --out desk.profile.json --overwrite',
    );
    process.chdir('results');
    const within = await desk.type('enter scale-ruler', ['q']);
    process.chdir('..');
    expect(within.said).not.toMatch(/results.*(scale-ruler\S*) .*\1/);
  });

  it('says where it looked for a coupon that is not there', async () => {
    const { code, said } = await desk.type('enter aperture-ladder');
    expect([code, said]).toEqual([
      2,
      expect.stringMatching(/results.aperture-ladder\.readings\.csv.*apertrue coupon aperture-ladder/),
    ]);
  });
});
