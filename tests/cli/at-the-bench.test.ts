import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { configFolder, processIo } from '../../src/cli/io.js';
import { projectDisagrees } from '../../src/cli/project-file.js';
import { shellQuoted, withWords } from '../../src/cli/tell.js';
import type { CellFeature } from '../../src/coupon/features.js';
import type { Profile } from '../../src/machine/types.js';
import type { Project } from '../../src/project/project.js';
import { bench, layer, PROJECT, profileOf } from './bench.js';

const desk = bench();

describe('the project file', () => {
  it('answers what the command line leaves open, and every run says so in one line', async () => {
    desk.put('apertrue.json', JSON.stringify({ ...PROJECT, formats: ['svg'] }));
    desk.put('desk.profile.json', profileOf());
    desk.put('board.gbr', layer());
    const { code, said } = await desk.type('correct board.gbr');
    expect(code).toBe(0);
    expect(said.split('\n')[0]).toBe('settings from apertrue.json: profile desk.profile.json, out results, format svg');
    expect(desk.list('results')).toEqual(['board.job.json', 'board.svg']);
  });

  it('gives way to options, and to options that say the same in another way', async () => {
    desk.put('apertrue.json', JSON.stringify(PROJECT));
    const { code, said, out } = await desk.type('coupon vernier --dpi 508 --out elsewhere --format png');
    expect(code).toBe(0);
    expect(said).toMatch(/^settings from apertrue\.json: width 100, height 80\n/);
    expect(out).toContain('508 dpi');
    expect(desk.list()).toContain('elsewhere');
    expect(desk.list()).not.toContain('results');
  });

  it('is held against its profile: a film or a pitch of another kind is told, and ends with 3', async () => {
    desk.put('desk.profile.json', profileOf());
    desk.put('board.gbr', layer());
    desk.put('apertrue.json', JSON.stringify({ ...PROJECT, film: { kind: 'pet', thicknessMm: 0.2 } }));
    const { code, said } = await desk.type('correct board.gbr');
    expect([code, said]).toEqual([3, expect.stringContaining('says thickness 0.2 mm, and its profile was made with')]);
    const doctor = await desk.type('doctor');
    expect([doctor.code, doctor.out]).toEqual([3, expect.stringContaining('BAD profile')]);
    const known = { film: { kind: 'PET ', thicknessMm: 0.1005 }, pitchMm: { x: 0.0254, y: 0.05 }, machine: 'other' };
    const facts = projectDisagrees(PROJECT as Project, known as Profile);
    expect(facts.map(({ code, message }) => [code, /says (\w+)/.exec(message)?.[1]])).toEqual([
      ['PROJECT_DISAGREES', 'machine'],
      ['PROJECT_DISAGREES', 'pitch'],
    ]);
    // A profile of another machine that is named on the line has nothing to do with it.
    desk.put('other.json', profileOf());
    expect((await desk.type('correct board.gbr --profile other.json --overwrite')).code).toBe(0);
  });

  it('names the profile that control charts', async () => {
    expect(await desk.run('control')).toMatchObject({ code: 2, said: expect.stringContaining('no profile is named') });
    desk.put('apertrue.json', JSON.stringify(PROJECT));
    desk.put('desk.profile.json', profileOf());
    const { code, out } = await desk.run('control');
    expect([code, out]).toEqual([3, expect.stringContaining('No verdict')]);
  });

  it('says which coupons there are, whatever it answers', async () => {
    desk.put('apertrue.json', JSON.stringify(PROJECT));
    const { code, out } = await desk.run('coupon --list');
    expect(code).toBe(0);
    expect(out).toContain('scale-ruler');
  });

  it.each([
    ['correct board.gbr -f svg', 20, 20, 3],
    ['correct board.gbr -f svg --rotate 90', 30, 20, 3],
    ['correct board.gbr -f svg', 24, 15, 0],
    ['predict board.gbr -f svg', 18, 20, 3],
    ['layout board.gbr -f svg --board-mm 20x10 --board-at-mm -3,-3 --no-witness', 52, 42, 0],
    ['layout board.gbr -f svg --board-mm 20x10 --board-at-mm -3,-3 --no-witness', 40, 60, 3],
    ['layout board.gbr -f svg --board-mm 20x10 --board-at-mm -3,-3 --no-witness --copies 2', 60, 90, 0],
  ])('has the bed: %s on %d x %d mm ends with %d', async (line, widthMm, heightMm, ends) => {
    desk.put('apertrue.json', JSON.stringify({ ...PROJECT, bed: { widthMm, heightMm } }));
    desk.put('desk.profile.json', profileOf());
    desk.put('board.gbr', layer());
    const { code, said } = await desk.run(line);
    const told = /the canvas is [\d.]+ x [\d.]+ mm on the film, and the bed \d+ x \d+ mm/.test(
      said.replaceAll('\n', ' '),
    );
    expect([code, told]).toEqual([ends, ends === 3]);
    if (line.startsWith('correct')) {
      const codes = desk.json('results/board.job.json').warnings.map((one: { code: string }) => one.code);
      expect(codes).toEqual(ends === 3 ? ['BEYOND_BED'] : []);
    }
  });

  it('tells a coupon of lengths nothing of powers and speeds, and is not led away from its profile', async () => {
    desk.put('apertrue.json', JSON.stringify({ ...PROJECT, powersPercent: [40, 60], speedsMmS: [80] }));
    const made = async (line: string): Promise<string> => (await desk.type(`coupon ${line} -f svg`)).said;
    expect(await made('power-speed-grid')).toMatch(/power steps 40,60, speeds 80/);
    const fits = async (out: string): Promise<string | undefined> => {
      const said = await made(`scale-ruler --out ${out}`);
      expect(said).toMatch(/^settings from apertrue\.json: width 100, (?!.*\bpower)/);
      return /^next: (.*apertrue fit .*)$/m.exec(said)?.[1].replaceAll('\\', '/');
    };
    expect(await fits('anew-1')).toBe('apertrue fit anew-1/scale-ruler.readings.csv');
    desk.put('desk.profile.json', profileOf());
    expect(await fits('anew-2')).toBe(
      'let apertrue.json name the profile that this writes: apertrue fit anew-2/scale-ruler.readings.csv --out anew-2/desk.profile.json',
    );
  });

  it('is left out of the next step by what it would answer there', async () => {
    desk.put('apertrue.json', JSON.stringify(PROJECT));
    desk.put('desk.profile.json', profileOf());
    desk.put('board.gbr', layer());
    const nextOf = async (name: string) => /^next: (.*)$/m.exec((await desk.type(`${name} board.gbr`)).said)?.[1];
    expect(await nextOf('number')).toBe('apertrue check board.gbr');
    expect(await nextOf('check')).toBe('apertrue correct board.gbr');
    expect(await nextOf('treat')).toBe('apertrue correct results/board.treated.svg');
    expect(await nextOf('predict')).toBe('apertrue correct board.gbr');
  });

  it('answers with its film where its profile is not made yet', async () => {
    desk.put('board.gbr', layer());
    desk.put('apertrue.json', JSON.stringify(PROJECT));
    const { code, said } = await desk.type('check board.gbr');
    expect([code, said]).toEqual([0, expect.stringContaining('settings from apertrue.json: thickness 0.1')]);
    expect((await desk.type('treat board.gbr --dry-run')).code).toBe(0);
    const early = await desk.type('correct board.gbr --json');
    expect([early.code, JSON.parse(early.out).error]).toEqual([2, expect.objectContaining({ code: 'PROFILE_NOT_MADE', hint: expect.stringContaining('apertrue fit') })]); // biome-ignore format: one line
  });

  it('of a film that must never be lasered is refused, and so is a profile of one', async () => {
    desk.put('board.gbr', layer());
    desk.put('desk.profile.json', profileOf({}, { film: { kind: 'pvc', thicknessMm: 0.1 } }));
    desk.put('apertrue.json', JSON.stringify(PROJECT));
    const ofProfile = await desk.type('correct board.gbr');
    expect([ofProfile.code, ofProfile.said]).toEqual([2, expect.stringContaining('must never be lasered')]);
    const doctor = await desk.type('doctor');
    expect([doctor.code, doctor.out]).toEqual([3, expect.stringMatching(/BAD profile .*never be lasered/)]);
    desk.put('desk.profile.json', profileOf());
    desk.put('apertrue.json', JSON.stringify({ ...PROJECT, film: { kind: 'vinyl', thicknessMm: 0.1 } }));
    const ofProject = await desk.type('correct board.gbr');
    expect([ofProject.code, ofProject.said]).toEqual([2, expect.stringContaining('must never be lasered')]);
  });

  it('is found one folder above, and its paths are those of its own folder', async () => {
    desk.put('apertrue.json', JSON.stringify(PROJECT));
    desk.put('desk.profile.json', profileOf());
    mkdirSync('job');
    desk.put('job/board.gbr', layer());
    process.chdir('job');
    const { code, said } = await desk.type('correct board.gbr');
    expect(code).toBe(0);
    expect(said).toContain(`settings from ${join('..', 'apertrue.json')}`);
    expect(desk.list('../results')).toContain('board.png');
  });

  it('is found in the user’s own settings, and results then go where the user is', async () => {
    mkdirSync('own-settings');
    desk.put('own-settings/apertrue.json', JSON.stringify(PROJECT));
    desk.put('own-settings/desk.profile.json', profileOf());
    desk.put('board.gbr', layer());
    expect((await desk.type('correct board.gbr')).code).toBe(0);
    expect(desk.list('results')).toContain('board.png');
  });

  it.each([
    [
      '{"format":"apertrue-project","version":1,"machin":"x"}',
      /apertrue\.json, line 1, "machin": .*Did you mean "machine"/,
    ],
    [
      '{"format":"apertrue-project","version":1,"bed":{"width":1,"heightMm":2}}',
      /"bed\.width".*Did you mean "widthMm"/,
    ],
    ['{"format":"apertrue-project","version":1,"pitchMm":{"x":5,"y":5}}', /"pitchMm\.x"/],
    ['{"format":"apertrue-profile"}', /expected a project file, found a profile/],
    ['{', /not valid JSON/],
  ])('%s is refused and nothing is done', async (text, words) => {
    desk.put('apertrue.json', text);
    const { code, said } = await desk.type('coupon vernier');
    expect(code).toBe(2);
    expect(said).toMatch(words);
    expect(desk.list()).toEqual(['apertrue.json']);
    expect((await desk.type('coupon --help')).code).toBe(0);
  });
});

