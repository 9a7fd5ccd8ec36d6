import { describe, expect, it } from 'vitest';
import { sinceChanged } from '../../src/cli/project-file.js';
import { profileText } from '../../src/machine/profile-file.js';
import type { Measured, Profile, ReadingSession } from '../../src/machine/types.js';
import { gaussian, seeded } from '../virtual-laser/random.js';
import { bench, featuresOf, layer } from './bench.js';

const desk = bench({}, { now: () => new Date(0) });

const put = (files: Readonly<Record<string, string>>): void => {
  for (const [name, text] of Object.entries(files)) desk.put(name, text);
};

/** The first problem for which a command ends with 2. */
async function refused(line: string): Promise<Record<string, unknown>> {
  const { code, out } = await desk.run(`${line} --json`);
  expect(code).toBe(2);
  return JSON.parse(out).error;
}

const POWERS = [20, 40, 60, 80, 100];
const SPEEDS = [5, 8, 12, 20, 30, 50];

function gridFiles(outcome: (energy: number) => string, powers = POWERS, speeds = SPEEDS): Record<string, string> {
  const cells = powers.flatMap((power) => speeds.map((speed) => ({ id: `P${power}V${speed}`, power, speed })));
  return {
    'grid.features.json': featuresOf(
      cells.map(({ id, power, speed }, i) => ({
        ...{ id, kind: 'cell', powerPercent: power, speedMmS: speed },
        ...{ box: [i, 0, i + 0.5, 1], say: 'look through it' },
      })),
      'grid',
    ),
    'grid.readings.csv': `feature,outcome\n${cells.map(({ id, power, speed }) => `${id},${outcome(power / speed)}`).join('\n')}\n`,
  };
}

const GOOD = gridFiles((energy) =>
  energy < 1.8 ? 'uncut' : energy < 2.6 ? 'partial' : energy < 7 ? 'through' : 'marked',
);

function profile(name: string, kerfMm: number, extra: Partial<Profile> = {}): Profile {
  const measured = (value: number, stdUncertainty: number): Measured => ({ value, stdUncertainty });
  return {
    format: 'apertrue-profile',
    version: 1,
    name,
    fit: {
      scaleX: measured(1, 2e-5),
      scaleY: measured(1, 2e-5),
      shear: measured(0, 4e-5),
      kerfXMm: measured(kerfMm, 0.001),
      kerfYMm: measured(0.8 * kerfMm, 0.001),
      model: 'full',
      covariance: [0, 1, 2, 3, 4].map(() => [0, 0, 0, 0, 0]),
      residualSdMm: 0.005,
      dof: 60,
      warnings: [],
    },
    sessions: [],
    ...extra,
  };
}

