import { describe, expect, it } from 'vitest';
import { InputError } from '../../../src/errors.js';
import { HEAD, n, readLayer, readText, totalArea } from './write-layer.js';

const PAD = '%ADD10R,1X1*%\nD10*\n';
const codes = (warnings: readonly { code: string }[]): string[] => warnings.map(({ code }) => code);
const raw = (text: string) => readText(text, { name: 'layer.gbr' });

async function refusal(text: string): Promise<InputError> {
  const error = await raw(text).then(
    () => undefined,
    (e: unknown) => e,
  );
  expect(error).toBeInstanceOf(InputError);
  return error as InputError;
}

describe('numbers and units of old files', () => {
  it.each([
    ['leading zeros left out', '%FSLAX24Y24*%%MOIN*%%ADD10R,.04X.04*%D10*X10000Y5000D03*M02*', 25.4, 12.7],
    ['trailing zeros left out', '%FSTAX24Y24*%%MOIN*%%ADD10R,.04X.04*%D10*X01Y005D03*M02*', 25.4, 12.7],
    ['no letter for the zeros', '%FSAX23Y23*%%MOIN*%%ADD10R,.04X.04*%D10*X1000Y500D03*M02*', 25.4, 12.7],
    ['3.3 digits in mm', '%FSLAX33Y33*%%MOMM*%%ADD10R,1X1*%D10*X25400Y12700D03*M02*', 25.4, 12.7],
    ['unit by G70', 'G70*%FSLAX25Y25*%%ADD10R,.04X.04*%D10*X100000Y50000D03*M02*', 25.4, 12.7],
    ['unit by G71', 'G71*%FSLAX34Y34*%%ADD10R,1X1*%D10*X254000Y127000D03*M02*', 25.4, 12.7],
    [
      'G54 before the aperture, G55 before the flash',
      `${HEAD}%ADD10R,1X1*%G54D10*G55X25400000Y12700000D03*M02*`,
      25.4,
      12.7,
    ],
    [
      'lower case, blanks and CRLF',
      '%fslax46y46*%\r\n%momm*%\r\n\r\n%add10r,1x1*%\r\nd10*\r\nx25400000 y12700000 d03*\r\nm02*\r\n',
      25.4,
      12.7,
    ],
    ['no line ends at all', '%FSLAX46Y46*%%MOMM*%%ADD10R,1X1*%D10*X25400000Y12700000D03*M02*', 25.4, 12.7],
    ['several commands in one block', '%FSLAX46Y46*MOMM*ADD10R,1X1*%D10*X25400000Y12700000D03*M02*', 25.4, 12.7],
    ['incremental', `%FSLIX46Y46*%%MOMM*%${PAD}X20000000Y10000000D02*X5400000Y2700000D03*M02*`, 25.4, 12.7],
    ['incremental by G91', `${HEAD}G91*${PAD}X20000000Y10000000D02*X5400000Y2700000D03*M02*`, 25.4, 12.7],
    ['plus signs', `${HEAD}${PAD}X+25400000Y+12700000D03*M02*`, 25.4, 12.7],
    ['offset by OF', `${HEAD}%OFA20.4B10.7*%${PAD}X5000000Y2000000D03*M02*`, 25.4, 12.7],
    ['scaled by SF', `${HEAD}%SFA2B2*%${PAD}X12700000Y6350000D03*M02*`, 25.4, 12.7],
    ['mirrored by MI', `${HEAD}%MIA1B0*%${PAD}X-25400000Y12700000D03*M02*`, 25.4, 12.7],
    ['axes swapped by AS', `${HEAD}%ASAYBX*%${PAD}X12700000Y25400000D03*M02*`, 25.4, 12.7],
    ['turned by IR', `${HEAD}%IR90*%${PAD}X12700000Y-25400000D03*M02*`, 25.4, 12.7],
  ])('%s', async (_name, text, x, y) => {
    const { openings } = await raw(text);
    expect(openings).toHaveLength(1);
    const xs = openings[0].outer.map(([px]) => px);
    const ys = openings[0].outer.map(([, py]) => py);
    expect((Math.min(...xs) + Math.max(...xs)) / 2).toBeCloseTo(x, 6);
    expect((Math.min(...ys) + Math.max(...ys)) / 2).toBeCloseTo(y, 6);
  });

  it('keeps coordinates and operations that are not repeated', async () => {
    const { openings } = await readLayer(`${PAD}X1000000Y2000000D03*\nX4000000*\nY6000000*`);
    expect(openings.map((o) => o.outer[0])).toEqual([
      [0.5, 1.5],
      [3.5, 1.5],
      [3.5, 5.5],
    ]);
  });

  it('defines a macro anew for each flash', async () => {
    const one = (size: number, x: number): string =>
      `%AMM*\n0 a comment, with commas*\n21,1,${size},${size},0,0,0*%\n%ADD10M*%\nD10*\nX${n(x)}Y0D03*\n`;
    expect(totalArea(await readLayer(`${one(1, 0)}${one(2, 5)}${one(3, 10)}`))).toBeCloseTo(14, 9);
  });

  it('reads a single-quadrant arc', async () => {
    const artwork = await readLayer(`%ADD10C,0.2*%\nD10*\nG74*\nX${n(1)}Y0D02*\nG03X0Y${n(1)}I${n(1)}J0D01*`);
    expect(totalArea(artwork)).toBeCloseTo(0.2 * (Math.PI / 2) + Math.PI * 0.01, 4);
  });
});

