import { describe, expect, it } from 'vitest';
import { readGerber } from '../../../src/artwork/gerber/read-gerber.js';
import { readOutline } from '../../../src/artwork/gerber/read-outline.js';
import { ringArea } from '../../../src/geometry/area.js';
import { HEAD, n, readLayer, totalArea } from './write-layer.js';

const LAYER = `${HEAD}%ADD10R,1X1*%\nD10*\nX0Y0D03*\nM02*\n`;
const utf16 = (text: string): Buffer => Buffer.from(`\ufeff${text}`, 'utf16le');
const codes = (warnings: readonly { code: string }[]): string[] => warnings.map(({ code }) => code);

describe('what a file is wrapped in does not matter', () => {
  it.each([
    ['UTF-16, little end first', utf16(LAYER)],
    ['UTF-16, big end first', utf16(LAYER).swap16()],
    ['UTF-8 with a byte order mark', Buffer.from(`\ufeff${LAYER}`)],
    ['zeros that fill the last block', Buffer.concat([Buffer.from(LAYER), Buffer.alloc(700)])],
    ['zeros in front', Buffer.concat([Buffer.alloc(128), Buffer.from(LAYER)])],
    ['Ctrl-Z at the end', Buffer.from(`${LAYER}\x1a`)],
    ['M30 for the end', Buffer.from(LAYER.replace('M02', 'M30'))],
  ])('%s', async (_name, bytes) => {
    const { openings, warnings } = await readGerber(bytes);
    expect(openings).toHaveLength(1);
    expect(warnings).toEqual([]);
  });

  it('a million blanks within a file take no time', async () => {
    const { openings } = await readGerber(
      Buffer.from(LAYER.replace('D10*', `D10*${' '.repeat(1e6)}\n${'\n'.repeat(1e5)}`)),
    );
    expect(openings).toHaveLength(1);
  });
});

describe('a comment that lost its star', () => {
  it('does not swallow the commands on the lines after it', async () => {
    const { openings, warnings } = await readLayer(
      '%ADD10R,1X1*%\nG04 lands of the part\nD10*\nG04 first\nX0Y0D03*\nX3000000D03*',
    );
    expect(openings).toHaveLength(2);
    expect(codes(warnings)).toEqual(['STAR_MISSING', 'STAR_MISSING']);
    expect(warnings[0].place?.line).toBe(4);
  });

  it('a comment over several lines is one comment', async () => {
    const { openings, warnings } = await readLayer(
      'G04 first line\nand the second,\nX marks the spot*\n%ADD10R,1X1*%\nD10*\nX0Y0D03*',
    );
    expect(openings).toHaveLength(1);
    expect(warnings).toEqual([]);
  });
});

it('an outline primitive may count its last corner, which is the first again', async () => {
  const artwork = await readLayer('%AMT*\n4,1,5,0,0,2,0,2,1,0,1,0,0,0*%\n%ADD10T*%\nD10*\nX0Y0D03*');
  expect(totalArea(artwork)).toBeCloseTo(2, 9);
});

it('of contours of an outline that cross each other each is a board, but for what both hold', async () => {
  const square = (x: number, y: number, w: number): string =>
    `X${n(x)}Y${n(y)}D02*\nX${n(x + w)}D01*\nY${n(y + w)}D01*\nX${n(x)}D01*\nY${n(y)}D01*`;
  // Each begins within the other.
  const first = `X${n(1)}Y${n(1)}D02*\nX${n(-9)}D01*\nY${n(-9)}D01*\nX${n(1)}D01*\nY${n(1)}D01*`;
  const { rings } = await readOutline(
    Buffer.from(`${HEAD}%ADD10C,0.1*%\nD10*\nG36*\n${first}\nG37*\nG36*\n${square(0, 0, 8)}\nG37*\nM02*\n`),
  );
  expect(rings.map((ring) => Math.abs(ringArea(ring))).sort((p, q) => p - q)).toEqual([63, 99]);
});
