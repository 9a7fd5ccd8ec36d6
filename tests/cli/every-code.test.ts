import sharp from 'sharp';
import { beforeEach, describe, expect, it } from 'vitest';
import { askAtPrompt } from '../../src/cli/ask.js';
import { runEnter } from '../../src/cli/enter/run.js';
import { processIo } from '../../src/cli/io.js';
import { fitCalibration } from '../../src/fit/calibration/fit-sessions.js';
import { fitWindow } from '../../src/fit/window/fit-window.js';
import { logistic } from '../../src/fit/window/logistic.js';
import { rectangle, solid } from '../../src/geometry/shapes.js';
import { openSheet } from '../../src/readings/fill-in.js';
import { makeStencil, writeStencil } from '../../src/stencil/make-stencil.js';
import { benchFeatures, type Machine, readAll } from '../fit/calibration/virtual-bench.js';
import { gridCells } from '../fit/window/grid-cells.js';
import { seeded } from '../virtual-laser/random.js';
import { bench, featuresOf, layer, profileOf } from './bench.js';

/** What is told of something: a problem or a warning, as JSON. */
interface Told {
  readonly code: string;
  readonly message: string;
  readonly hint?: string;
  readonly place?: object;
}

const desk = bench({ 'board.gbr': layer(), 'laser.json': profileOf() });

/** Everything with that code in what a command printed as JSON. */
function find(value: unknown, code: string): Told[] {
  if (typeof value !== 'object' || value === null) return [];
  const own = (value as Told).code === code && typeof (value as Told).message === 'string' ? [value as Told] : [];
  return [...own, ...Object.values(value).flatMap((part) => find(part, code))];
}

/** The first that a command tells with that code. */
async function told(line: string, code: string): Promise<Told & { readonly exit: number }> {
  const { out, said, code: exit } = await desk.run(`${line} --json`);
  const [one] = find(JSON.parse(out), code);
  expect(one, `${line}\n${out}\n${said}`).toBeDefined();
  return { ...one, exit };
}

/** An error of which one problem says all that. */
const problem = (told: object) => expect.objectContaining({ problems: [expect.objectContaining(told)] });

const CORRECT = '--profile laser.json --out results';
const gerber = (body: string, head = '%TF.FileFunction,Paste,Top*%'): string =>
  `${head}%FSLAX46Y46*%%MOMM*%${body}M02*\n`;
const assumedFit = (over: object) => {
  const profile = JSON.parse(profileOf());
  return JSON.stringify({ ...profile, fit: { ...profile.fit, model: 'fitted', ...over } });
};
const unread = (value: number) => ({ value, stdUncertainty: null, assumed: true });