describe('painted pads and touching objects', () => {
  it('a pad painted with a thousand strokes is one opening', async () => {
    const strokes = Array.from({ length: 1000 }, (_, i) => `X0Y${n(i * 0.002)}D02*\nX${n(3)}D01*`).join('\n');
    const artwork = await readLayer(`%ADD10C,0.01*%\nD10*\n${strokes}`);
    expect(artwork.openings).toHaveLength(1);
    expect(totalArea(artwork)).toBeCloseTo(3.01 * (1.998 + 0.01), 3);
  });

  it('pads that share an edge are one, pads that lie 1 um apart are two', async () => {
    const two = (gap: number): Promise<number> =>
      readLayer(`${PAD}X0Y0D03*\nX${n(1 + gap)}Y0D03*`).then((a) => a.openings.length);
    expect(await two(0)).toBe(1);
    expect(await two(0.001)).toBe(2);
  });

  it('slanted pads whose boxes overlap stay apart, with their points untouched', async () => {
    const artwork = await readLayer('%AMS*\n21,1,0.3,1,0,0,45*%\n%ADD10S*%\nD10*\nX0Y0D03*\nX500000Y0D03*');
    expect(artwork.openings).toHaveLength(2);
    expect(artwork.openings[1].outer.map(([x]) => x - 0.5)).toEqual(
      artwork.openings[0].outer.map(([x]) => expect.closeTo(x, 12)),
    );
  });

  it('clear objects erase only what was painted before them', async () => {
    const artwork = await readLayer(
      `${PAD}X0Y0D03*\n%LPC*%\n%ADD11R,0.4X2*%\nD11*\nX0Y0D03*\n%LPD*%\nD10*\nX5000000Y0D03*`,
    );
    expect(artwork.openings).toHaveLength(3);
    expect(totalArea(artwork)).toBeCloseTo(0.6 + 1, 9);
  });
});

describe('what is refused, and what is warned of', () => {
  it.each([
    ['a copper layer', `${HEAD}%TF.FileFunction,Copper,L1,Top*%${PAD}X0Y0D03*M02*`, 'WRONG_LAYER'],
    ['an undefined aperture', `${HEAD}D11*X0Y0D03*M02*`, 'APERTURE_UNDEFINED'],
    ['no coordinate format', `%MOMM*%${PAD}X0Y0D03*M02*`, 'FORMAT_MISSING'],
    ['a file cut off in a command', `${HEAD}${PAD}X0Y0D03*X1000`, 'FILE_CUT_OFF'],
    ['a negative image', `${HEAD}%IPNEG*%${PAD}X0Y0D03*M02*`, 'IMAGE_NEGATIVE'],
    ['nothing drawn', `${HEAD}${PAD}M02*`, 'NOTHING_DRAWN'],
    ['an unknown macro', `${HEAD}%ADD10NOSUCH,1*%D10*X0Y0D03*M02*`, 'APERTURE_TEMPLATE'],
    ['a huge step and repeat', `${HEAD}${PAD}%SRX99999Y99999I1J1*%X0Y0D03*%SR*%M02*`, 'TOO_MUCH'],
  ])('%s', async (_name, text, code) => {
    const error = await refusal(text);
    expect(error.problems.map((p) => p.code)).toContain(code);
    expect(error.message).toContain('layer.gbr');
  });

  it('reads another layer when told to', async () => {
    const text = `${HEAD}%TF.FileFunction,Copper,L1,Top*%${PAD}X0Y0D03*M02*`;
    expect((await readText(text, { acceptAnyLayer: true })).openings).toHaveLength(1);
  });

  it('names an unknown command with its line, never in silence', async () => {
    const { warnings } = await readLayer(`${PAD}%XYZ1*%\nG99*\nX0Y0D03*`);
    const unknown = warnings.filter((w) => w.code === 'UNKNOWN_COMMAND');
    expect(unknown).toHaveLength(2);
    expect(unknown[0].place?.line).toBe(5);
  });

  it('tells of a missing end, of data after the end, and of a unit that had to be assumed', async () => {
    expect(codes((await raw(`${HEAD}${PAD}X0Y0D03*\n`)).warnings)).toContain('END_MISSING');
    expect(codes((await raw(`${HEAD}${PAD}X0Y0D03*M02*X5000000D03*`)).warnings)).toContain('AFTER_END');
    expect(codes((await raw(`%FSLAX24Y24*%%ADD10R,.04X.04*%D10*X0Y0D03*M02*`)).warnings)).toContain('UNIT_ASSUMED');
  });

  it('points out frames and drawn text among flashed lands', async () => {
    const pads = Array.from({ length: 20 }, (_, i) => `X${n(2 * i)}Y${n(5)}D03*`).join('\n');
    const frame = `%ADD11C,0.2*%\nD11*\nX${n(-5)}Y${n(-5)}D02*\nX${n(45)}D01*\nY${n(15)}D01*\nX${n(-5)}D01*\nY${n(-5)}D01*`;
    const { warnings } = await readLayer(`${PAD}${pads}\n${frame}\nX${n(3)}Y${n(9)}D02*\nX${n(4)}D01*`);
    expect(codes(warnings)).toContain('LOOKS_LIKE_FRAME');
    expect(codes(warnings)).toContain('LOOKS_LIKE_DRAWING');
  });
});