describe('apertrue window', () => {
  it('prints the setting, its margins and the cautions, and draws the map', async () => {
    put(GOOD);
    const { code, out, said } = await desk.run('window grid.readings.csv --out look');
    expect(code).toBe(0);
    expect(out).toMatch(/Cut with \d+ % at [\d.]+ mm\/s/);
    expect(out).toMatch(/power, %.*\n.*speed, mm\/s/);
    expect(said).toMatch(/class 4/i);
    expect(said).toMatch(/PVC/);
    expect(said).toMatch(/manual/);
    expect(desk.text('look/grid.window.svg')).toContain('<svg');
    expect(desk.list('look')).toContain('grid.window.png');
  });

  it('calls the end of the grid no edge, and names no margin wider than it shows', async () => {
    // One speed, and no cell marked: what the margin of the speed would be is nobody's business.
    put(gridFiles((energy) => (energy < 0.25 ? 'uncut' : 'through'), [20, 30, 45, 65, 100], [100]));
    // Told all the same, the speed ends where the power does, the other way round.
    expect((await desk.run('window grid.readings.csv')).out).toMatch(/^speed, mm\/s +100 +[\d.]+\* +[\d.]+ /m);
    put({ 'apertrue.json': '{"format":"apertrue-project","version":1,"speedsMmS":[100]}' });
    const { out } = await desk.run('window grid.readings.csv');
    expect(out).toMatch(/^power, % +[\d.]+ +[\d.]+ +100\* +(\d+) % +(\d+) %\n\* where the grid ends, not an edge/m);
    const [, down, up] = /100\* +(\d+) % +(\d+) %/.exec(out)!.map(Number);
    const [, margin, least] = /narrowest margin is (\d+) %.* at least ([\d.]+) %/
      .exec(out.replaceAll('\n', ' '))!
      .map(Number);
    expect(margin).toBeLessThanOrEqual(Math.min(down, up));
    expect(least).toBeLessThan(margin - 1);
    // Both edges seen: no end of the grid is told.
    put(GOOD);
    put({ 'apertrue.json': '{"format":"apertrue-project","version":1}' });
    expect((await desk.run('window grid.readings.csv')).out).not.toContain('where the grid ends, not an edge');
  });

  it('writes the window into a profile only when that may be replaced, and says when the kerf was read elsewhere', async () => {
    const old = profileText(profile('desk', 0.1, { settings: { powerPercent: 100, speedMmS: 50 } }));
    put({ ...GOOD, 'desk.profile.json': old });
    const line = 'window grid.readings.csv --profile desk.profile.json';
    expect((await desk.run(line)).said).toContain('Give --overwrite to allow that');
    const { code, said } = await desk.run(`${line} --overwrite`);
    expect(code).toBe(0);
    const written = desk.json('desk.profile.json') as Profile;
    const { powerPercent, speedMmS } = written.window!;
    expect(powerPercent / speedMmS).toBeGreaterThan(2.6);
    expect(powerPercent / speedMmS).toBeLessThan(7);
    expect(said).toContain('The kerf changes with the setting');
  });

  it('writes no setting into a profile that it calls too uncertain to cut with', async () => {
    const rows = ['MUTU', 'MTUU', 'MMUU', 'MMMU'].join('');
    const outcomes = { M: 'marked', U: 'uncut', T: 'through' } as const;
    let cell = 0;
    const grid = gridFiles(() => outcomes[rows[cell++] as keyof typeof outcomes], [20, 40, 60, 80], [5, 10, 20, 40]);
    const old = profileText(profile('desk', 0.1));
    put({ ...grid, 'desk.profile.json': old });
    const { code, out, said } = await desk.run('window grid.readings.csv --profile desk.profile.json --overwrite');
    expect(code).toBe(3);
    expect(desk.text('desk.profile.json')).toBe(old);
    expect(said).toContain('desk.profile.json stays as it is');
    expect(out).toContain('too uncertain to cut with');
  });

  it('ends with findings when no cell is clean, and says what to cut next', async () => {
    put(gridFiles(() => 'uncut'));
    const { code, out } = await desk.run('window grid.readings.csv');
    expect(code).toBe(3);
    expect(out).toContain('No setting to recommend');
    expect(out).toMatch(/Next grid: powers .* %; speeds .* mm\/s/);
  });

  it('refuses vinyl', async () => {
    put(GOOD);
    expect(await refused('window grid.readings.csv --film vinyl')).toMatchObject({ code: 'FILM_NOT_FOR_LASERS' });
    put({
      'ruler.features.json': featuresOf([{ id: 'S0', kind: 'span', from: [0, 0], to: [9, 0], nominalMm: 9, say: 'x' }], 'ruler'), // biome-ignore format: one row
      'ruler.readings.csv': 'feature,reading_mm\nS0,\n',
    });
    const lengths = await desk.run('window ruler.readings.csv');
    expect(lengths).toMatchObject({
      code: 2,
      said: expect.stringMatching(/^error: ruler: this is no power\/speed grid/),
    });
    expect(await refused('window ruler.readings.csv')).toMatchObject({ code: 'NO_GRID' });
  });

  it('hands the whole result to programs', async () => {
    put(GOOD);
    const { out } = await desk.run('window grid.readings.csv --json');
    const result = JSON.parse(out);
    expect(result).toMatchObject({ format: 'apertrue-window', version: 1 });
    expect(result.cells).toHaveLength(30);
    expect(result.setting.marginPowerPercent).toBeGreaterThan(20);
  });
});

