import { describe, expect, it } from 'vitest';
import { processIo } from '../../src/cli/io.js';
import { layArtwork } from '../../src/cli/layout/stencil.js';
import { ringBounds } from '../../src/geometry/bounds.js';
import { bench, layer, layerIn, profileOf } from './bench.js';

const desk = bench({ 'laser.json': profileOf(), 'board.gbr': layer(), 'under.gbr': layer('Bot') });

const layout = (file: string, ...args: string[]) => desk.run(`layout ${file} --profile laser.json --out out`, ...args);
/** As paths: for what dots have no part in, and they take most of the time. */
const PATHS = ['--format', 'svg'];
const job = (stem: string) => desk.json(`out/${stem}.sheet.job.json`);

describe('a sheet', () => {
  it('mirrors the holes and the outline of a bottom layer with its paste', async () => {
    const board = {
      // Lopsided: 4 mm of board to the left of the first pad, 16 mm to the right of the last.
      outline: [
        [
          [-4, -2],
          [28, -2],
          [28, 6],
          [-4, 6],
        ] as [number, number][],
      ],
      holes: [{ x: -2, y: 0, diameterMm: 3 }],
      warnings: [],
    };
    const loaded = { profile: JSON.parse(profileOf()), bytes: Buffer.from(profileOf()) };
    const values = { marks: true, witness: false, profile: '', out: '' };
    const { stencil } = await layArtwork(layerIn('under.gbr'), board, loaded, values, processIo());
    const centre = (part: string) => {
      const { opening } = stencil.openings.find((one) => one.part === part) ?? stencil.openings[0];
      const box = ringBounds(opening.outer);
      return (box.minX + box.maxX) / 2;
    };
    const film = ringBounds(stencil.outline[0]);
    // From beneath, the board's left edge is the right one: the first pad lies 4 mm from it, the hole 2 mm.
    expect(film.maxX - centre('paste')).toBeCloseTo(4, 6);
    expect(film.maxX - centre('hole')).toBeCloseTo(2, 6);
  });

  it('is told apart by a mark that the film, the words, the record and the report have', async () => {
    const { out } = await layout('board.gbr', '--board-mm', '60x40', '--report', ...PATHS);
    const [{ mark }] = job('board').sources;
    expect(mark).toMatch(/^[0-9a-f]{6}$/);
    expect(out).toContain(`its film says job ${mark}`);
    expect(desk.text('out/board.sheet.report.html')).toContain(`Its film says job ${mark}.`);
    // The same mark for the same job, another one for another.
    await layout('board.gbr', '--board-mm', '60x40', '--overwrite', ...PATHS);
    expect(job('board').sources[0].mark).toBe(mark);
    await layout('board.gbr', '--board-mm', '60x41', '--overwrite', ...PATHS);
    expect(job('board').sources[0].mark).not.toBe(mark);
    expect(desk.list('out')).toContain('board.witness.worksheet.pdf');
  });

  it('with several witnesses and one file of readings says which is read', async () => {
    const { out } = await layout('board.gbr', '--board-mm', '60x40', '--copies', '2', '--overwrite', ...PATHS);
    const words = out.replace(/\s+/g, ' ');
    expect(words).toMatch(/ mm; the canvas is all of it .*holds .* 2 x witness /);
    expect(words).toMatch(/in a corner of each stencil; read that of the stencil listed first, on each day with: apertrue enter/); // biome-ignore format: one line
  });

  it('has a witness of its own on a later day, once the first was read', async () => {
    const again = (): ReturnType<typeof layout> => layout('board.gbr', '--board-mm', '60x40', '--overwrite', ...PATHS);
    const first = await again();
    expect(first.out.replace(/\s+/g, ' ')).toMatch(
      /read it with: apertrue enter out.board\.witness\.readings\.csv, which says/,
    );
    expect(first.out).toMatch(/ 1 x witness\n/);
    // What is printed finds it.
    const entered = await desk.type('enter out/board.witness.readings.csv', ['q']);
    expect([entered.code, entered.said]).toEqual([0, expect.stringMatching(/ of the witness, \d+ mm from its left and \d+ mm from its lower edge/)]); // biome-ignore format: one line
    const blank = desk.text('out/board.witness.readings.csv');
    desk.put('out/board.witness.readings.csv', blank.replace(/^(W\w+(?:-\d)?),,/m, '$1,0.41,'));
    const filled = desk.text('out/board.witness.readings.csv');
    expect(filled).not.toBe(blank);
    const second = await again();
    expect(second.code).not.toBe(2);
    expect(second.out).toMatch(/apertrue enter out.board\.witness-2\.readings\.csv/);
    // In the folder of the project its name will do.
    desk.put('apertrue.json', '{"format":"apertrue-project","version":1,"out":"own"}');
    const own = await desk.run('layout board.gbr --profile laser.json --board-mm 60x40 -f svg');
    expect(own.out.replace(/\s+/g, ' ')).toContain('apertrue enter board.witness, which');
    expect((await desk.type('enter board.witness', ['q'])).code).toBe(0);
    expect(desk.text('out/board.witness.readings.csv')).toBe(filled);
    expect(desk.list('out')).toContain('board.witness-2.readings.csv');
  });

  it.each([
    [0.217018267, 'cut uncorrected in the corner'],
    [0.45, 'cut uncorrected in the corner'],
    [0.6, 'left out: with this machine’s scale or kerf'],
  ])('has a witness whose letter stands after a kerf of %s mm, or none', async (kerfXMm, witness) => {
    desk.put('laser.json', profileOf({ kerfXMm }));
    const { code, out } = await layout('board.gbr', '--board-mm', '60x40', ...PATHS);
    expect(code).not.toBe(2);
    expect(out).toContain(witness);
  });

  it('has the figures of its paste that correct has, copies and letters or not', async () => {
    const options = ['--profile', 'laser.json', '--out', 'out', '--json'];
    const [{ cut }] = JSON.parse((await desk.run('correct board.gbr', ...options)).out);
    for (const more of [[], ['--copies', '3']]) {
      const { out } = await layout('board.gbr', '--board-mm', '30x20', '--overwrite', '--json', ...more);
      const { cut: onSheet } = JSON.parse(out);
      for (const [name, value] of Object.entries<number>(cut)) {
        expect([name, onSheet[name]]).toEqual([name, expect.closeTo(value, 6)]);
      }
    }
  });

  it('says where on the bed it lies, and its film', async () => {
    desk.put('apertrue.json', JSON.stringify({ format: 'apertrue-project', version: 1, bed: { widthMm: 200, heightMm: 100 } })); // biome-ignore format: one line
    const { out } = await layout('board.gbr', '--board-mm', '60x40', '--no-witness', '--report', ...PATHS);
    const { canvas } = job('board');
    const [right, up] = [canvas.filmWidthMm, canvas.filmHeightMm].map((mm: number) => mm.toFixed(1));
    const place = `its lower left corner at your program’s origin, where that of the coupons was: the film must reach from there ${right} mm to the right and ${up} mm up, on a bed of 200 x 100 mm; elsewhere on the bed will do, too, but not turned`;
    expect(out).toContain(`place       ${place}\n`);
    expect(desk.text('out/board.sheet.report.html')).toContain(`Put ${place}.`);
    expect(out).toContain('at 0.0, 0.0 from the sheet’s lower left corner');
    const { out: swept } = await desk.run('correct board.gbr --profile laser.json --out swept --sweep y --format svg');
    const record = desk.json('swept/board.job.json').canvas;
    expect(swept).toContain(
      `${record.filmHeightMm.toFixed(1)} mm to the right and ${record.filmWidthMm.toFixed(1)} mm up`,
    );
  });

  it('is as high as its rows of dots, where those lie otherwise than the columns', async () => {
    await layout('board.gbr', '--board-mm', '20x10', '--no-witness', '--pitch-mm', '0.08x0.05');
    const { canvas, sheetMm } = job('board');
    expect(canvas.widthMm).toBeCloseTo(canvas.widthPx * 0.08, 6);
    expect(canvas.heightMm).toBeCloseTo(canvas.heightPx * 0.05, 6);
    expect(canvas.filmHeightMm).toBeCloseTo(canvas.heightMm * 0.997, 6);
    expect(Math.abs(canvas.filmHeightMm - sheetMm.heightMm)).toBeLessThan(2 * 0.05);
    expect(Math.abs(canvas.filmWidthMm - sheetMm.widthMm)).toBeLessThan(2 * 0.08 + 0.002 * sheetMm.heightMm);
  });

  it('lists parts that are narrower than the kerf, and --strict then writes nothing', async () => {
    desk.put('thin.gbr', layer('Top', '%ADD13R,0.08X1*%D13*X9000000Y1000000D03*'));
    const { code, out } = await layout('thin.gbr', '--board-mm', '20x10', '--no-witness');
    expect(code).toBe(3);
    expect(out).toMatch(/narrow +thin paste 7: asked 0\.080 x 1\.000 mm, comes out 0\.14\d x 1\.000 mm/);
    expect(job('thin').narrow).toMatchObject([{ stencil: 'thin', part: 'paste', opening: 7 }]);
    const strict = await layout(
      'thin.gbr',
      '--board-mm',
      '20x10',
      '--no-witness',
      '--strict',
      '--overwrite',
      '--name',
      'other',
    );
    expect(strict.code).toBe(2);
    expect(strict.said).toContain('--strict was given');
    expect(desk.list('out').filter((name) => name.startsWith('other'))).toEqual([]);
  });

  it('does not tell of a letter that lacks a corner: it can be read', async () => {
    // The foot of the 7 lacks 35 x 38 um at a corner, a third of its stroke.
    const machine = {
      scaleX: 1.00611595,
      scaleY: 0.994756299,
      shear: 0.002671807,
      kerfXMm: 0.138190081,
      kerfYMm: 0.112717049,
    };
    desk.put('laser.json', profileOf(machine));
    const args = ['--board-mm', '40x30', '--board-at-mm', '-10,-10', '--name', '7', '--no-witness'];
    const { code, out } = await layout('board.gbr', ...args, '--strict');
    expect(out).not.toContain('not right');
    expect(code).toBe(0);
  });

  it('tells of the same faults in the same words as correct', async () => {
    desk.put('thin.gbr', layer('Top', '%ADD13R,0.08X1*%D13*X9000000Y1000000D03*'));
    const warningsOf = async (command: string, ...args: string[]) => {
      const { out, said } = await desk.run(
        ...[command, 'thin.gbr', '--profile', 'laser.json', '--out', 'out'],
        ...['--json', ...args],
      );
      const report = [JSON.parse(out)].flat()[0];
      const list = report.warnings as { code: string; message: string; hint: string }[];
      const about = list.filter(({ code }) => code !== 'LETTERING_ENLARGED');
      for (const { message } of about) expect(said).toContain(message);
      return about.map(({ code, message, hint }) => ({ code, message, hint }));
    };
    const alone = ['--board-mm', '20x10', '--no-marks', '--no-witness', '--name', 'a'];
    const corrected = await warningsOf('correct');
    expect(await warningsOf('layout', ...alone)).toEqual(corrected);
    expect(corrected.map(({ code }) => code)).toContain('NARROWER_THAN_KERF');
  });
});