describe('artwork', () => {
  it('is told of when its file says that it is negative', async () => {
    desk.put(
      'negative.gbr',
      gerber('%ADD10R,0.5X0.6*%D10*X0Y0D03*X2000000Y0D03*', '%TF.FilePolarity,Negative*%%TF.FileFunction,Paste,Top*%'),
    );
    const one = await told(`correct negative.gbr ${CORRECT}`, 'FILE_NEGATIVE');
    expect(one).toMatchObject({
      message: expect.stringContaining('polarity is negative'),
      hint: expect.stringContaining('predict'),
    });
  });

  it('a drawing that says its size has no use for a resolution', async () => {
    desk.put(
      'pads.svg',
      '<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="0 0 20 10"><rect x="5" y="5" width="1" height="0.5"/></svg>',
    );
    const one = await told(`correct pads.svg ${CORRECT} --dpi 300`, 'DPI_NOT_USED');
    expect(one).toMatchObject({
      message: expect.stringContaining('in mm'),
      hint: expect.stringContaining('--width-mm'),
    });
  });

  it('an image of 72 dpi is told of with its width, and a speck of one pixel by its number', async () => {
    const dark = (width: number, height: number) => ({
      create: { width, height, channels: 3 as const, background: '#000' },
    });
    const image = sharp({ create: { width: 300, height: 200, channels: 3, background: '#fff' } }).composite([
      { input: dark(40, 30), left: 100, top: 80 },
      { input: dark(1, 1), left: 10, top: 10 },
    ]);
    desk.put('pads.png', await image.png().withMetadata({ density: 72 }).toBuffer());
    const coarse = await told(`correct pads.png ${CORRECT} --pitch-mm 0.0254`, 'RESOLUTION_COARSE');
    expect(coarse).toMatchObject({
      message: expect.stringMatching(/72.*105\.8\d? mm wide/),
      hint: expect.stringContaining('--dpi'),
      exit: 3,
    });
    const speck = await told(`correct pads.png ${CORRECT} --overwrite`, 'SPECKS');
    expect(speck).toMatchObject({
      message: expect.stringContaining('specks of one pixel'),
      openings: [1],
      hint: expect.stringContaining('--drop-specks-mm'),
    });
  });

  it('a bitmap of 16 colours in a compression that is not read is refused with what it is', async () => {
    const bytes = Buffer.alloc(54 + 200);
    bytes.write('BM');
    bytes.writeUInt32LE(bytes.length, 2);
    for (const [at, value] of [
      [10, 54],
      [14, 40],
      [18, 10],
      [22, 10],
      [34, 200],
    ])
      bytes.writeUInt32LE(value, at);
    bytes.writeUInt16LE(1, 26);
    bytes.writeUInt16LE(16, 28);
    bytes.writeUInt32LE(4, 30);
    desk.put('pads.bmp', bytes);
    const one = await told(`correct pads.bmp ${CORRECT} --dpi 600`, 'IMAGE_UNSUPPORTED');
    expect(one).toMatchObject({
      message: expect.stringMatching(/16 bits.*compression 4/),
      hint: expect.stringContaining('PNG'),
      exit: 2,
    });
  });
});

