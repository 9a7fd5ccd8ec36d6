import { zipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { listArchive } from '../../src/artwork/archive/list-archive.js';
import { readDrill } from '../../src/artwork/drill/read-drill.js';
import { readOutline } from '../../src/artwork/gerber/read-outline.js';
import { readArtwork } from '../../src/artwork/read.js';
import { isGrave } from '../../src/cli/exit-codes.js';
import { InputError, type Warning } from '../../src/errors.js';
import { openingCentroid } from '../../src/geometry/area.js';
import { makePdf } from './pdf/make-pdf.js';

/** Codes of what a reader told of, or refused a file for. */
async function codesOf(read: Promise<{ readonly warnings: readonly Warning[] }>): Promise<string[]> {
  try {
    return (await read).warnings.map(({ code }) => code);
  } catch (error) {
    if (error instanceof InputError) return error.problems.map(({ code }) => code);
    throw error;
  }
}

const bytes = (text: string): Uint8Array => Buffer.from(text);
const HEADER = '%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,1*%\n';
const DRAWN = 'D10*\nX0Y0D03*\n';

describe('Gerber', () => {
  it.each([
    ['%ADD5C,1*%\n', 'APERTURE_DEFINITION', 'numbers below 10 are commands'],
    ['%ADD11C,0*%\nD11*\nX5000000Y0D03*\n', 'APERTURE_EMPTY', 'a disc of no size'],
    ['%ADD11C,1a*%\n', 'APERTURE_NUMBER', 'a diameter that is no number'],
    ['G75*\nG02*\nX10000000Y0I2000000J0D01*\n', 'ARC_RADII', 'it begins 2 mm and ends 8 mm from its centre'],
    ['%ABD12*%\nD10*\nX0Y0D03*\n%AB*%\nD12*\nX5000000Y0D01*\n', 'BLOCK_STROKE', 'only circles draw lines'],
    ['%FSLAX45Y45*%\n', 'FORMAT_AGAIN', 'a second format'],
    ['%FSLAX46Y46*%\n', 'FORMAT_AGAIN', 'the head of another file behind this one'],
    ['%FSLAX23Y23*%\nX-0123456Y0D02*\n', 'DIGITS_TOO_MANY', 'five digits are the most of 2.3'],
    ['%ADD10C,1.2*%\n', 'DEFINED_AGAIN', 'a disc of 1 mm and of 1.2 mm'],
    ['%FSQ*%\n', 'FORMAT_UNREADABLE', 'no digits'],
    ['%IR45*%\n', 'IMAGE_ROTATION', 'quarter turns only'],
    ['%SFA0B1*%\n', 'IMAGE_SCALE', 'nothing is left of the picture'],
    ['%OFA1.2.3B0*%\n', 'IMAGE_SCALE', 'no number of millimetres'],
    [`%OFA${'9'.repeat(400)}B0*%\n`, 'IMAGE_SCALE', 'farther than numbers reach'],
    ['%AMM*6,0,0,2,.1,.2,2,.05,2,0*%\n%ADD13M*%\nD13*\nX5000000Y0D03*\n', 'MACRO_MOIRE', 'primitive 6'],
    ['%AM*1,1,1,0,0*%\n', 'MACRO_NAME', 'nothing could call it'],
    ['%AMM*1.5,1,1,0,0*%\n', 'MACRO_PRIMITIVE', 'neither a primitive nor a variable'],
    ['G01*\nG36*\nX0Y0D02*\nX1000000D01*\nX0D01*\nG37*\n', 'REGION_EMPTY', 'there and back'],
    ['%SRX0Y1I1J1*%\n', 'STEP_REPEAT', 'no times'],
    ['%MOIN*%\n', 'UNIT_AGAIN', 'a second unit'],
    ['%MOFT*%\n', 'UNIT_UNKNOWN', 'feet'],
  ])('%j gives %s: %s', async (text, code) => {
    expect(await codesOf(readArtwork(bytes(`${HEADER}${DRAWN}${text}M02*\n`)))).toContain(code);
  });

  it('the same format twice before anything is drawn is no other file', async () => {
    expect(await codesOf(readArtwork(bytes(`${HEADER}${HEADER}${DRAWN}M02*\n`)))).not.toContain('FORMAT_AGAIN');
  });

  it.each([
    ['X0Y0D03*\n', 'APERTURE_NONE', 'no aperture is chosen'],
    ['D10*\nX1000000Y0*\nX0Y0D03*\n', 'OPERATION_MISSING', 'neither draw, move nor flash'],
  ])('first of all %j gives %s: %s', async (text, code) => {
    expect(await codesOf(readArtwork(bytes(`${HEADER}${text}M02*\n`)))).toContain(code);
  });

  it('a decimal point counts for its whole command, and makes the exit code tell (Gerber Layer Format, 4.1: integers)', async () => {
    const { openings, warnings } = await readArtwork(
      bytes(`${HEADER}${DRAWN}X5.0Y2D03*\nX7000000Y3000000D03*\nM02*\n`),
    );
    const centres = openings.map((opening) => openingCentroid(opening).map((at) => Math.round(at * 1e6) / 1e6));
    expect(centres).toEqual(
      expect.arrayContaining([
        [0, 0],
        [5, 2],
        [7, 3],
      ]),
    );
    expect(warnings.filter((warning) => isGrave(warning, {})).map(({ code }) => code)).toEqual(['DECIMAL_POINT']);
  });

  it('each old command is told, not the first alone', async () => {
    const { warnings } = await readArtwork(bytes(`${HEADER}%OFA1B1*%%SFA2B2*%${DRAWN}M02*\n`));
    const told = warnings.filter(({ code }) => code === 'OLD_COMMAND').map(({ message }) => message);
    expect(told).toEqual([expect.stringContaining('OF'), expect.stringContaining('SF')]);
  });

  it('an outline that is something else gives NOT_AN_OUTLINE', async () => {
    await expect(readOutline(bytes('<svg/>'))).rejects.toMatchObject({ code: 'NOT_AN_OUTLINE' });
  });

  it('text of no kind gives NOT_ARTWORK', async () => {
    await expect(readArtwork(bytes('a letter\n'))).rejects.toMatchObject({ code: 'NOT_ARTWORK' });
  });
});

describe('SVG', () => {
  it.each([
    ['<rect width="2" height="2"/><foreignObject width="2" height="2"/>', 'FOREIGN_LEFT_OUT', 'a page in the drawing'],
    [
      '<path d="M1 1h5" stroke="#000" vector-effect="non-scaling-stroke"/>',
      'STROKE_SCALED',
      'widths of the screen have no mm',
    ],
    ['<rect width="2" height="2" fill="#e8e8e8"/>', 'FAINT_COLOURS', 'light grey on white'],
  ])('%s gives %s: %s', async (text, code) => {
    const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">${text}</svg>`;
    expect(await codesOf(readArtwork(bytes(svg)))).toContain(code);
  });
});

describe('PDF', () => {
  it.each([
    ['5 5 5 5 re f 0 w 10 20 m 20 20 l S', 'HAIRLINES', 'as thin as can be drawn'],
    ['5 5 5 5 re f zz', 'PDF_OPERATOR', 'no operator of the standard'],
  ])('%s gives %s: %s', async (content, code) => {
    expect(await codesOf(readArtwork(await makePdf(content)))).toContain(code);
  });
});

describe('drill files', () => {
  it.each([
    ['G93X1.0Y1.0\nX1.0Y1.0', 'ZERO_SET', 'the zero moves'],
    ['G00X0Y0\nM15\nG02X1.0Y1.0\nM16', 'ROUTED_ARC', 'neither radius nor centre'],
  ])('%j gives %s: %s', async (text, code) => {
    const drill = readDrill(bytes(`M48\nMETRIC\nT1C1.0\n%\nT1\n${text}\nM30\n`));
    expect(await codesOf(drill)).toContain(code);
  });
});

describe('archives', () => {
  const paste = bytes(`%TF.FileFunction,Paste,Top*%\n${HEADER}${DRAWN}M02*\n`);
  const outline = bytes(`%TF.FileFunction,Profile,NP*%\n${HEADER}D10*\nX0Y0D02*\nX1000000Y0D01*\nM02*\n`);

  it('two outlines give OUTLINE_TWICE', async () => {
    const zip = zipSync({ 'a.gtp': paste, 'one/a.gko': outline, 'two/a.gko': outline });
    expect(await codesOf(listArchive(zip))).toContain('OUTLINE_TWICE');
  });

  it('an archive in an archive gives NESTED_ARCHIVE', async () => {
    const zip = zipSync({ 'a.gtp': paste, 'b.zip': zipSync({ 'a.gtp': paste }) });
    expect(await codesOf(listArchive(zip))).toContain('NESTED_ARCHIVE');
  });

  it.each([
    ['b.gtl', 'ENTRY_UNREADABLE'],
    ['b.gtp', 'PASTE_UNREADABLE'],
  ])('a file %s that is packed in another way gives %s', async (name, code) => {
    const zip = Buffer.from(zipSync({ 'a.gtp': paste, [name]: paste }, { level: 0 }));
    // The method of the last file in the directory (.ZIP File Format Specification, 4.3.12): 12 is bzip2.
    zip[zip.lastIndexOf('PK\u0001\u0002') + 10] = 12;
    expect(await codesOf(listArchive(zip))).toContain(code);
  });
});