/** A ladder read on one day by a machine with this kerf. */
function session(date: string, kerfMm: number, random: () => number): ReadingSession {
  const sizes = [0.2, 0.3, 0.5, 0.8, 1.2, 2];
  const features = sizes.flatMap((size, i) =>
    (['x', 'y'] as const).flatMap((axis) => [
      {
        id: `O${axis}${i}`,
        kind: 'opening' as const,
        from: [10, 10 + 5 * i] as const,
        to: (axis === 'x' ? [10 + size, 10 + 5 * i] : [10, 10 + 5 * i + size]) as readonly [number, number],
        nominalMm: size,
        say: 'edge to edge',
      },
      {
        id: `S${axis}${i}`,
        kind: 'span' as const,
        from: [5, 5] as const,
        to: (axis === 'x' ? [25 + 10 * i, 5] : [5, 25 + 10 * i]) as readonly [number, number],
        nominalMm: 20 + 10 * i,
        say: 'edge to edge',
      },
    ]),
  );
  return {
    coupon: 'witness',
    date,
    features,
    readings: features.map(({ id, kind, nominalMm }) => ({
      feature: id,
      readingMm: nominalMm + (kind === 'opening' ? kerfMm : 0) + 0.004 * gaussian(random),
      resolutionMm: 0.001,
    })),
  };
}