describe('a stencil', () => {
  it('that is corrected already, and a coupon, are told of when they are given as artwork', async () => {
    await desk.run('correct board.gbr --profile laser.json --out .');
    const again = await told(`correct board.png ${CORRECT}`, 'ALREADY_CORRECTED');
    expect(again).toMatchObject({
      message: expect.stringContaining('too narrow by the kerf'),
      hint: expect.stringContaining('artwork'),
      exit: 3,
    });
    const { said } = await desk.run('correct board.png --profile laser.json --out twice');
    expect(said).not.toContain('next:');
    await desk.run('coupon witness --width-mm 20 --height-mm 20 --pitch-mm 0.0254 --out .');
    const coupon = await told(`correct witness.png ${CORRECT}`, 'IS_COUPON');
    expect(coupon).toMatchObject({
      message: expect.stringContaining('cut as they are'),
      hint: expect.stringContaining('coupon'),
      exit: 3,
    });
  });

  it('in dots that are far too coarse says by how much', async () => {
    const one = await told(`correct board.gbr ${CORRECT} --pitch-mm 0.3`, 'COARSE_DOTS');
    expect(one).toMatchObject({
      message: expect.stringMatching(/0\.3 x 0\.3 mm are too coarse.*off by \d+ %/),
      hint: expect.stringContaining('--pitch-mm'),
    });
    const fault = await told(`correct board.gbr ${CORRECT} --pitch-mm 0.3 --overwrite`, 'NOT_AS_ASKED');
    expect(fault).toMatchObject({
      message: expect.stringMatching(/openings do not come out as asked/),
      hint: expect.stringContaining('finer pitch'),
      exit: 3,
    });
  });

  it('made with numbers that nobody read says which, and gravely so where they matter', async () => {
    desk.put('laser.json', assumedFit({ kerfXMm: unread(0), kerfYMm: unread(0) }));
    const kerf = await told(`correct board.gbr ${CORRECT}`, 'KERF_UNKNOWN');
    expect(kerf).toMatchObject({
      message: expect.stringContaining('too wide by the whole kerf'),
      hint: expect.stringContaining('aperture-ladder'),
      exit: 3,
    });
    desk.put('laser.json', assumedFit({ scaleX: unread(1) }));
    const scale = await told(`correct board.gbr ${CORRECT} --overwrite`, 'NUMBERS_ASSUMED');
    expect(scale).toMatchObject({ message: expect.stringContaining('scale X'), exit: 3 });
    desk.put('laser.json', assumedFit({ shear: unread(0) }));
    const shear = await told(`correct board.gbr ${CORRECT} --overwrite`, 'SHEAR_ASSUMED');
    expect(shear).toMatchObject({ message: expect.stringContaining('shear'), exit: 0 });
  });

  it('made with numbers that are hardly known says so, by how large the stencil is', async () => {
    const unsure = (scale: number, kerf: number): string => {
      const profile = JSON.parse(profileOf());
      profile.fit.scaleX.stdUncertainty = scale;
      profile.fit.kerfYMm.stdUncertainty = kerf;
      return JSON.stringify(profile);
    };
    for (const command of ['correct', 'predict', 'layout']) {
      desk.put('laser.json', unsure(0.02, 0.05));
      const doubt = await told(`${command} board.gbr ${CORRECT} --overwrite`, 'PROFILE_UNSURE');
      // The board of 13 mm at 1.96 x 2 %; a kerf at 1.96 x 50 um.
      expect(doubt).toMatchObject({
        message: expect.stringMatching(/places over 13 mm across X ± 0\.49 mm; widths across Y ± 0\.10 mm \(95 %\)/),
        hint: expect.stringContaining('apertrue fit'),
        exit: 3,
      });
    }
    desk.put('laser.json', unsure(0.005, 0.02));
    expect((await desk.run(`correct board.gbr ${CORRECT} --overwrite`)).code).toBe(0);
  });

  it('of openings that hold loose film says that it falls out', async () => {
    const d = 'M2 2h4v4h-4z M3 3h2v2h-2z M8 2h1v1h-1z';
    desk.put('ring.svg', `<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="0 0 20 10"><path fill-rule="evenodd" d="${d}"/></svg>`); // biome-ignore format: one drawing
    for (const command of ['correct', 'predict', 'layout']) {
      const ring = await told(`${command} ring.svg ${CORRECT} --overwrite`, 'FILM_FALLS_OUT');
      expect(ring).toMatchObject({
        message: expect.stringContaining('one opening holds film that hangs on nothing'),
        hint: expect.stringContaining('webs'),
        exit: 3,
      });
    }
  });

  it('never replaces what it is made from, and an option without effect is refused', async () => {
    await desk.run('correct board.gbr --profile laser.json --out .');
    const one = await told('correct board.png --profile laser.json --out . --overwrite', 'WOULD_REPLACE_INPUT');
    expect(one).toMatchObject({
      place: { file: 'board.png' },
      message: expect.stringContaining('it is made from'),
      hint: expect.stringContaining('--out'),
      exit: 2,
    });
    const idle = await told(`correct board.gbr ${CORRECT} --at-mm 1,1`, 'OPTION_WITHOUT_EFFECT');
    expect(idle).toMatchObject({
      place: { key: '--at-mm' },
      message: expect.stringContaining('no fixed canvas'),
      hint: expect.stringContaining('--canvas-mm'),
      exit: 2,
    });
  });

  it('without some of its openings: those are there, some are left, and they are of one artwork', async () => {
    const unknown = await told(`correct board.gbr ${CORRECT} --drop 5-8`, 'NO_SUCH_OPENING');
    expect(unknown).toMatchObject({
      place: { file: 'board.gbr', key: '--drop' },
      message: expect.stringMatching(/no openings 7-8; .*has 6 openings/),
      hint: expect.stringContaining('apertrue number'),
    });
    const none = await told(`correct board.gbr ${CORRECT} --drop 1-6`, 'NOTHING_LEFT');
    expect(none).toMatchObject({ message: expect.stringContaining('every opening'), hint: expect.any(String) });
    desk.put('under.gbr', layer('Bot'));
    const many = await told(`correct board.gbr under.gbr ${CORRECT} --drop 1`, 'OPTION_FOR_ONE_FILE');
    expect(many).toMatchObject({
      place: { key: '--drop' },
      message: expect.stringContaining('2 were given'),
      hint: expect.stringContaining('alone'),
      exit: 2,
    });
  });

  it('on a sheet has no paste where the witness coupon is cut', async () => {
    const one = await told(
      `layout board.gbr ${CORRECT} --format svg --board-mm 20x6 --board-at-mm -14,15`,
      'PASTE_IN_MARGIN',
    );
    expect(one).toMatchObject({
      place: { file: 'board.gbr' },
      message: expect.stringMatching(/paste opening.* \d.*witness/),
      hint: expect.stringContaining('--no-witness'),
      exit: 2,
    });
  });

  it('on a sheet has letters that can be cut', async () => {
    const one = await told(`layout board.gbr ${CORRECT} --format svg --lettering-mm 0.4`, 'LETTERING_ENLARGED');
    expect(one).toMatchObject({
      message: expect.stringMatching(/0\.4 mm high would close.*cut \d\.\d\d mm high/),
      hint: expect.stringContaining('--lettering-mm'),
    });
  });
});

