import { describe, expect, it } from 'vitest';
import { readArtwork } from '../../../src/artwork/read.js';
import type { Artwork } from '../../../src/artwork/types.js';
import { readText } from './write-layer.js';

const codes = ({ warnings }: Artwork): string[] => [...new Set(warnings.map((w) => w.code))];
const box = ({ bounds }: Artwork): number[] =>
  [bounds?.minX, bounds?.minY, bounds?.maxX, bounds?.maxY].map((v) => Number(v?.toFixed(4)));

const MM = '%FSLAX33Y33*%\n%MOMM*%\n%ADD10R,1X0.5*%\n';
const ONE = [0.5, 0.25, 1.5, 0.75];

/** What programs of thirty years write, all meaning one pad of 1 x 0.5 mm at (1, 0.5). Common practice, no source. */
describe('ways to write the same pad', () => {
  it.each([
    ['sequence numbers', 'N01*\n%FSLAX33Y33*%\n%MOMM*%\n%ADD10R,1X0.5*%\nN0010G54D10*\nN0020X1000Y500D03*\nN0030M02*'],
    ['blanks within commands', '%FSLAX33Y33*%\n%MOMM*%\n%ADD10R,1X0.5*%\nD10 *\nX 1000 Y 500 D03 *\nM02 *'],
    ['small letters', '%fslax33y33*%%momm*%%add10r,1x0.5*%d10*x1000y500d03*m02*'],
    ['signs and zeros', `${MM}D10*X+001000Y+000500D03*M02*`],
    ['lines broken anywhere', `${MM}D10*X10\n00Y500D0\n3*M02*`],
    ['short codes', `${MM}D10*G1X1000Y500D3*M2*`],
    ['D03 on its own', `${MM}D10*X1000Y500D02*D03*M02*`],
    [
      'everything in one block',
      '%FSLAX33Y33*MOMM*OFA0B0*SFA1.0B1.0*MIA0B0*ASAXBY*IPPOS*IR0*LNx*ADD10R,1X0.5*%D10*X1000Y500D03*M02*',
    ],
    ['digit counts of the oldest files', '%FSLAN2G2X33Y33D2M2*%%MOMM*%%ADD10R,1X0.5*%D10*X1000Y500D03*M02*'],
    ['a percent sign in a comment', `G04 100% paste*\n${MM}D10*X1000Y500D03*M02*`],
    [
      'a macro and its aperture in one block',
      '%FSLAX33Y33*%%MOMM*%%AMQ*0 a land, 1 by 0.5*21,1,$1,$1/2,0,0,0*ADD10Q,1*%D10*X1000Y500D03*M02*',
    ],
    [
      'a macro whose name begins with a digit',
      '%FSLAX33Y33*%%MOMM*%%AM3Q*21,1,1,.5,0,0,0*%%ADD103Q*%D10*X1000Y500D03*M02*',
    ],
    ['step and repeat switched off', `${MM}%SRX1Y1I0J0*%\nD10*X1000Y500D03*M02*`],
    ['an aperture that is chosen but not used', `${MM}D99*D10*X1000Y500D03*M02*`],
    ['the unit only as G71', '%FSLAX33Y33*%%ADD10R,1X0.5*%G71*D10*X1000Y500D03*M02*'],
    ['a stroke of no length', `${MM}D10*X1000Y500D02*X1000Y500D01*M02*`],
    ['blanks and padding after the end', `${MM}D10*X1000Y500D03*M02*\r\n\r\n\u001a\u001a`],
  ])('%s', async (_name, text) => {
    const artwork = await readText(text);
    expect(box(artwork)).toEqual(ONE);
    expect(artwork.openings).toHaveLength(1);
    expect(artwork.warnings).toEqual([]);
  });
});