describe('apertrue control', () => {
  const random = seeded(9);
  const day = (i: number): string => `2031-0${1 + Math.floor(i / 20)}-${String(1 + (i % 20)).padStart(2, '0')}`;
  const steady = Array.from({ length: 12 }, (_, i) => session(day(i), 0.1, random));
  const grown = [0.125, 0.13].map((kerf, i) => session(day(12 + i), kerf, random));

  it('says once what holds for all numbers', async () => {
    put({ 'a.json': profileText(profile('a', 0.1, { sessions: steady.slice(0, 1) })) });
    const { out } = await desk.run('control a.json');
    expect(out).toBe(
      'No verdict: one date shows no change.\n\nScale along X; scale along Y; kerf across X, mm; kerf across Y, mm, 1 date:\n  Limits need at least two dates before the newest. A witness coupon with every stencil tells all but the shear, which takes the slanted slots of a scale-ruler.\n',
    );
    put({ 'b.json': profileText(profile('b', 0.1, { sessions: steady.slice(0, 1) })) });
    expect((await desk.run('control a.json b.json')).out).not.toContain('1 dates');
  });

  it('finds a machine in control that only scatters', async () => {
    put({ 'a.json': profileText(profile('a', 0.1, { sessions: steady })) });
    const { code, out } = await desk.run('control a.json');
    expect(code).toBe(0);
    expect(out).toMatch(/^In control: no change was seen over 12 dates\.\n/);
    expect(out).toContain('Kerf across X, mm, 12 dates:\n  No value lies outside its limits');
  });

  it('says of which number the newest dates tell nothing', async () => {
    const [ruler, ...pieces] = steady;
    const slanted = [40, 60, 80, 100].map((mm) => ({
      id: `D${mm}`,
      kind: 'span' as const,
      from: [5, 5] as const,
      to: [5 + 0.8 * mm, 5 + 0.6 * mm] as const,
      nominalMm: mm,
      say: 'edge to edge',
    }));
    const read = slanted.map(({ id, nominalMm }) => ({ feature: id, readingMm: nominalMm, resolutionMm: 0.001 }));
    const first = {
      ...ruler,
      features: [...ruler.features, ...slanted],
      readings: [...ruler.readings, ...read],
    };
    put({ 'a.json': profileText(profile('a', 0.1, { sessions: [first, ...pieces] })) });
    const { code, out } = await desk.run('control a.json');
    expect(code).toBe(0);
    expect(out).toMatch(
      /^In control: no change was seen over 12 dates\. Later dates say nothing of shear \(last told 2031-01-01\)\.\n/,
    );
    expect(out).toContain('which takes the slanted slots of a scale-ruler');
  });

  it('says by its exit code that one date gives no verdict', async () => {
    put({ 'a.json': profileText(profile('a', 0.1, { sessions: steady.slice(0, 1) })) });
    const { code, out } = await desk.run('control a.json');
    expect(code).toBe(3);
    expect(out).toMatch(/^No verdict: one date shows no change\./);
  });

  it('never says in control while a day is refused', async () => {
    const [last, ...before] = [...steady].reverse();
    const sessions = [...before.reverse(), { ...last, refused: 'Changed since the profile was made: kerf across X.' }];
    put({ 'a.json': profileText(profile('a', 0.1, { sessions })) });
    const { code, out } = await desk.run('control a.json');
    expect(code).toBe(3);
    expect(out).toMatch(
      /^Not in control\. Refused when they were added, and not settled since: 2031-01-12 \(the limits rest on the days before\)\.\n/,
    );
    expect(out).toContain('Kerf across X, mm, 12 dates:');
    // Nor does anything that goes by the profile.
    put({ 'board.gbr': layer() });
    for (const command of ['correct', 'predict', 'layout']) {
      const made = await desk.run(`${command} board.gbr -p a.json --pitch-mm 0.05 -o ${command}`);
      expect(made.code).toBe(3);
      expect(made.said.replace(/\s+/g, ' ')).toContain(
        'readings of 2031-01-12 were refused because the machine had changed',
      );
    }
    expect(sinceChanged(profile('a', 0.1, { sessions }))).toMatchObject([{ code: 'MACHINE_CHANGED' }]);
    const doubtful = [
      ...before.slice(1),
      { ...before[0], doubtful: { kerfYMm: { by: -0.012, stdUncertainty: 0.003 } } },
    ];
    expect(sinceChanged(profile('a', 0.1, { sessions: doubtful }))).toMatchObject([
      { code: 'MACHINE_DOUBTFUL', message: expect.stringContaining('kerf across Y (off by 12.0 µm)') },
    ]);
    put({ 'b.json': profileText(profile('b', 0.1, { sessions: before })) });
    expect((await desk.run('correct board.gbr -p b.json --pitch-mm 0.05 -o settled')).said).not.toContain('refused');
  });

  it('names the dates on which the kerf left its limits, and draws the charts', async () => {
    put({ 'a.json': profileText(profile('a', 0.1, { sessions: [...steady, ...grown] })) });
    const { code, out } = await desk.run('control a.json --baseline 12 --out look');
    expect(code).toBe(3);
    expect(out).toMatch(
      /Kerf across X.*\n {2}Changed by \+0\.02\d+ mm from 2031-01-13 on.*\n {2}Outside the limits: .*2031-01-13, 2031-01-14/,
    );
    expect(out).toMatch(/Mean 0\.10\d+ mm, limits [\d.]+ mm to [\d.]+ mm; latest 0\.1[23]\d+ mm/);
    expect(desk.text('look/control-kerf-x.svg')).toContain('<svg');
  });

  it('holds the days of several profiles against each other', async () => {
    put({
      'a.json': profileText(profile('laser', 0.1, { sessions: steady.slice(0, 6) })),
      'b.json': profileText(profile('laser', 0.12, { sessions: grown })),
      'c.json': profileText(profile('laser', 0.1, { sessions: [] })),
    });
    const { code, out, said } = await desk.run('control a.json b.json c.json');
    expect(code).toBe(3);
    expect(out).toMatch(/^Not in control\. Changed: kerf across X, kerf across Y\./);
    expect(said).toContain('note: laser was passed over: it holds no readings.');
  });

  it('tells two profiles of one day, or without a date, from each other', async () => {
    const bare = ({ date: _, ...one }: ReadingSession): ReadingSession => one;
    const [before, after] = [steady[0], { ...grown[1], date: steady[0].date }];
    for (const of of [(one: ReadingSession) => one, bare]) {
      put({
        'a.json': profileText(profile('laser', 0.1, { sessions: [of(before)] })),
        'b.json': profileText(profile('laser', 0.13, { sessions: [of(after)] })),
        'c.json': profileText(profile('laser', 0.1, { sessions: [of(steady[1])] })),
      });
      const { code, out } = await desk.run('control a.json b.json');
      expect(code).toBe(3);
      expect(out).toMatch(/^Not in control\. Changed: kerf across X, kerf across Y\./);
      expect(out).toMatch(/Changed by \+0\.0[23]\d+ mm from (laser|2031-01-01) \(profile 2\) on\./);
      const same = await desk.run('control a.json c.json');
      expect([same.code, same.out.split('\n')[0]]).toEqual([0, 'In control: no change was seen over 2 dates.']);
      expect(same.out).toMatch(/A change of less than 0\.0\d+ mm would not show\./);
    }
  });
});