describe('rules', () => {
  const rules = (...list: object[]): string =>
    JSON.stringify({ format: 'apertrue-rules', version: 1, name: 'mine', rules: list });

  it('name a word that is not known, with the nearest one', async () => {
    desk.put('rules.json', rules({ name: 'less', select: {}, action: { kind: 'shrink', perSideMm: 'widht / 20' } }));
    const one = await told('treat board.gbr --rules rules.json --thickness-mm 0.1 --out results', 'BAD_EXPRESSION');
    expect(one).toMatchObject({
      message: expect.stringContaining('widht'),
      hint: expect.stringContaining('width'),
      exit: 2,
    });
  });

  it('without the limit that they rest on do nothing, and webs that stay thin are told of', async () => {
    desk.put('rules.json', rules({ name: 'open enough', select: {}, action: { kind: 'widen' } }));
    const one = await told('treat board.gbr --rules rules.json --thickness-mm 0.1 --out results', 'RULE_WITHOUT_LIMIT');
    expect(one).toMatchObject({
      message: expect.stringContaining('"open enough" did nothing'),
      hint: expect.stringContaining('"toMm"'),
    });
    desk.put('thin.gbr', gerber('%ADD10R,0.5X0.6*%D10*X0Y0D03*X560000Y0D03*'));
    const thin = await told('treat thin.gbr --rules rules.json --thickness-mm 0.1 --out results', 'WEB_STAYS_THIN');
    expect(thin).toMatchObject({ message: expect.stringMatching(/2 openings.*web below 0\.1 mm/), openings: [1, 2] });
  });
});