describe('apertrue start', () => {
  const ANSWERS = ['Desk Laser', '100x80', 'png, svg', '1000', 'pet', '0,1', 'caliper 0.01; loupe 0,02'];

  it('asks, writes the file, and prints which coupons, in which order, with which gauge', async () => {
    const { code, out, said } = await desk.type('start', ANSWERS);
    expect(code).toBe(0);
    expect(desk.json('apertrue.json')).toEqual({
      ...PROJECT,
      machine: 'Desk Laser',
      formats: ['png', 'svg'],
      report: true,
      profile: 'desk-laser.profile.json',
      out: 'stencils',
      gauges: [
        { name: 'caliper', resolutionMm: 0.01 },
        { name: 'loupe', resolutionMm: 0.02 },
      ],
    });
    expect(out).toMatch(
      /power-speed-grid[\s\S]*scale-ruler[\s\S]*caliper[\s\S]*aperture-ladder[\s\S]*apertrue correct/,
    );
    expect(said).toMatch(/class 4/);
  });

  it.each(['fine', '5', '2mm', '60 dpi'])('says of dots that can’t be, %s, both ways to type them', async (typed) => {
    const { said } = await desk.type('start', ['Desk Laser', '100x80', 'png', typed]);
    expect(said).toMatch(/dots per inch, such as 1000 or 600x1200, or a distance .* such as 0\.0254; found "/);
  });

  it('asks no machine that follows paths for its dots', async () => {
    const { code, said } = await desk.type('start', ['galvo', '100x80', 'svg, dxf', '', 'pet', '', '']);
    expect([code, said]).toEqual([0, expect.not.stringContaining('How fine are its dots')]);
    expect(desk.json('apertrue.json')).toMatchObject({ pitchMm: { x: 0.0254, y: 0.0254 } });
  });

  it('takes no film without a name, and none as thick as a board', async () => {
    const rest = ['--machine', 'm', '--bed-mm', '60x40', '--dpi', '1000', '--format', 'png', '--gauge', 'loupe:0.05'];
    const thick = await desk.type(['start', ...rest, '--film', 'pet', '--thickness-mm', '100']);
    expect([thick.code, thick.said]).toEqual([2, expect.stringContaining('which is 100 mm')]);
    const unnamed = await desk.type(['start', ...rest, '--film', ' ', '--thickness-mm', '100um']);
    expect([unnamed.code, unnamed.said]).toEqual([2, expect.stringContaining('nothing is named')]);
    expect(unnamed.said).toContain('--film');
    // All coupons of the plan fit on the smallest bed.
    expect((await desk.type(['start', ...rest, '--film', 'pet', '--thickness-mm', '100um'])).code).toBe(0);
  });

  it('asks nothing that options answer', async () => {
    const args = ['--machine', 'm', '--bed-mm', '100x80', '--pitch-mm', '0,05', '--format', 'bmp', '--film', 'pet'];
    const { code, said } = await desk.type(['start', ...args, '--thickness-mm', '100um', '--gauge', 'loupe:0.05']);
    expect(code).toBe(0);
    expect(said).toMatch(/^wrote apertrue\.json/);
    expect(desk.json('apertrue.json')).toMatchObject({
      pitchMm: { x: 0.05, y: 0.05 },
      film: { thicknessMm: 0.1 },
    });
  });

  it('asks which powers and speeds to try, and a machine that has one speed for no other from then on', async () => {
    const { said } = await desk.type('start', [...ANSWERS, '6000mm/min', '20, 40; 60 80,100']);
    expect(said).toMatch(/only one if it can’t be set \[50,100,200\][\s\S]*a knob without numbers.*\[20,24,/);
    expect(desk.json('apertrue.json')).toMatchObject({ powersPercent: [20, 40, 60, 80, 100], speedsMmS: [100] });
    const made = await desk.type('coupon power-speed-grid --format svg');
    expect(made.said).toContain('power steps 20,40,60,80,100, speeds 100');
    const file = 'stencils/power-speed-grid.readings.csv';
    const grid = () => desk.json('stencils/power-speed-grid.features.json').features as CellFeature[];
    const read = async (outcomes: string, path = file): Promise<string> => {
      const rows = grid().map(({ id }, i) => `${id},${outcomes[i]}`);
      desk.put(path, `feature,outcome\n${rows.join('\n')}\n`);
      const { out, said: told } = await desk.type(`window ${path} --features stencils/power-speed-grid.features.json`);
      return `${out}${told}`;
    };
    expect(grid().map(({ powerPercent, speedMmS }) => [powerPercent, speedMmS])).toEqual([20, 40, 60, 80, 100].map((power) => [power, 100])); // biome-ignore format: one line
    // Neither slower nor faster is proposed anywhere.
    const speeds = /(slower|faster|speed, mm)|; speeds (?!100 mm)|--speeds (?!100 )|divided by speed/;
    for (const outcomes of ['uuuuu', 'mmmmm', 'uummm', 'uttmm', 'utttm', 'ttttt']) {
      expect(await read(outcomes)).not.toMatch(speeds);
    }
    // By its name, as `enter` takes it; a file of that name comes first.
    await read('uummm');
    expect((await desk.type('window power-speed-grid')).out).toContain('5 cells read');
    desk.put('power-speed-grid', `feature,outcome\n${grid()[0].id},u\n`);
    expect((await desk.type(`window power-speed-grid --features stencils/power-speed-grid.features.json`)).out).toContain('1 cell read'); // biome-ignore format: one line
    // What it proposes can be pasted: readings are never replaced.
    const [, next] = /next: cut the next grid: apertrue (.*)/.exec(await read('uummm')) ?? [];
    expect((await desk.type(next)).code).toBe(0);
    expect(await read('uummm', 'stencils/grid-2/power-speed-grid.readings.csv')).toMatch(
      /next: .*--out stencils.grid-3/,
    );
    // A ruler has no grid, and its form need not be filled with what can't be otherwise.
    expect((await desk.type('coupon scale-ruler --format svg')).code).toBe(0);
    expect(desk.text('stencils/scale-ruler.job.json')).not.toContain('speedsMmS');
    await desk.type('enter scale-ruler', ['q']);
    expect(desk.text('stencils/scale-ruler.readings.csv')).toMatch(/^# speed .*: 100 mm\/s$/m);
  });

  it('tries more powers where there is one speed, as many as have room', async () => {
    const { out } = await desk.type('start', [...ANSWERS, '100', '']);
    expect(desk.json('apertrue.json')).toMatchObject({ speedsMmS: [100] });
    expect(desk.json('apertrue.json').powersPercent).toBeUndefined();
    const [, cells] = /which power and speed cut clean \((\d+) cells/.exec(out) ?? [];
    expect(Number(cells)).toBeGreaterThanOrEqual(9);
    await desk.type('coupon power-speed-grid --format svg');
    const powers = (desk.json('stencils/power-speed-grid.features.json').features as CellFeature[]).map(
      (cell) => cell.powerPercent,
    );
    expect([powers.length, Math.min(...powers), Math.max(...powers)]).toEqual([Number(cells), 20, 100]);
  });

  it('asks a laser of one power for no less of it', async () => {
    await desk.type('start', [...ANSWERS, '50 100, 200, 400', '100']);
    await desk.type('coupon power-speed-grid --format svg');
    const cells = desk.json('stencils/power-speed-grid.features.json').features as CellFeature[];
    for (const outcomes of ['uuuu', 'mmmm', 'uumm', 'uttm', 'uttt']) {
      desk.put('g.csv', `feature,outcome\n${cells.map(({ id }, i) => `${id},${outcomes[i]}`).join('\n')}\n`);
      const { out, said } = await desk.type('window g.csv --features stencils/power-speed-grid.features.json');
      expect(out + said).not.toMatch(/(less|more|raise the|the) power|power, %|--power-steps (?!100 )/);
    }
  });

  it('asks again for fewer powers or speeds where their grid does not fit on the bed', async () => {
    const many = [1, 2, 3, 4, 5, 6, 7, 8, 9].map((n) => 10 * n).join();
    const answers = ['m', '80x60', ...ANSWERS.slice(2), '1,2,3,4,5,6,7,8,9,10,11,12,13,14', '1,2,3', many, '20,40,60'];
    const { code, said } = await desk.type('start', answers);
    expect([code, said.match(/does not fit on 79\.\d+ x 59\.\d+ mm.*or fewer powers and speeds/g)]).toMatchObject([
      0,
      { length: 2 },
    ]);
    expect(desk.json('apertrue.json')).toMatchObject({ powersPercent: [20, 40, 60], speedsMmS: [1, 2, 3] });
  });

  it('has no grid in the plan of a machine that has nothing to set', async () => {
    const { out, said } = await desk.type('start', [...ANSWERS, '25', '100']);
    expect(out).toMatch(/^The plan:\n1\. scale-ruler: .* cut with its power and speed/);
    expect(said).toMatch(/next: apertrue coupon scale-ruler\n/);
  });

  it('asks again after an answer that can’t be read, and takes no film that must not be lasered', async () => {
    const { code, said } = await desk.type('start', [
      'm',
      'large',
      '60x30',
      '100x80',
      'png',
      '5 mm',
      '600 dpi',
      'PVC',
      'pet',
      '',
      '',
    ]);
    expect(code).toBe(0);
    expect(said).toMatch(
      /width x height[\s\S]*need 60 x 40 mm at least[\s\S]*0\.01 to 0\.2 mm[\s\S]*must never be lasered/,
    );
  });

  it('takes what is usual for answers that never came, not for one that could not be read', async () => {
    const wrong = await desk.type('start', [...ANSWERS, 'knob']);
    expect([wrong.code, wrong.said]).toEqual([2, expect.stringMatching(/found "knob"[\s\S]*--speeds/)]);
    expect(desk.list()).toEqual([]);
    expect((await desk.type('start', [...ANSWERS, 'knob', ''])).code).toBe(0);
  });

  it('shows an answer as it was typed', async () => {
    const { said } = await desk.type('start', ['Desk Laser', '100x80', '500 DPI', 'png, Gif']);
    expect(said).toMatch(/found "500 DPI"[\s\S]*found "Gif"/);
  });

  it('writes nothing when the answers end too early, or a file is there', async () => {
    expect(await desk.type('start', ANSWERS.slice(0, 2))).toMatchObject({
      code: 2,
      said: expect.stringContaining('--format'),
    });
    expect(desk.list()).toEqual([]);
    desk.put('apertrue.json', '{}');
    const refused = await desk.type('start --out elsewhere', ANSWERS);
    expect([refused.code, refused.said.replaceAll('\n', ' ')]).toEqual([2, expect.stringMatching(/exists already\. Give --overwrite .* another folder/)]); // biome-ignore format: one line
    expect(refused.said).not.toContain('--out');
    expect(desk.text('apertrue.json')).toBe('{}');
  });
});
describe('small things of the command line', () => {
  it('a command to be pasted is never folded', async () => {
    const said: string[] = [];
    const io = withWords(
      { ...processIo(), say: (text) => void said.push(text), isTerminal: true, columns: 40, colours: false },
      { quiet: false },
    );
    io.say('next: cut two coupons with that setting: apertrue coupon scale-ruler aperture-ladder --width-mm 150\n');
    expect(said.join('')).toBe(
      'next: cut two coupons with that setting:\napertrue coupon scale-ruler aperture-ladder --width-mm 150\n',
    );
  });

  it('paths are quoted for any shell where they need it', () => {
    expect(['a/b.csv', 'C:\\x\\y.gbr', 'my board.gbr', "it's $5.gbr"].map(shellQuoted)).toEqual([
      'a/b.csv',
      'C:\\x\\y.gbr',
      '"my board.gbr"',
      "'it'\\''s $5.gbr'",
    ]);
  });

  it('the user’s own settings lie where the platform keeps them', () => {
    // XDG Base Directory Specification 0.8: relative paths are ignored.
    expect(configFolder('linux', {}, '/home/x')).toBe(join('/home/x', '.config', 'apertrue'));
    expect(configFolder('linux', { XDG_CONFIG_HOME: '/etc/own' }, '/home/x')).toBe(join('/etc/own', 'apertrue'));
    expect(configFolder('linux', { XDG_CONFIG_HOME: 'own' }, '/home/x')).toBe(join('/home/x', '.config', 'apertrue'));
    expect(configFolder('darwin', {}, '/Users/x')).toBe(join('/Users/x', 'Library', 'Preferences', 'apertrue'));
    expect(configFolder('win32', { APPDATA: '/a/Roaming' }, '/x')).toBe(join('/a/Roaming', 'apertrue'));
  });
});