describe('apertrue spot', () => {
  const law = (energy: number): number => 0.06 * Math.sqrt(2 * Math.log(energy / 2));
  const ladders = Object.fromEntries(
    [10, 8, 6, 5, 4].map((speedMmS) => [
      `v${speedMmS}.json`,
      profileText(profile(`v${speedMmS}`, law(40 / speedMmS), { settings: { powerPercent: 40, speedMmS } })),
    ]),
  );

  it('gives radius and threshold per axis', async () => {
    put(ladders);
    const { code, out } = await desk.run(`spot ${Object.keys(ladders).join(' ')} --full-power-w 5 --json`);
    expect(code).toBe(0);
    const { axes } = JSON.parse(out);
    expect(axes[0].result.spotRadiusMm).toBeCloseTo(0.06, 6);
    expect(axes[1].result.spotRadiusMm).toBeCloseTo(0.048, 6);
    expect(axes[0].result.threshold).toBeCloseTo(2, 6);
    expect(axes[0].result.thresholdJMm).toBeCloseTo(0.1, 6);
  });

  it('refuses profiles that do not say their setting, by file', async () => {
    put({ ...ladders, 'odd.json': profileText(profile('odd', 0.1)) });
    expect(await refused(`spot ${Object.keys(ladders).join(' ')} odd.json`)).toMatchObject({
      code: 'SETTING_MISSING',
      place: { file: 'odd.json' },
    });
  });

  it.each([
    ['films', { film: { kind: 'polyimide' } }, 'pet, polyimide'],
    ['thicknesses of film', { film: { kind: 'pet', thicknessMm: 0.4 } }, '0.4 mm'],
    ['lasers', { machine: 'another' }, 'another'],
  ])('refuses profiles of different %s', async (what, own, named) => {
    const first = { film: { kind: 'pet', thicknessMm: 0.1 }, machine: 'this one' };
    const setting = (speedMmS: number) => ({ settings: { powerPercent: 40, speedMmS } });
    const mixed = {
      'a.json': profileText(profile('a', 0.1, { ...setting(5), ...first })),
      'b.json': profileText(profile('b', 0.08, { ...setting(10), ...own })),
    };
    put({ ...ladders, ...mixed });
    expect(await refused(`spot ${Object.keys(ladders).join(' ')} a.json b.json`)).toMatchObject({
      code: 'SPOT_MIXED',
      message: expect.stringMatching(`of different ${what}: .*${named}`),
    });
  });
});