describe('readings', () => {
  const machine: Machine = [1.0021, 0.9978, 0.003, 0.141, 0.118];
  const features = benchFeatures();
  const featuresText = featuresOf(features);
  const rows = readAll(features, machine, seeded(4));
  const csv = (read: readonly { feature: string; readingMm: number }[], gauge = '', form = ''): string =>
    `${form}feature,reading_mm,gauge\n${read.map(({ feature, readingMm }) => `${feature},${readingMm.toFixed(3)},${gauge}`).join('\n')}\n`;
  beforeEach(() => {
    desk.put('bench.features.json', featuresText);
    desk.put('second.features.json', featuresText);
  });

  it('of films cut otherwise are not fitted together', async () => {
    desk.put('bench.readings.csv', csv(rows, '', '# power: 40 %\n'));
    desk.put('second.readings.csv', csv(rows, '', '# power: 50 %\n'));
    const one = await told('fit bench.readings.csv second.readings.csv --out p.json', 'FORMS_DIFFER');
    expect(one).toMatchObject({
      message: expect.stringMatching(/50.*bench.*40/),
      hint: expect.stringContaining('cut alike'),
      exit: 2,
    });
    // As programs show it: 236 inches a minute are 99.9 mm/s.
    desk.put('bench.readings.csv', csv(rows, '', '# speed: 100 mm/s\n'));
    desk.put('second.readings.csv', csv(readAll(features, machine, seeded(5)), '', '# speed: 236in/min\n'));
    const { code } = await desk.run('fit bench.readings.csv second.readings.csv --out p.json');
    expect(code).toBe(0);
    desk.put('second.readings.csv', csv(readAll(features, machine, seeded(6)), '', '# speed: 120 mm/s\n'));
    const added = await told('fit second.readings.csv --add-to p.json --date 2031-05-05', 'FORMS_DIFFER');
    expect(added).toMatchObject({
      message: expect.stringMatching(/this file says 120, and \S*p\.json says 100\./),
      exit: 2,
    });
  });

  it('of coupons with other dots are not fitted together, and unlike canvases are named', async () => {
    const other = (canvas: object): string => {
      const file = JSON.parse(featuresText);
      return JSON.stringify({ ...file, coupon: 'other', canvas: { ...file.canvas, ...canvas } });
    };
    const own = readAll(features, machine, seeded(5));
    desk.put('bench.readings.csv', csv(rows));
    desk.put('second.readings.csv', csv(own));
    desk.put('second.features.json', other({ pitchXMm: 0.0508, pitchYMm: 0.0508 }));
    const dots = {
      message: expect.stringMatching(
        /dots lie 0\.0508 x 0\.0508 mm apart, those of \S+ 0\.0254 x 0\.0254 mm.*not cut alike/,
      ),
      exit: 2,
    };
    expect(await told('fit bench.readings.csv second.readings.csv --out p.json', 'FORMS_DIFFER')).toMatchObject(dots);
    expect((await desk.run('fit bench.readings.csv --out p.json')).code).toBe(0);
    expect(await told('fit second.readings.csv --add-to p.json', 'FORMS_DIFFER')).toMatchObject(dots);
    desk.put('second.features.json', other({ widthMm: 110, heightMm: 110 }));
    const canvases = /warning: bench was made for a canvas of 150\.0 x 100\.0 mm, other for one of 110\.0 x 110\.0 mm/;
    expect((await desk.run('fit bench.readings.csv second.readings.csv')).said).toMatch(canvases);
  });

  it('in inches are told by their size', async () => {
    desk.put('bench.readings.csv', csv(rows.map((row) => ({ ...row, readingMm: row.readingMm / 25.4 }))));
    const one = await told('fit bench.readings.csv --out p.json', 'OTHER_UNIT');
    expect(one).toMatchObject({
      message: expect.stringContaining('inches'),
      hint: expect.stringContaining('behind each number'),
      exit: 2,
    });
  });

  it('that are in the profile already are not taken twice', async () => {
    desk.put('bench.readings.csv', csv(rows));
    await desk.run('fit bench.readings.csv --out p.json');
    const one = await told('fit bench.readings.csv --add-to p.json --out q.json', 'READINGS_KNOWN');
    expect(one).toMatchObject({
      message: expect.stringContaining('in the profile already'),
      hint: expect.stringContaining('--date'),
      exit: 2,
    });
    desk.put('copy.readings.csv', csv(rows));
    desk.put('copy.features.json', featuresText);
    const copy = await told('fit bench.readings.csv copy.readings.csv --out q.json', 'READINGS_KNOWN');
    expect(copy).toMatchObject({ message: expect.stringMatching(/in \S*bench\.readings\.csv as well\.$/), exit: 2 });
    // No other day gives the same lengths, all of them.
    const later = await told('fit bench.readings.csv --add-to p.json --out q.json --date 2031-05-05', 'READINGS_KNOWN');
    expect(later).toMatchObject({ message: expect.stringContaining('in the profile already'), exit: 2 });
    // A few may be chance: that is told.
    const few = rows.slice(0, 8);
    desk.put('second.readings.csv', csv(few));
    await desk.run('fit bench.readings.csv --date 2031-04-04 --out first.json');
    await desk.run('fit second.readings.csv --add-to first.json --date 2031-05-05 --out next.json');
    const sameAgain = /warning: the readings of bench are to the digit those of 2031-05-05: if they are the same ones/;
    const again = await desk.run('fit second.readings.csv --add-to next.json --date 2031-06-06');
    expect(again.said).toMatch(sameAgain);
    desk.put('second.readings.csv', csv(few.map((row, i) => ({ ...row, readingMm: row.readingMm + 0.01 * (i % 2) }))));
    expect((await desk.run('fit second.readings.csv --add-to next.json --date 2031-06-06')).said).not.toMatch(
      sameAgain,
    );
  });

  it('whose widths are all read too wide tell the zero of their gauge', async () => {
    const widths = new Set(features.filter(({ kind }) => kind !== 'span').map(({ id }) => id));
    const off = rows.map((row) => (widths.has(row.feature) ? { ...row, readingMm: row.readingMm + 0.03 } : row));
    desk.put('bench.readings.csv', csv(off));
    const zero = await told('fit bench.readings.csv --out p.json', 'GAUGE_ZERO_OFF');
    expect(zero).toMatchObject({
      message: expect.stringMatching(/(29|30|31)\.\d ± .* µm too much/),
      // Openings and webs can't tell a gauge's zero from webs that burn otherwise than openings.
      hint: expect.stringMatching(
        /zero of the gauge.* If both are right, webs lose (58|59|6\d)\.\d µm less than openings/,
      ),
    });
  });

  it('with openings and webs mixed up give a kerf below nothing', async () => {
    const narrower = readAll(features, [1.0021, 0.9978, 0.003, 0, 0], seeded(5)).map((row, i) => {
      const more = { span: 0, opening: -0.02, web: 0.02 }[features[i].kind as 'span' | 'opening' | 'web'];
      return { ...row, readingMm: row.readingMm + more };
    });
    desk.put('bench.readings.csv', csv(narrower));
    const one = await told('fit bench.readings.csv --out p.json', 'KERF_BELOW_ZERO');
    expect(one).toMatchObject({
      message: expect.stringMatching(/kerf [XY] comes out as -0\.0/),
      hint: expect.stringContaining('mixed up'),
    });
  });

  it('that are few say so; along Y only they say nothing of X', async () => {
    const some = features.filter(({ kind }) => kind === 'span').slice(0, 3);
    const few = [
      ...some,
      ...features.filter(({ kind, from, to }) => kind === 'span' && from[0] === to[0]).slice(0, 2),
      ...features.filter(({ kind }) => kind === 'opening').slice(0, 3),
    ];
    const taken = new Set(few.map(({ id }) => id));
    desk.put('bench.readings.csv', csv(rows.filter(({ feature }) => taken.has(feature))));
    const one = await told('fit bench.readings.csv --out p.json', 'FEW_READINGS');
    expect(one).toMatchObject({
      message: expect.stringMatching(/more than fitted numbers/),
      hint: expect.stringContaining('more features'),
    });
    expect(await told('fit bench.readings.csv --out lone.json', 'LONE_READING')).toMatchObject({
      message: expect.stringMatching(/^kerf Y: by O\d+ alone, so a slip in it would not be seen/),
      exit: 3,
    });
    // A scan that says how sure it is makes no slips.
    const [head, ...lines] = desk.text('bench.readings.csv').trimEnd().split('\n');
    const scanned = [`${head},uncertainty_mm`, ...lines.map((line) => `${line},0.002`)].join('\n');
    desk.put('bench.readings.csv', `${scanned}\n`);
    expect((await desk.run('fit bench.readings.csv --out scanned.json --json')).out).not.toContain('LONE_READING');
    const upright = new Set(features.filter(({ from, to }) => from[0] === to[0]).map(({ id }) => id));
    desk.put('bench.readings.csv', csv(rows.filter(({ feature }) => upright.has(feature))));
    const y = await told('fit bench.readings.csv --out q.json', 'SCALE_X_NOT_TOLD');
    expect(y).toMatchObject({
      message: expect.stringContaining('scale X'),
      hint: expect.stringContaining('nothing can be said'),
    });
  });

  it('of another coupon contradict each other', async () => {
    const random = seeded(9);
    const values = rows.map(({ readingMm }) => readingMm).sort(() => random() - 0.5);
    desk.put('bench.readings.csv', csv(rows.map((row, i) => ({ ...row, readingMm: values[i] }))));
    const one = await told('fit bench.readings.csv --out p.json', 'READINGS_CONTRADICT');
    expect(one).toMatchObject({
      message: expect.stringContaining('no scale and kerf'),
      hint: expect.stringContaining('features file'),
      exit: 2,
    });
  });

  it('are looked for by the name of their coupon, and written into a table with columns for them', async () => {
    await expect(runEnter('bench', {}, processIo())).rejects.toEqual(
      problem({
        code: 'COUPON_NOT_FOUND',
        message: expect.stringContaining('bench.readings.csv'),
        hint: expect.stringContaining('Built-in coupons are'),
      }),
    );
    desk.put('bench.readings.csv', 'name,length\nS0,140\n');
    const text = desk.text('bench.readings.csv');
    expect(() => openSheet(text, 'bench.readings.csv')).toThrow(
      problem({
        code: 'SHEET_NOT_PLAIN',
        message: expect.stringContaining('feature, reading_mm and outcome'),
        hint: expect.stringContaining('blank one'),
      }),
    );
  });

  it('that are missing are named with what to do', () => {
    expect(() => fitCalibration([...rows.slice(1), { feature: rows[0].feature }], features)).toThrow(
      problem({
        code: 'READING_MISSING',
        message: expect.stringContaining(rows[0].feature),
        hint: expect.stringContaining('delete the row'),
      }),
    );
  });

  it('of a question that nobody answers say which option would do', async () => {
    const nobody = async () => undefined;
    await expect(askAtPrompt(nobody, 'Which laser?', (text) => text, '--laser', processIo())).rejects.toEqual(
      problem({
        code: 'ANSWER_MISSING',
        place: { key: '--laser' },
        hint: expect.stringContaining('--laser'),
      }),
    );
  });
});