describe('small damage is mended, with a word', () => {
  it.each([
    ['percent signs left out', 'FSLAX33Y33*\nMOMM*\nADD10R,1X0.5*\nD10*\nX1000Y500D03*\nM02*', 'PERCENT_MISSING'],
    ['one percent sign lost', '%FSLAX33Y33*\n%MOMM*%\n%ADD10R,1X0.5*%\nD10*\nX1000Y500D03*\nM02*', 'PERCENT_MISSING'],
    ['a star lost in a block', '%FSLAX33Y33%\n%MOMM*%\n%ADD10R,1X0.5*%\nD10*\nX1000Y500D03*\nM02*', 'STAR_MISSING'],
    ['a star lost in a comment', `G04 paste\n${MM}D10*X1000Y500D03*M02*`, 'STAR_MISSING'],
    ['a star lost between operations', `${MM}D10*X0Y0D02X1000Y500D03*M02*`, 'STAR_MISSING'],
    ['the end lost', `${MM}D10*X1000Y500D03*`, 'END_MISSING'],
  ])('%s', async (_name, text, code) => {
    const artwork = await readText(text);
    expect(box(artwork)).toEqual(ONE);
    expect(codes(artwork)).toEqual([code]);
  });

  it('a flash within a region, a contour that crosses itself, an arc without a centre', async () => {
    const region = (inner: string): string => `${MM}D10*X9000Y9000D03*G75*G36*${inner}G37*M02*`;
    expect(codes(await readText(region('X0Y0D02*X2000D01*X1000Y1000D03*Y2000D01*X0Y0D01*')))).toContain(
      'FLASH_IN_REGION',
    );
    const crossed = await readText(region('X0Y0D02*X2000Y2000D01*X2000Y0D01*X0Y2000D01*X0Y0D01*'));
    expect(codes(crossed)).toEqual(['CONTOUR_CROSSES']);
    expect(crossed.openings).toHaveLength(3);
    expect(codes(await readText(region('X0Y0D02*G02X2000Y0D01*G01Y2000D01*X0Y0D01*')))).toEqual(['ARC_WITHOUT_CENTRE']);
  });
});

describe('units that are not stated', () => {
  const text = (size: string): string => `%FSLAX33Y33*%\n%ADD10R,${size}*%\nD10*\nX1000Y500D03*\nM02*`;

  it('are told from lands that only one unit makes possible', async () => {
    expect(box(await readText(text('1X0.5')))).toEqual(ONE);
    expect(box(await readText(text('0.04X0.02')))).toEqual([24.892, 12.446, 25.908, 12.954]);
    expect(codes(await readText(text('1X0.5')))).toEqual(['UNIT_ASSUMED']);
  });

  it('are never guessed when both are possible', async () => {
    await expect(readText(text('0.2X0.25'))).rejects.toMatchObject({ code: 'UNIT_MISSING' });
  });
});

describe('arcs before G74 or G75', () => {
  it('are read in the mode that meets their end', async () => {
    const arc = (i: number): string => `%FSLAX33Y33*%%MOMM*%%ADD10C,0.1*%D10*X1000Y0D02*G03X0Y1000I${i}J0D01*M02*`;
    for (const i of [1000, -1000]) {
      const artwork = await readText(arc(i));
      for (const [k, v] of [-0.05, -0.05, 1.05, 1.05].entries()) expect(box(artwork)[k]).toBeCloseTo(v, 3);
      expect(codes(artwork)).toContain('QUADRANT_MODE');
    }
  });
});

describe('layers of another kind', () => {
  const pad = `${MM}D10*X1000Y500D03*M02*`;

  it('are doubted by their apertures or their name, but only when they do not say what they are', async () => {
    const via = `%TA.AperFunction,ViaPad*%\n${pad}`;
    expect(codes(await readText(via))).toEqual(['LAYER_DOUBTFUL']);
    expect(codes(await readText(`%TF.FileFunction,Paste,Top*%\n${via}`))).toEqual([]);
    expect(codes(await readText(pad, { name: 'board.GTS' }))).toEqual(['LAYER_DOUBTFUL']);
    expect(codes(await readText(pad, { name: 'board-F_Paste.gbr' }))).toEqual([]);
  });

  it.each([
    ['Copper,L1,Top', 'copper'],
    ['Soldermask,Bot', 'solder mask'],
    ['Legend,Top', 'legend'],
    ['Profile,NP', 'outline'],
    ['Plated,1,2,PTH', 'drill'],
    ['AssemblyDrawing,Top', 'drawing'],
  ])('%s is refused in words', async (value, word) => {
    const error = await readText(`%TF.FileFunction,${value}*%\n${pad}`).catch((e: Error) => e);
    expect(error).toMatchObject({ code: 'WRONG_LAYER' });
    expect((error as Error).message).toContain(word);
  });

  it.each([
    ['an archive', 'PK\u0003\u0004 …'],
    ['a drill file', 'M48\nMETRIC,TZ\nT1C0.8\n%\nT1\nX1Y1\nM30'],
    ['a web page', '<!DOCTYPE html><html></html>'],
    ['nothing', ''],
    ['a letter', 'Dear all, please find enclosed 3 * 4 boards.'],
  ])('%s is refused', async (_name, text) => {
    await expect(readArtwork(new TextEncoder().encode(text))).rejects.toMatchObject({ code: 'NOT_ARTWORK' });
  });
});
