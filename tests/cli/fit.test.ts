import { existsSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { EXIT, type ExitCode } from '../../src/cli/exit-codes.js';
import { parseProfile } from '../../src/machine/profile-file.js';
import type { Reading } from '../../src/readings/types.js';
import { benchFeatures, type Machine, readAll } from '../fit/calibration/virtual-bench.js';
import { seeded } from '../virtual-laser/random.js';
import { bench, featuresOf } from './bench.js';

const features = benchFeatures();
const machine: Machine = [1.0021, 0.9978, 0.003, 0.141, 0.118];
const featuresText = featuresOf(features);
const csv = (readings: readonly Reading[]): string =>
  [
    'feature,reading_mm,outcome,resolution_mm,note',
    ...readings.map((r) => `${r.feature},${r.readingMm?.toFixed(2) ?? ''},${r.outcome ?? ''},,`),
  ].join('\n');

const desk = bench({}, { now: () => new Date(0) });

/** Puts files on the desk; what `fit` prints from then on. */
function laid(files: Readonly<Record<string, string>>) {
  for (const [name, text] of Object.entries(files)) desk.put(name, text);
  const printed = { out: '', said: '' };
  const fitWith = async (line: string, ...words: readonly string[]): Promise<number> => {
    const { code, out, said } = await desk.run(`fit ${line}`, ...words);
    printed.out += out;
    printed.said += said;
    return code;
  };
  return { printed, fitWith };
}

const good = csv(readAll(features, machine, seeded(1)));
const slipped = good.replace(/^(S0,)140\.\d+/m, '$114.03');
/** A wrong edge: no machine's doing, but not beyond what can be. */
const wrongEdge = good.replace(/^(S0,)140\.\d+/m, '$1141.30');

describe('the form in the readings files', () => {
  const FORM = '# film: PET\n# thickness: 0,1\n# power: 45 %\n# speed: 6000 mm/min\n# passes: 2\n# date: 2031-04-09\n';
  const withForm = (form: string) => good.replace('\n', `\n${form}`);
  const profileFrom = async (form: string, ...args: string[]) => {
    const { printed, fitWith } = laid({
      'bench.readings.csv': withForm(form),
      'bench.features.json': featuresText,
    });
    const code = await fitWith('bench.readings.csv --out desk.profile.json', ...args);
    return {
      code,
      said: printed.said,
      profile: existsSync('desk.profile.json') ? await parseProfile(desk.text('desk.profile.json'), 'x') : undefined,
    };
  };

  it('goes into the profile', async () => {
    const { profile } = await profileFrom(FORM);
    expect(profile).toMatchObject({
      film: { kind: 'PET', thicknessMm: 0.1 },
      settings: { powerPercent: 45, speedMmS: 100, passes: 2 },
      sessions: [{ date: '2031-04-09' }],
    });
  });

  it('gives way to the options, which read numbers in the same way', async () => {
    const { profile } = await profileFrom(
      FORM,
      '--thickness-mm',
      '0,125',
      '--speed-mm-s',
      '3000mm/min',
      '--power-percent',
      '50%',
    );
    expect(profile).toMatchObject({
      film: { kind: 'PET', thicknessMm: 0.125 },
      settings: { powerPercent: 50, speedMmS: 50 },
    });
  });

  it('that names a film never to be lasered is refused', async () => {
    expect(await profileFrom('# film: PVC\n')).toMatchObject({
      code: EXIT.badInput,
      profile: undefined,
      said: expect.stringContaining('must never be lasered'),
    });
  });

  it('that names another film than apertrue.json is what counts, and that is told', async () => {
    const film = { kind: 'polyimide', thicknessMm: 0.1 };
    const project = JSON.stringify({ format: 'apertrue-project', version: 1, film });
    desk.put('apertrue.json', project);
    const { profile, said } = await profileFrom(FORM);
    expect(profile?.film?.kind).toBe('PET');
    expect(said).toContain('note: the readings say film: PET, and apertrue.json polyimide. The readings count');
    expect(said).not.toContain('say thickness');
    desk.put('apertrue.json', project.replace('polyimide', 'pet'));
    expect((await profileFrom(FORM, '--overwrite')).said).not.toContain('the readings say');
  });

  it('must say the same in all files of one fit', async () => {
    const { printed, fitWith } = laid({
      'a.readings.csv': withForm('# power: 45\n'),
      'a.features.json': featuresText,
      'b.readings.csv': withForm('# power: 50\n'),
      'b.features.json': featuresText,
    });
    expect(await fitWith('a.readings.csv b.readings.csv')).toBe(EXIT.badInput);
    expect(printed.said).toMatch(/b\.readings\.csv, "powerPercent": this file says 50, and a\.readings\.csv says 45/);
  });
});

describe('apertrue fit', () => {
  it('refuses the designed values, which the form prints, as readings', async () => {
    const printed = features.map(({ id, nominalMm }) => `${id},${nominalMm.toFixed(2)}`);
    const { printed: told, fitWith } = laid({
      'a.readings.csv': ['feature,reading_mm', ...printed].join('\n'),
      'a.features.json': featuresText,
    });
    expect(await fitWith('a.readings.csv')).toBe(EXIT.badInput);
    expect(told.said).toMatch(/all \d+ readings are the designed values, to the last digit/);
    expect((await desk.run('fit a.readings.csv --json')).out).toContain('DESIGNED_VALUES');
    // Of a few it may be chance.
    desk.put('a.readings.csv', ['feature,reading_mm', ...printed.slice(0, 7)].join('\n'));
    expect((await desk.run('fit a.readings.csv --json')).out).not.toContain('DESIGNED_VALUES');
  });

  it('takes spans that all read as designed: a good machine in a coarse hand, of which only openings would have a kerf', async () => {
    const spans = features.filter(({ kind }) => kind === 'span');
    const { fitWith } = laid({
      'a.readings.csv': [
        'feature,reading_mm',
        ...spans.map(({ id, nominalMm }) => `${id},${nominalMm.toFixed(2)}`),
      ].join('\n'),
      'a.features.json': featuresText,
    });
    expect(spans.length).toBeGreaterThan(8);
    expect(await fitWith('a.readings.csv')).not.toBe(EXIT.badInput);
  });

  it('finds the features beside the readings, prints what was found and writes the profile', async () => {
    const { printed, fitWith } = laid({ 'b/bench.readings.csv': good, 'b/bench.features.json': featuresText });
    const code = await fitWith(
      'b/bench.readings.csv --film pet --thickness-mm 0.1 --power-percent 40 --speed-mm-s 100 --passes 2 --machine desk --date 2031-04-09 --out desk.profile.json',
    );
    expect(code).toBe(EXIT.done);
    for (const line of printed.out.split('\n\n')[0].split('\n'))
      expect([line, line.length <= 80]).toEqual([line, true]);
    expect(printed.out).toMatch(/scale X +1\.002\d+ +± 0\.0000\d+ +100 mm drawn come out 100\.2\d\d ± 0\.00\d mm/);
    expect(printed.out).toMatch(/designed 0\.300 mm wide .* comes out 0\.300 ± 0\.00\d+ mm across X/);
    expect(printed.said).toContain('wrote desk.profile.json');
    expect(printed.said).toMatch(/caution: pet: its fumes/);
    const profile = await parseProfile(desk.text('desk.profile.json'), 'x');
    expect(profile).toMatchObject({
      name: 'desk',
      machine: 'desk',
      film: { kind: 'pet', thicknessMm: 0.1 },
      settings: { powerPercent: 40, speedMmS: 100, passes: 2 },
      pitchMm: { x: 0.0254, y: 0.0254 },
      sessions: [{ coupon: 'bench', date: '2031-04-09' }],
    });
    expect(profile.fit.kerfXMm.value).toBeCloseTo(0.141, 2);
  });

  it('finds the features by what they know when the readings have another name', async () => {
    const { printed, fitWith } = laid({
      'b/tuesday.csv': good,
      'b/bench.features.json': featuresText,
      'b/other.features.json': '{}',
    });
    expect(await fitWith('b/tuesday.csv')).toBe(EXIT.done);
    expect(printed.said).toContain('Nothing was written; --out FILE writes the profile.');
  });

  it('says which features file is missing', async () => {
    const { printed, fitWith } = laid({ 'b/bench.readings.csv': good });
    expect(await fitWith('b/bench.readings.csv')).toBe(EXIT.badInput);
    expect(printed.said).toMatch(/bench\.features\.json is not beside it.*--features/);
  });

  it('fits several files together, by glob too', async () => {
    const { printed, fitWith } = laid({
      'b/a.readings.csv': csv(readAll(features, machine, seeded(1)).slice(0, 40)),
      'b/c.readings.csv': csv(readAll(features, machine, seeded(2)).slice(40)),
      'b/a.features.json': featuresText,
      'b/c.features.json': featuresText,
    });
    expect(await fitWith('b/*.readings.csv --json')).toBe(EXIT.done);
    const json = JSON.parse(printed.out);
    expect(json.residuals).toHaveLength(features.length);
    expect(json.profile.sessions).toHaveLength(2);
  });

  it('asks for nothing that was seen to be gone', async () => {
    const wide: Machine = [1.0021, 0.9978, 0.003, 0.33, 0.31];
    const widths = readAll(features, wide, seeded(4), () => ({ noiseMm: 0.02, resolutionMm: 0.1 }));
    const seen = widths.map((one) => ((one.readingMm ?? 0) > 0.05 ? one : { feature: one.feature, outcome: 'gone' as const })); // biome-ignore format: one thought
    const gone = seen.flatMap((one) => ('outcome' in one ? [one.feature] : []));
    expect(gone.length).toBeGreaterThan(1);
    const { printed, fitWith } = laid({ 'b.readings.csv': csv(seen), 'b.features.json': featuresText });
    expect(await fitWith('b.readings.csv --json')).toBe(EXIT.done);
    const next = JSON.parse(printed.out).next.join(' ');
    expect(next).toContain('About all that can be told');
    for (const id of gone) expect(next).not.toMatch(new RegExp(`\\b${id}\\b`));
  });

  it('writes no profile that a wrong reading decides, and names it with the remedy', async () => {
    const { printed, fitWith } = laid({ 'b.readings.csv': slipped, 'b.features.json': featuresText });
    expect(await fitWith('b.readings.csv --out p.json')).toBe(EXIT.badInput);
    expect(existsSync('p.json')).toBe(false);
    expect(printed.said).toMatch(
      /b\.readings\.csv, line 2: S0 reads 14\.03 mm where about 140\.\d+ mm were expected: the decimal point slipped/,
    );
    expect(printed.said).toMatch(/--drop S0, or --robust/);
  });

  const remedies: [option: string[], exit: ExitCode][] = [
    [['--drop', 'S0'], EXIT.done],
    [['--robust'], EXIT.findings],
  ];
  it.each(remedies)('%s settles it', async (option, exit) => {
    const { fitWith } = laid({ 'b.readings.csv': slipped, 'b.features.json': featuresText });
    expect(await fitWith('b.readings.csv --out p.json', ...option)).toBe(exit);
    expect((await parseProfile(desk.text('p.json'), 'p')).fit.scaleX.value).toBeCloseTo(machine[0], 4);
  });

  it('--robust keeps out what it passed over when more is added', async () => {
    const later = csv(readAll(features, machine, seeded(5)));
    const { printed, fitWith } = laid({
      'b.readings.csv': slipped,
      'l.csv': later,
      'b.features.json': featuresText,
    });
    await fitWith('b.readings.csv --out p.json --robust --date 2031-04-09');
    expect(await fitWith('l.csv --add-to p.json --date 2031-05-09 --out q.json')).toBe(EXIT.done);
    expect(printed.said).toContain('1 reading of the profile stays out, as told earlier');
    const { sessions, fit } = await parseProfile(desk.text('q.json'), 'q');
    expect(sessions[0].readings.filter(({ dropped }) => dropped).map(({ feature }) => feature)).toEqual(['S0']);
    expect(fit.scaleX.value).toBeCloseTo(machine[0], 4);
  });

  it('names of an axis only what was not measured', async () => {
    const some = features.filter(({ from, to }) => from[1] === to[1]);
    const { printed, fitWith } = laid({
      'b.readings.csv': csv(readAll(some, machine, seeded(8))),
      'b.features.json': featuresText,
    });
    await fitWith('b.readings.csv');
    expect(printed.out).toContain('an unknown width across Y (scale Y and kerf Y not measured)');
  });

  it('--keep-all counts it all the same, with its name in the profile', async () => {
    const { fitWith } = laid({ 'b.readings.csv': wrongEdge, 'b.features.json': featuresText });
    expect(await fitWith('b.readings.csv --out p.json --keep-all')).toBe(EXIT.findings);
    const profile = await parseProfile(desk.text('p.json'), 'p');
    expect(profile.fit.warnings.join(' ')).toMatch(/S0 reads 141\.3/);
  });

  it('says when nobody named the power and speed that the kerf belongs to', async () => {
    const note = /note: no power( and no speed)? is named.*--power-percent and --speed-mm-s/;
    const told = async (options = ''): Promise<string | undefined> => {
      const { printed, fitWith } = laid({ 'b.readings.csv': good, 'b.features.json': featuresText });
      await fitWith(`b.readings.csv ${options}`);
      return note.exec(printed.said)?.[1] ?? note.exec(printed.said)?.[0];
    };
    expect(await told('--out p.json')).toBe(' and no speed');
    expect(await told('--out q.json --speed-mm-s 100')).toContain('no power is named');
    expect(await told('--out r.json --speed-mm-s 100 --power-percent 40')).toBeUndefined();
    expect(await told()).toBeUndefined();
  });

  it('that takes out a zero of the spans is done; one of the widths may be the film, which is to be looked at', async () => {
    const read = readAll(features, machine, seeded(1));
    const isSpan = (id: string) => id.startsWith('S');
    const off = (spans: boolean) =>
      csv(read.map((r) => (isSpan(r.feature) === spans ? { ...r, readingMm: (r.readingMm ?? 0) + 0.06 } : r)));
    const fine = readAll(features, machine, seeded(1), () => ({ noiseMm: 0.003, resolutionMm: 0.001 }));
    const little = fine.map((r) => `${r.feature},${(r.readingMm + (isSpan(r.feature) ? 0 : 0.003)).toFixed(3)}`);
    const texts = { 's.csv': off(true), 'w.csv': off(false), 'little.csv': `feature,reading_mm\n${little.join('\n')}` };
    const { printed, fitWith } = laid({ ...texts, 'b.features.json': featuresText });
    expect(await fitWith('s.csv')).toBe(EXIT.done);
    expect(printed.said).toMatch(/gauge of bench spans reads (59|60|61)\.\d ± .* too much everywhere/);
    expect(await fitWith('w.csv')).toBe(EXIT.findings);
    expect(printed.said).toMatch(/widths can’t tell one from the other|widths can't tell one from the other/);
    // Were it the film, no stencil would show it: week by week it had ended with 3 beside "No change was seen".
    expect(await fitWith('little.csv')).toBe(EXIT.done);
    expect(printed.out).toMatch(/Gauge of bench widths: reads \+[23]\.\d ± [01]\.\d µm at zero \(95 %\), taken out/);
  });

  it('adds readings to a profile and says whether anything changed', async () => {
    const later = csv(readAll(features, machine, seeded(5)));
    const moved = csv(readAll(features, [1.0021, 0.9978, 0.003, 0.171, 0.118], seeded(6)));
    const ruler = featuresOf(features, 'scale-ruler');
    const files = { 'b.readings.csv': good, 'l.csv': later, 'm.csv': moved, 'b.features.json': ruler };
    const { printed, fitWith } = laid(files);
    await fitWith('b.readings.csv --out p.json --film pet --date 2031-04-09');
    expect(await fitWith('l.csv --add-to p.json --date 2031-05-09 --out q.json')).toBe(EXIT.done);
    expect(printed.out).toContain('No change was seen: the new readings agree with the profile.');
    const added = await parseProfile(desk.text('q.json'), 'q');
    expect(added.sessions.map(({ date }) => date)).toEqual(['2031-04-09', '2031-05-09']);
    expect(added.film?.kind).toBe('pet');
    expect(await fitWith('m.csv --add-to p.json --out r.json --report')).toBe(EXIT.findings);
    expect(printed.said).toContain('not pooled with the older ones');
    expect(printed.said).toMatch(
      /^next: where the readings hold, .*: apertrue coupon scale-ruler aperture-ladder --width-mm 150 --height-mm 100 --pitch-mm 0\.0254 --out anew-1$/m,
    );
    // The page shows the machine of before, and says what to do: nothing is cut with these numbers.
    const page = desk.text('r.report.html');
    const before = (await parseProfile(desk.text('p.json'), 'p')).fit.kerfXMm.value.toFixed(4);
    expect(page).toContain('The machine before it changed');
    expect(page).toContain(`kerf X</th><td>${before}`);
    expect(page).toContain('Cut and read scale-ruler and aperture-ladder again');
    expect(page).not.toMatch(/comes out 0\.300|Correct a stencil|Cut it as the coupons/);
    expect(await fitWith('m.csv --add-to p.json --keep-all')).toBe(EXIT.findings);
    expect(printed.out).toMatch(/Changed since the profile was made: .*kerf across X/);
    expect(await fitWith('b.readings.csv --add-to p.json')).toBe(EXIT.badInput);
    expect(printed.said).toContain('in the profile already');
  });

  it('adds nothing of a file in which no row is filled in', async () => {
    const blank = good.replace(/^(\w+),[\d.]+,/gm, '$1,,');
    const files = {
      'b.readings.csv': good,
      'blank.csv': blank,
      'b.features.json': featuresText,
      'blank.features.json': featuresText,
    };
    const { printed, fitWith } = laid(files);
    await fitWith('b.readings.csv --out p.json --date 2031-04-09');
    expect(await fitWith('blank.csv --add-to p.json --date 2031-05-09 --out q.json')).toBe(2);
    expect(printed.said).toContain('no row is filled in');
    expect(existsSync('q.json')).toBe(false);
  });

  it('takes a few equal readings of another day, and refuses those of the same day even among more', async () => {
    const less = good.split('\n').slice(0, 19).join('\n');
    const { printed, fitWith } = laid({
      'b.readings.csv': less,
      'm.csv': good,
      'b.features.json': featuresText,
    });
    await fitWith('b.readings.csv --out p.json --date 2031-04-09');
    expect(await fitWith('b.readings.csv --add-to p.json --date 2031-04-10 --out q.json')).toBe(EXIT.done);
    expect((await parseProfile(desk.text('q.json'), 'q')).sessions).toHaveLength(2);
    expect(await fitWith('m.csv --add-to q.json --date 2031-04-09')).toBe(EXIT.badInput);
    expect(printed.said).toMatch(/18 of these \d+ readings of bench are in the profile already of 2031-04-09/);
    expect(await fitWith('b.readings.csv --add-to q.json')).toBe(EXIT.badInput);
    expect(printed.said).toMatch(/another day, say which with --date/);
  });

  it('names a wrong reading among the added ones instead of taking it for a change', async () => {
    const few = csv(readAll(features, machine, seeded(8)).slice(24, 31)).replace(
      /^(\w+),([\d.]+)/m,
      (_, id, mm) => `${id},${Number(mm) * 10}`,
    );
    const { printed, fitWith } = laid({ 'b.readings.csv': good, 'few.csv': few, 'b.features.json': featuresText });
    await fitWith('b.readings.csv --out p.json --date 2031-04-09');
    await fitWith('few.csv --add-to p.json --date 2031-04-10 --out q.json');
    expect(printed.said).toMatch(/few\.csv, line 2: .*decimal point slipped/);
    expect(printed.said).not.toContain('has changed');
  });

  it('does not pool a few readings that disagree with the profile', async () => {
    const few = csv(readAll(features, [1.0021, 0.9978, 0.003, 0.181, 0.118], seeded(8)).filter(({ feature }) => /^O/.test(feature)).slice(0, 4)); // biome-ignore format: one line
    const { printed, fitWith } = laid({
      'b.readings.csv': good,
      'few.csv': few,
      'b.features.json': featuresText,
    });
    await fitWith('b.readings.csv --out p.json --date 2031-04-09');
    expect(await fitWith('few.csv --add-to p.json --date 2031-04-16 --out q.json')).toBe(EXIT.findings);
    expect(printed.out).toMatch(/Changed since the profile was made: kerf across X\./);
    // To correct after the first profile; with numbers that hold no more nobody is sent to cut a stencil, nor a coupon for a bed
    // that a pattern of one's own does not tell.
    expect(printed.said.match(/^next: .*apertrue \w+/gm)?.map((line) => line.split(' ').at(-1))).toEqual(['correct']);
    const [before, after] = await Promise.all(['p.json', 'q.json'].map((name) => parseProfile(desk.text(name), name)));
    expect(after.fit).toEqual(before.fit);
    expect(after.sessions.map(({ refused }) => refused)).toEqual([undefined, 'Changed since the profile was made: kerf across X.']);
  }); // biome-ignore format: lists

  it('keeps a refused day in mind until it is left out, or taken in', async () => {
    const grown: Machine = [1.0021, 0.9978, 0.003, 0.181, 0.118];
    const { printed, fitWith } = laid({
      'b.readings.csv': good,
      'grown.csv': csv(readAll(features, grown, seeded(8))),
      'again.csv': csv(readAll(features, machine, seeded(9))),
      'b.features.json': featuresText,
    });
    const profile = (name: string) => parseProfile(desk.text(name), name);
    const add = (file: string, date: string, ...rest: string[]) => fitWith(`${file} --date ${date} --add-to ${rest[0]} --out ${rest[1]}`, ...rest.slice(2)); // biome-ignore format: one call
    await fitWith('b.readings.csv --out p.json --date 2031-04-09 --drop S1');
    expect(await add('grown.csv', '2031-04-16', 'p.json', 'q.json')).toBe(EXIT.findings);
    expect(await add('again.csv', '2031-04-23', 'q.json', 'r.json')).toBe(EXIT.findings);
    expect(printed.out).toMatch(/Refused before, and not settled since: 2031-04-16\./);
    expect((await profile('r.json')).sessions.filter(({ refused }) => refused)).toHaveLength(2);
    // That day was read with another lens: left out by its date, and the new one is judged by itself.
    expect(await add('again.csv', '2031-04-23', 'q.json', 's.json', '--drop', '2031-04-16')).toBe(EXIT.done);
    const settled = await profile('s.json');
    expect(settled.sessions.map(({ refused }) => refused)).toEqual([undefined, undefined, undefined]);
    expect(settled.fit.kerfXMm.value).toBeCloseTo(0.141, 2);
    expect(settled.sessions[1].readings.every(({ dropped }) => dropped)).toBe(true);
    expect(settled.sessions[0].readings.filter(({ dropped }) => dropped).map(({ feature }) => feature)).toEqual(['S1']);
    expect(printed.said).toMatch(/\d+ readings of the profile stay out, as told earlier/);
    // Or it is the machine as it is now, and the user takes it in: the same readings again, with --keep-all.
    expect(await add('grown.csv', '2031-04-16', 'q.json', 't.json', '--keep-all')).toBe(EXIT.findings);
    expect((await profile('t.json')).sessions.map(({ refused }) => refused)).toEqual([undefined, undefined]);
    expect(await add('again.csv', '2031-04-23', 'q.json', 'u.json', '--drop', '2031-04-17')).toBe(EXIT.badInput);
    expect(printed.said).toContain('no readings are of 2031-04-17');
  });

  const inches = good.replace(/^(\w+),([\d.]+)/gm, (_, id, mm) => `${id},${(Number(mm) / 25.4).toFixed(4)}`);

  it('refuses bare numbers that are evidently in inches, and takes them with their unit', async () => {
    const { printed, fitWith } = laid({
      'b.readings.csv': inches,
      'b.features.json': featuresText,
      'u.csv': inches.replace(/^(\w+,[\d.]+)/gm, '$1in'),
    });
    expect(await fitWith('b.readings.csv --out p.json')).toBe(EXIT.badInput);
    expect(printed.said).toMatch(
      /b\.readings\.csv.*evidently in inches.*S0, designed 140\.\d+ mm, reads 5\.5\d+.*5\.5\d+in/s,
    );
    expect(existsSync('p.json')).toBe(false);
    expect(await fitWith('u.csv --out p.json')).toBe(EXIT.done);
    expect((await parseProfile(desk.text('p.json'), 'p')).fit.scaleX.value).toBeCloseTo(machine[0], 4);
  });

  it('names a few rows in inches as suspects instead', async () => {
    const some = good.split('\n').map((row, i) => (i % 20 === 5 ? inches.split('\n')[i] : row));
    const { printed, fitWith } = laid({ 'b.readings.csv': some.join('\n'), 'b.features.json': featuresText });
    await fitWith('b.readings.csv');
    expect(printed.said).toMatch(/it was read in inches/);
    expect(printed.said).not.toMatch(/evidently/);
  });

  /** A report of fewer readings is drawn in less time. */
  const everyThird = (text: string): string => text.split('\n').filter((_, i) => i === 0 || i % 3 === 1).join('\n'); // biome-ignore format: one thought

  it('--report tells of the readings that stand out and draws what is left of all, although no profile is written', async () => {
    const { printed, fitWith } = laid({
      'b.readings.csv': everyThird(wrongEdge),
      'b.features.json': featuresText,
    });
    // The answer is undecided, and that is when one wants to look.
    expect(await fitWith('b.readings.csv --report --out p.profile.json')).toBe(EXIT.badInput);
    const page = desk.text('p.report.html');
    expect(page).toContain('No profile was written');
    expect(page).toMatch(/<p class="warning">[^<]*stand/);
    expect(page.match(/<figure class="paper"><svg role="img" aria-label="[^"]+"/g)).toHaveLength(3);
    expect(page).toMatch(/Every reading, and what the fit leaves of it/);
    expect(desk.text('p.report.pdf')).toMatch(/^%PDF/);
    expect(printed.said).toContain('wrote p.report.html\n');
    expect(printed.said).toContain('No profile was written: the readings that stand out decide the answer.');
    expect(existsSync('p.profile.json')).toBe(false);
  });

  it('--report refuses a report in the way before anything is written, and is refused without a profile', async () => {
    const { printed, fitWith } = laid({
      'b.readings.csv': everyThird(good),
      'b.features.json': featuresText,
      'p.report.pdf': 'mine',
    });
    expect(await fitWith('b.readings.csv --report')).toBe(EXIT.badInput);
    expect(printed.said).toMatch(/--report.*no effect.*Give --out too/);
    expect(await fitWith('b.readings.csv --report --out p.json')).toBe(EXIT.badInput);
    expect(printed.said).toMatch(/p\.report\.pdf: the file exists already/);
    expect(desk.list()).toHaveLength(3);
    // Coupons of different sizes are drawn on maps of their own.
    desk.put('m.readings.csv', everyThird(csv(readAll(features, machine, seeded(3)))));
    desk.put(
      'm.features.json',
      featuresText.replace('"widthMm":150', '"widthMm":151').replace('"bench"', '"margin piece"'),
    );
    expect(await fitWith('b.readings.csv m.readings.csv --report --out p.json --overwrite')).toBe(EXIT.done);
    expect(desk.text('p.report.pdf')).not.toBe('mine');
    const page = desk.text('p.report.html');
    expect(page).toContain('The readings agree with each other');
    // What to do stands under that heading, what nobody can tell with the readings.
    const [, , toDo, rest] = page.split(/<h2>/).map((part, i, all) => (i === 3 ? all.slice(3).join('') : part));
    expect([toDo, rest]).toEqual([expect.not.stringContaining('Not checked'), expect.stringContaining('Not checked')]);
    expect(page).toContain('apertrue correct board.gbr --profile p.json --out stencils<');
    desk.put('apertrue.json', JSON.stringify({ format: 'apertrue-project', version: 1, profile: 'own.profile.json', report: true })); // biome-ignore format: one line
    expect(await fitWith('b.readings.csv')).toBe(EXIT.done);
    expect(desk.text('own.report.html')).toContain('apertrue correct board.gbr<');
    const maps = page.match(/aria-label="[^"]*by place on the bed: [^"]*"/g) ?? [];
    expect(maps.map((map) => map.replace(/.*bed: /, ''))).toEqual(['bench."', 'margin piece."']);
  });

  it('lists what is left of every reading', async () => {
    const { printed, fitWith } = laid({ 'b.readings.csv': good, 'b.features.json': featuresText });
    await fitWith('b.readings.csv --residuals');
    expect(printed.out.match(/^[SOW]\d+ +(span|opening|web) /gm)).toHaveLength(features.length);
  });

  it('refuses film that must never be lasered, with the reason', async () => {
    const { printed, fitWith } = laid({ 'b.readings.csv': good, 'b.features.json': featuresText });
    expect(await fitWith('b.readings.csv --film vinyl --out p.json')).toBe(EXIT.badInput);
    expect(printed.said).toMatch(/must never be lasered: it sets free hydrogen chloride/);
    expect(existsSync('p.json')).toBe(false);
  });

  it('keeps an existing profile unless told', async () => {
    const { fitWith } = laid({ 'b.readings.csv': good, 'b.features.json': featuresText, 'p.json': 'mine' });
    expect(await fitWith('b.readings.csv --out p.json')).toBe(EXIT.badInput);
    expect(desk.text('p.json')).toBe('mine');
    expect(await fitWith('b.readings.csv --out p.json --overwrite')).toBe(EXIT.done);
  });

  const refused: [what: string, files: Record<string, string>, args: string[], words: RegExp][] = [
    ['a file that is not there', {}, ['x.csv'], /x\.csv/],
    ['a glob that matches nothing', {}, ['x*.csv'], /no file matches/],
    ['a blank file', { 'b.readings.csv': 'feature,reading_mm\nS0,\n', 'b.features.json': featuresText }, ['b.readings.csv'], /no row is filled in/],
    ['an unknown feature', { 'b.readings.csv': `${good}\nS999,1,,,`, 'b.features.json': featuresText }, ['b.readings.csv'], /no feature "S999"/],
    ['a day that is none', { 'b.readings.csv': good, 'b.features.json': featuresText }, ['b.readings.csv', '--date', '2031-02-30'], /YYYY-MM-DD/],
    ['power above 100 %', { 'b.readings.csv': good, 'b.features.json': featuresText }, ['b.readings.csv', '--power-percent', '140'], /up to 100/],
    ['broken features', { 'b.readings.csv': good, 'b.features.json': '{' }, ['b.readings.csv'], /not valid JSON/],
  ]; // biome-ignore format: a table
  it.each(refused)('refuses %s and writes nothing', async (_what, files, args, words) => {
    const { printed, fitWith } = laid(files);
    expect(await fitWith('--out p.json', ...args)).toBe(EXIT.badInput);
    expect(printed.said).toMatch(words);
    expect(existsSync('p.json')).toBe(false);
  });
});