describe('a process window', () => {
  const cells = gridCells([20, 40, 60, 80], [5, 10, 20, 40]);

  it('that is more luck than law is told as such', () => {
    const rows = ['MUTU', 'MTUU', 'MMUU', 'MMMU'];
    const outcomes = { M: 'marked', U: 'uncut', T: 'through' } as const;
    const readings = cells.map(({ id }, i) => ({
      feature: id,
      outcome: outcomes[rows.join('')[i] as keyof typeof outcomes],
    }));
    const { warnings } = fitWindow(readings, cells);
    expect(warnings).toContainEqual(
      expect.objectContaining({
        code: 'UNCERTAIN_WINDOW',
        message: expect.stringMatching(/probability of only \d+ %/),
        hint: expect.stringContaining('finer'),
      }),
    );
  });

  it('a likelihood without a maximum, and one that does not come to rest, are no numbers', () => {
    // No line parts these, but numbers of such different size leave the maximum out of reach.
    const far = [[1, 2, 4], [1, 3, 2e6], [1, 3, 0], [1, 2e7, 4], [1, 0, 4]]; // biome-ignore format: a table
    expect(() => logistic(far, [0, 0, 0, 1, 1])).toThrow(
      problem({ code: 'NO_MAXIMUM', hint: expect.stringContaining('firth') }),
    );
    const mistyped = [0, 3, 1, 3000, 1, 3, 5, 4].map((x) => [1, x]);
    expect(() => logistic(mistyped, [0, 0, 0, 0, 1, 0, 1, 0], { penalty: 'firth' })).toThrow(
      problem({ code: 'NOT_CONVERGED', hint: expect.stringContaining('mistyped') }),
    );
  });
});

