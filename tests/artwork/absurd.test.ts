import { describe, expect, it } from 'vitest';
import { readDrill } from '../../src/artwork/drill/read-drill.js';
import { readArtwork } from '../../src/artwork/read.js';
import { InputError } from '../../src/errors.js';
import { asSharp } from './image/pictures.js';

const gerber = (body: string): Uint8Array => new TextEncoder().encode(`%FSLAX46Y46*%\n%MOMM*%\n${body}\nM02*\n`);
const PADS = '%ADD10C,1*%\nD10*\nX0Y0D03*\nX3000000Y0D03*\nX6000000Y0D03*\n';
const codes = (warnings: readonly { code: string }[]): string[] => warnings.map(({ code }) => code);

async function codesOf(bytes: Uint8Array): Promise<string[]> {
  try {
    return codes((await readArtwork(bytes)).warnings);
  } catch (error) {
    if (error instanceof InputError) return error.problems.map(({ code }) => code);
    throw error;
  }
}

describe('numbers that no layer can have are refused', () => {
  it.each([
    ['a circle of 1e308', '%ADD11C,1e308*%\nD11*\nX0Y0D03*'],
    ['a rectangle of a kilometre', '%ADD11R,1000000X1*%\nD11*\nX0Y0D03*'],
    ['a macro that multiplies up', '%AMBIG*1,1,$1x$1,0,0*%\n%ADD11BIG,9000*%\nD11*\nX0Y0D03*'],
    ['a scale of a million', '%LS1000000*%\nX9000000Y0D03*'],
    ['a step of a kilometre', '%SRX2Y1I1000000J0*%\nX0Y0D03*\n%SR*%'],
    ['a billion copies', '%SRX100000Y100000I1J1*%\nX0Y0D03*\n%SR*%'],
    ['a coordinate of a kilometre', 'X999999000000Y0D03*'],
  ])('%s', async (_, body) => {
    const found = await codesOf(gerber(`${PADS}${body}`));
    expect(found.some((code) => /^(APERTURE_NUMBER|FAR_OUT|COORDINATE|TOO_MUCH|MACRO\w*)$/.test(code))).toBe(true);
  });
});

describe('clear objects that come late', () => {
  const plane = (half: number): string => `%LPC*%\n%ADD11R,${half}X4*%\nD11*\nX0Y0D03*`;
  it('are told of when they hide most of the layer, refused when they hide all', async () => {
    expect(await codesOf(gerber(`${PADS}${plane(8)}`))).toContain('MOSTLY_CLEARED');
    expect(await codesOf(gerber(`${PADS}${plane(40)}`))).toEqual(['NOTHING_DRAWN']);
  });

  it('are as usual when they cut windows', async () => {
    expect(await codesOf(gerber(`${PADS}%LPC*%\n%ADD11R,.2X4*%\nD11*\nX0Y0D03*`))).toEqual([]);
  });
});

describe('what follows the end', () => {
  const drill = (tail: string): Uint8Array =>
    new TextEncoder().encode(`M48\nMETRIC,TZ\nT1C3.000\n%\nT1\nX10.0Y10.0\nM30\n${tail}`);
  it('of a drill file is told of when it has holes', async () => {
    expect(codes((await readDrill(drill('T1\nX20.0Y20.0\nM30\n'))).warnings)).toEqual(['AFTER_END']);
    expect((await readDrill(drill('; the end\n\n'))).warnings).toEqual([]);
  });

  it('of a layer is told of when it draws', async () => {
    const text = (tail: string): Uint8Array => Buffer.concat([gerber(PADS), Buffer.from(tail)]);
    expect(await codesOf(text('X9000000Y0D03*\nM02*\n'))).toEqual(['AFTER_END']);
    expect(await codesOf(text('M02*\nG04 the end*\n'))).toEqual([]);
  });

  it('and absurd drills and holes are refused', async () => {
    for (const text of ['T1C100000\n%\nT1\nX1.0Y1.0', 'T1C3.0\n%\nT1\nX99999999999.0Y1.0'])
      await expect(readDrill(new TextEncoder().encode(`M48\nMETRIC,TZ\n${text}\nM30\n`))).rejects.toMatchObject({
        code: 'DRILL_NUMBER',
      });
  });
});

describe('resolutions that no picture has are refused', () => {
  it.each<[string, number | [number, number]]>([
    ['a million dpi', 1e6],
    ['two dpi', 2],
    ['X and Y 250 times apart', [600, 150_000]],
    ['X and Y 10 times apart', [600, 60]],
  ])('%s', async (_, dpi) => {
    const picture = await asSharp().png().toBuffer();
    await expect(readArtwork(picture, { dpi })).rejects.toMatchObject({ code: 'SIZE_IMPOSSIBLE' });
  });

  it('and what they give is told in a number that says something', async () => {
    const picture = await asSharp().png().toBuffer();
    await expect(readArtwork(picture, { dpi: 1.25e-6 })).rejects.toMatchObject({
      message: expect.stringContaining('--dpi gives 0.0000013 dpi'),
    });
    await expect(readArtwork(picture, { widthMm: 1e9 })).rejects.not.toMatchObject({
      message: expect.stringContaining('gives 0 dpi'),
    });
  });

  it('said by the file too', async () => {
    const picture = await asSharp().tiff({ xres: 40_000, yres: 40_000 }).toBuffer();
    await expect(readArtwork(picture)).rejects.toMatchObject({ code: 'SIZE_IMPOSSIBLE' });
  });

  it('those of fax and of fine plotters are not', async () => {
    const picture = await asSharp().png().toBuffer();
    for (const dpi of [[204, 98], [600, 2400], 25_400] as const)
      expect((await readArtwork(picture, { dpi })).openings).toHaveLength(3);
  });
});
