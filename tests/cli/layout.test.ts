import { strToU8, zipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { bench, layer, profileOf } from './bench.js';

const desk = bench({ 'laser.json': profileOf(), 'board.gbr': layer(), 'under.gbr': layer('Bot') });

const layout = (...args: string[]) => desk.run('layout', ...args, '--profile', 'laser.json', '--out', 'out');
/** As paths: for what dots have no part in, and they take most of the time. */
const PATHS = ['--format', 'svg'];
const job = (stem: string) => desk.json(`out/${stem}.sheet.job.json`);

/** A board whose corners, and the marks there, lie clear of the paste. */
const BOARD = ['--board-mm', '20x10', '--board-at-mm=-4,-3'];

const BOARD_AT_ZERO = ['--board-mm', '20x10'];

/** Many lands far too near to each other: the sheet is warned of. */
const CROWD = Array.from({ length: 10 }, (_, i) => `X${20000 + 500 * i}000Y0D03*`).join('');
const crowded = (): string => desk.put('crowd.gbr', layer('Top', `%ADD13R,0.3X1.2*%D13*${CROWD}`));

describe('apertrue layout', () => {
  it.each([
    ['beside the board', 'X-4.0Y5.0', BOARD_AT_ZERO, 3],
    ['on its edge', 'X-1.0Y7.0', BOARD_AT_ZERO, 0],
    ['beside a board that nobody knows', 'X-9.0Y5.0', [], 0],
  ])('tells of holes of a drill file that lie %s, or not', async (_, hit, board, expected) => {
    const drill = desk.put('board.drl', `M48\nMETRIC\nT1C3.0\n%\nT1\n${hit}\nX4.0Y7.0\nM30\n`);
    const bare = ['--drill', drill, '--no-marks', '--no-witness', ...PATHS];
    const { code, said } = await layout('board.gbr', ...bare, ...board);
    const told = desk.read('out/board.sheet.job.json').includes('HOLE_OUTSIDE_BOARD');
    expect([code, said.includes('1 of 2 holes lies outside'), told]).toEqual([
      expected,
      expected === 3,
      expected === 3,
    ]);
  });

  it('tells that a drawing and a drill file need not share an origin', async () => {
    const drill = desk.put('board.drl', 'M48\nMETRIC\nT1C3.0\n%\nT1\nX4.0Y7.0\nM30\n');
    const pad = '<rect x="9" y="3" width="2" height="1"/>';
    desk.put(
      'board.svg',
      `<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="0 0 20 10">${pad}</svg>`,
    );
    const given = ['--side', 'top', '--no-marks', '--no-witness', ...PATHS, ...BOARD_AT_ZERO];
    const told = 'the lower left corner of its canvas is taken as the origin of board.drl';
    const [both, alone] = [
      await layout('board.svg', ...given, '--drill', drill),
      await layout('board.svg', ...given, '--overwrite'),
    ];
    expect([both.code, both.said.includes(told)]).toEqual([0, true]);
    expect(job('board').warnings.map(({ code }: { code: string }) => code)).not.toContain('ORIGIN_TAKEN');
    expect([alone.code, alone.said.includes('origin')]).toEqual([0, false]);
    const gerber = await layout('board.gbr', ...given, '--drill', drill, '--overwrite');
    expect(gerber.said).not.toContain('origin');
  });

  it('says what correct says: settings, what to type in, mirrored or not', async () => {
    const { code, out, said } = await layout('board.gbr', 'under.gbr', ...BOARD);
    expect(code).toBe(0);
    expect(out).toContain('board: top side, not mirrored');
    expect(out).toContain('under: bottom side, mirrored');
    expect(out).toMatch(/settings +power 40 %, speed 90 mm\/s, 2 passes, film pet, 0\.1 mm thick/);
    const { canvas } = job('board');
    expect(out).toContain(`a width in pixels: ${canvas.widthPx}; a width in mm: ${canvas.widthMm.toFixed(3)}`);
    expect(canvas.filmWidthMm).toBeCloseTo(canvas.widthMm * 1.004, 6);
    expect(said).toMatch(/^(wrote .*\n){6}caution: /);
  });

  it('takes both sides and the outline of the board out of a zip, globs, and a file as often as it is named', async () => {
    const corners = 'X-4000000Y-3000000D02*X16000000Y-3000000D01*Y7000000D01*X-4000000D01*Y-3000000D01*';
    const outline = `%TF.FileFunction,Profile,NP*%%FSLAX46Y46*%%MOMM*%%ADD10C,0.1*%D10*${corners}M02*`;
    const zip = { 'a.gbr': layer(), 'b.gbr': layer('Bot'), 'edge.gbr': outline };
    desk.put('fab.zip', zipSync(Object.fromEntries(Object.entries(zip).map(([name, text]) => [name, strToU8(text)]))));
    const { code, out, said } = await layout('fab.zip', ...PATHS);
    expect(code).toBe(0);
    expect(said).toContain('note: fab.zip:edge.gbr is taken as the outline of the board');
    expect(out).toMatch(/^2 stencils[\s\S]*fab-a: top side[\s\S]*fab-b: bottom side, mirrored/);
    expect(out).not.toContain('its outline is not known');
    expect(job('fab-a').sources.map(({ file }: { file: string }) => file)).toEqual(['fab.zip:a.gbr', 'fab.zip:b.gbr']);
    expect(job('fab-a').parameters.outline).toBe('fab.zip:edge.gbr');
    // Said, it wins; of layers from elsewhere too it is nobody's.
    expect((await layout('fab.zip', '--board-mm', '30x20', '--overwrite', ...PATHS)).said).not.toContain('taken as');
    const mixed = await layout('fab.zip', 'board.gbr', 'board.gbr', '--overwrite', ...PATHS);
    expect([mixed.out.slice(0, 10), mixed.said]).toEqual(['4 stencils', expect.not.stringContaining('taken as')]);
    expect((await layout('*.gbr', ...PATHS)).out).toMatch(/^2 stencils[\s\S]*board: top[\s\S]*under: bottom/);
    expect(await layout('none*.gbr')).toMatchObject({ code: 2, said: expect.stringContaining('no file matches it') });
  });

  it('tells of the same artwork once, however often it is on the sheet', async () => {
    crowded();
    const path = 'crowd.gbr';
    const { code, out, said } = await layout(path, path, '--copies', '2', '--board-mm', '40x20', ...PATHS);
    expect(code).toBe(3);
    expect(out).toMatch(/^4 stencils/);
    expect(said.match(/^warning: .*get hot/gm)).toHaveLength(1);
    expect(job('crowd').sources).toMatchObject([{ file: 'crowd.gbr', stencils: 4 }]);
  });

  it('says that the board is not known, and not when it is', async () => {
    expect((await layout('board.gbr', ...PATHS)).out).toMatch(/board +its outline is not known/);
    const known = await layout('board.gbr', '--board-mm', '20x10', '--overwrite', ...PATHS);
    expect(known.out).not.toContain('not known');
  });

  it('tells of what lies outside the outline of the board', async () => {
    const corners = 'X-2000000Y-2000000D02*X10000000Y-2000000D01*Y5000000D01*X-2000000D01*Y-2000000D01*';
    desk.put('outline.gbr', `%TF.FileFunction,Profile,NP*%%FSLAX46Y46*%%MOMM*%%ADD10C,0.1*%D10*${corners}M02*`);
    const { code, said } = await layout('board.gbr', '--outline', 'outline.gbr', ...PATHS);
    expect([code, said]).toEqual([3, expect.stringMatching(/outside the board, not like paste.*\[opening 6\]/)]);
  });

  it('says how many pages of paper a large sheet takes', async () => {
    const { out } = await layout('board.gbr', '--board-mm', '300x200', ...PATHS);
    expect(out).toMatch(/dry fit +print it at 100 % on paper: 2 pages, to be cut along their frames and joined/);
  });
});