describe('the library', () => {
  const fit = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.1, kerfYMm: 0.1 };
  const openings = [solid(rectangle(0, 0, 1, 1)), solid(rectangle(200, 0, 201, 1))];
  const pitchMm = { x: 0.1, y: 0.1 };

  it('writes only what a stencil was made for', async () => {
    const stencil = makeStencil({ openings: openings.slice(1) }, fit, { pitchMm, formats: ['png'] });
    await expect(writeStencil(stencil, { format: 'svg' })).rejects.toEqual(
      problem({
        code: 'NOT_MADE_FOR_FORMAT',
        message: expect.stringContaining('without paths, which svg'),
        hint: expect.stringContaining('formats'),
      }),
    );
  });

  it('tells of a stencil that is larger than what was read', () => {
    const features = benchFeatures();
    const readings = readAll(features, [1, 1, 0, 0.1, 0.1], seeded(1));
    const sessions = [{ coupon: 'bench', features, readings }];
    const { warnings } = makeStencil({ openings }, { ...fit, sessions }, { pitchMm, formats: ['png'] });
    expect(warnings).toContainEqual(
      expect.objectContaining({
        code: 'BEYOND_CALIBRATED',
        message: expect.stringMatching(/span 201 x 1 mm.*spans over 140 x 9\d mm/),
        hint: expect.stringContaining('scale-ruler'),
      }),
    );
  });
});
