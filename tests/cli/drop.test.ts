import { beforeEach, describe, expect, it } from 'vitest';
import { bench, layer, profileOf } from './bench.js';

const desk = bench();
beforeEach(() => {
  desk.put('laser.json', profileOf());
  // Openings 1 and 2: chips. 3 to 5: leads. 6: a disc. 7: a dot far too small to be cut.
  desk.put('board.gbr', layer('Top', '%ADD13R,0.05X0.05*%D13*X9000000Y0D03*'));
});

const run = (command: string, options = '') => desk.run(`${command} board.gbr -p laser.json -o out ${options}`);
const record = (name: string) => desk.json(`out/${name}`);

describe('--drop', () => {
  it('leaves openings out of a corrected stencil, says so, and keeps the numbers of the others', async () => {
    expect((await run('correct', '--report')).code).toBe(3);
    const { counts: before } = record('board.job.json');
    const { code, said, out } = await run('correct', '--drop 1,3-4 --report --overwrite');
    const job = record('board.job.json');
    expect([code, before.openings, job.counts.openings]).toEqual([3, 7, 4]);
    expect(said).toMatch(
      /warning: .*3 openings were left out, as told with --drop; 4 openings of 7 remain\. \[openings 1, 3-4\]/,
    );
    expect(job.parameters.drop).toEqual([1, 3, 4]);
    expect(job.warnings.map(({ code: name }: { code: string }) => name)).toContain('OPENINGS_DROPPED');
    expect(job.narrow.map(({ opening }: { opening: number }) => opening)).toEqual([7]);
    expect(out).toContain('opening 7');
    const page = desk.text('out/board.report.html');
    // The doubtful one is numbered first, as the page gives room in that order.
    expect([...page.matchAll(/<text [^>]*>(\d+)<\/text>/g)].map(([, number]) => number)).toEqual(['7', '2', '5', '6']);
    expect(page).toContain('3 openings were left out');
  });

  it('makes a finding go away, and with it the exit code', async () => {
    expect((await run('correct')).code).toBe(3);
    expect((await run('correct', '--drop 7 --overwrite')).code).toBe(0);
    expect(record('board.job.json').faults).toEqual([]);
  });

  it('gives the dots of a layer that never had them', async () => {
    await run('correct', '--drop 7');
    const dropped = desk.read('out/board.png');
    desk.put('board.gbr', layer());
    await run('correct', '--overwrite');
    expect(Buffer.compare(desk.read('out/board.png'), dropped)).toBe(0);
  });

  it('foretells what correct writes, turned and treated alike, by the openings’ own numbers', async () => {
    const way = '--json --drop 1,7 --rotate 90 --canvas-mm 40x30 --overwrite';
    const report = JSON.parse((await run('correct', way)).out)[0];
    const foretold = JSON.parse((await run('predict', way)).out)[0];
    expect(foretold.inDots.openings.map(({ number }: { number: number }) => number)).toEqual([2, 3, 4, 5, 6]);
    expect(foretold.inDots.summary.meanAreaErrorPercent).toBeCloseTo(report.cut.meanAreaErrorPercent, 1);
    const turned = foretold.inDots.openings.map((one: { askedWidthMm: number }) => one.askedWidthMm);
    const plain = JSON.parse((await run('predict', '--json --drop 1,7 --overwrite')).out)[0];
    expect(turned).toEqual(plain.inDots.openings.map((one: { askedHeightMm: number }) => one.askedHeightMm));
    const treated = JSON.parse((await run('predict', '--json -r plain --overwrite')).out)[0];
    expect(treated.inDots.openings.length).toBe(7);
  });

  it('keeps the numbers in a check: verdicts, nearest webs, groups, table, picture', async () => {
    const all = JSON.parse((await run('check', '--json')).out);
    const { out, said } = await run('check', '--json --overwrite --drop 1-2');
    const some = JSON.parse(out);
    type Row = { number: number; webTo?: number; areaRatio: number };
    expect(some.openings.map(({ number }: Row) => number)).toEqual([3, 4, 5, 6, 7]);
    for (const row of some.openings as Row[]) {
      const same = (all.openings as Row[]).find(({ number }) => number === row.number);
      expect(row.areaRatio).toBe(same?.areaRatio);
      if (row.number !== 3) expect(row.webTo).toBe(same?.webTo);
    }
    expect(some.groups.flatMap(({ openings }: { openings: number[] }) => openings)).not.toContain(1);
    expect(said).toContain('[openings 1-2]');
    expect(desk.text('out/board.check.csv')).toMatch(/\n7,/);
    expect(desk.read('out/board.check.svg').length).toBeGreaterThan(1000);
    expect((await desk.run('check board.gbr -t 0.1 --drop 1-2')).said).toMatch(/next: .* --drop 1-2 /);
  });

  it('leaves them off a sheet', async () => {
    const { said } = await run('layout', '--drop 7,1 --no-witness --format svg');
    const sheet = record('board.sheet.job.json');
    expect(sheet.counts.paste).toBe(5);
    expect(sheet.narrow).toEqual([]);
    expect(sheet.parameters.drop).toEqual([1, 7]);
    expect(said).toContain('2 openings were left out');
  });

  it.each([
    ['--drop 8', /--drop.*there is no opening 8; the artwork has 7 openings/],
    ['--drop 2,6-9', /there are no openings 8-9/],
    ['--drop 1-7', /every opening would be left out/],
    ['--drop 0', /Expected numbers of openings/],
    ['--drop 5-3', /Expected numbers of openings/],
    ['--drop U3', /Expected numbers of openings/],
  ])('refuses %s', async (options, words) => {
    for (const command of ['correct', 'check', 'layout']) {
      const { code, said } = await run(command, options);
      expect([command, code, said]).toEqual([command, 2, expect.stringMatching(words)]);
    }
  });

  it('is refused for several artworks, whose numbers are their own', async () => {
    desk.put('other.gbr', layer());
    const { code, said } = await run('correct', 'other.gbr --drop 1');
    expect([code, said]).toEqual([2, expect.stringMatching(/--drop.*2 were given/)]);
  });
});