describe('the record of a corrected stencil', () => {
  const correct = (...args: string[]) => desk.run('correct board.gbr --profile laser.json --out out', ...args);

  it('gives width errors with their sign: wider than asked is above zero', async () => {
    await correct('--pitch-mm', '0.0254');
    const { cut, canvas } = desk.json('out/board.job.json');
    expect(canvas.filmWidthMm).toBeCloseTo(canvas.widthMm * 1.004, 6);
    expect(cut.rmsWidthErrorMm).toBeGreaterThanOrEqual(Math.abs(cut.meanWidthErrorMm));
    // In dots of 0.05 mm a pad of 0.505 x 0.525 mm is 7.67 x 8.53 of them less the kerf: one up on both sides, and the
    // other one, of 0.485 x 0.51 mm, 7.27 x 8.22, down on both.
    const meanOf = async (size: string): Promise<number> => {
      desk.put('board.gbr', `%TF.FileFunction,Paste,Top*%%FSLAX46Y46*%%MOMM*%%ADD10R,${size}*%D10*X0Y0D03*M02*`);
      await correct('--overwrite', '--pitch-mm', '0.05');
      return desk.json('out/board.job.json').cut.meanWidthErrorMm;
    };
    expect(await meanOf('0.505X0.525')).toBeGreaterThan(0.015);
    expect(await meanOf('0.485X0.51')).toBeLessThan(-0.01);
  });

  it('a tip sharper than any corner is listed once, gives exit code 3, and --strict refuses it', async () => {
    desk.put(
      'board.gbr',
      '%TF.FileFunction,Paste,Top*%%FSLAX46Y46*%%MOMM*%G36*X0Y0D02*X3000000Y0D01*X0Y300000D01*X0Y0D01*G37*M02*',
    );
    const { code, out } = await correct();
    const { faults, narrow } = desk.json('out/board.job.json');
    expect([...faults, ...narrow].map(({ opening }) => opening)).toEqual([1]);
    expect([code, out]).toEqual([3, expect.stringMatching(/(narrow|not right) +(1|one) (part|opening)/)]);
    const strict = await correct('--strict', '--overwrite');
    expect([strict.code, strict.said]).toEqual([2, expect.stringContaining('--strict was given')]);
  });

  it('a sweep along Y swaps what the canvas measures on the film', async () => {
    await correct('--sweep', 'y');
    const { canvas } = desk.json('out/board.job.json');
    expect(canvas.filmWidthMm).toBeCloseTo(canvas.widthMm * 0.997, 6);
    expect(canvas.filmHeightMm).toBeCloseTo(canvas.heightMm * 1.004, 6);
  });

  it('an opening as wide as the kerf is listed, by correct and by predict', async () => {
    desk.put('laser.json', profileOf({ kerfXMm: 0.2, kerfYMm: 0.25, shear: 0 }));
    desk.put('board.gbr', layer('Top', '%ADD13R,0.2X0.25*%D13*X9000000Y0D03*'));
    const { code } = await correct();
    const record = desk.json('out/board.job.json');
    expect(code).toBe(3);
    expect([...record.faults, ...record.narrow].map(({ opening }) => opening)).toContain(7);
    const look = await desk.run('predict board.gbr --profile laser.json --out look');
    expect([look.code, look.said]).toEqual([3, expect.not.stringContaining('bug')]);
  });
});
