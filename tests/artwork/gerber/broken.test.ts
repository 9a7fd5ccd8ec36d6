import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { readGerber } from '../../../src/artwork/gerber/read-gerber.js';
import { InputError } from '../../../src/errors.js';
import { cases } from '../../cases.js';
import { HEAD, n, readText } from './write-layer.js';

const grid = (count: number, pitch: number, x0 = 0): string =>
  Array.from({ length: count }, (_, i) => `X${n(x0 + (i % 10) * pitch)}Y${n(Math.floor(i / 10) * pitch)}D03*`).join(
    '\n',
  );

/** Good files of different kinds, to be broken. */
const GOOD: readonly string[] = [
  `%TF.FileFunction,Paste,Top*%\n${HEAD}%AMR*\n0 a land*\n21,1,$1,$2,0,0,$3*\n1,0,$1/4,0,0*%\n%ADD10R,1.2X0.4X30*%\n%ADD11C,0.3*%\n%ADD12O,1X0.5*%\n%SRX2Y2I9J9*%\nD10*\nX1000000Y1000000D03*\nD11*\nG75*\nX0Y0D02*\nG03X1000000Y0I500000J0D01*\n%SR*%\nG36*\nG01X0Y0D02*\nX2000000D01*\nY2000000D01*\nX0Y0D01*\nG37*\n%LPC*%\nD12*\nX1000000Y500000D03*\nM02*\n`,
  `%FSTAX24Y24*%\n%MOIN*%\n%ADD10R,0.04X0.02*%\n%ADD11O,0.02X0.05X0.01*%\nG54D10*\n${Array.from({ length: 60 }, (_, i) => `X${String(i % 8).padStart(2, '0')}Y${String(Math.floor(i / 8)).padStart(2, '0')}1D03*`).join('\n')}\nG54D11*\nX01Y02*\nM02*\n`,
  `${HEAD}%TA.AperFunction,Material*%\n%ABD20*%\n%ADD10P,1X6X15X0.2*%\nD10*\nX0Y0D03*\n%LPC*%\nX400000Y0D03*\n%LPD*%\n%AB*%\nD20*\n%LR45*%\n%LMX*%\n%LS1.5*%\n${grid(12, 3)}\n%TO.C,R1*%\n%TO.P,R1,2*%\nX5000000Y9000000D03*\n%TD*%\nM02*\n`,
  `${HEAD}%ADD10C,0.1*%\nD10*\nG01*\n${Array.from({ length: 60 }, (_, i) => `X${n((i % 3) * 3)}Y${n(Math.floor(i / 3) * 0.08)}D02*\nX${n((i % 3) * 3 + 2)}D01*`).join('\n')}\nM02*\n`,
];

async function outcome(text: string): Promise<void> {
  const result = await readText(text, { name: 'broken.gbr' }).catch((e: unknown) => e);
  if (result instanceof InputError) {
    for (const problem of result.problems) {
      expect(problem.code).toMatch(/^[A-Z_]+$/);
      expect(problem.message.length).toBeLessThan(400);
    }
    return;
  }
  // Anything else must be openings, all of them finite.
  const { openings, bounds } = result as Awaited<ReturnType<typeof readGerber>>;
  expect(openings.length).toBeGreaterThan(0);
  expect(Object.values(bounds ?? {}).every(Number.isFinite)).toBe(true);
}

describe('broken files end in openings or in an InputError', () => {
  it('as they are, they are good', async () => {
    for (const text of GOOD) {
      const { openings } = await readText(text);
      expect(openings.length).toBeGreaterThan(2);
    }
  });

  it('with bytes changed, cut out, and written twice', async () => {
    const edit = fc.tuple(
      fc.double({ min: 0, max: 1, noNaN: true }),
      fc.oneof(fc.integer({ min: 32, max: 126 }), fc.integer({ min: 48, max: 57 }), fc.integer({ min: 0, max: 255 })),
      fc.constantFrom('set', 'cut', 'twice'),
    );
    await fc.assert(
      fc.asyncProperty(
        fc.constantFrom(...GOOD),
        fc.array(edit, { minLength: 1, maxLength: 6 }),
        async (good, edits) => {
          let text = good;
          for (const [share, byte, how] of edits) {
            const at = Math.floor(share * (text.length - 1));
            if (how === 'set') text = text.slice(0, at) + String.fromCharCode(byte) + text.slice(at + 1);
            else if (how === 'cut') text = text.slice(0, at) + text.slice(at + 5);
            else text = text.slice(0, at) + text.slice(at, at + 9) + text.slice(at);
          }
          await outcome(text);
        },
      ),
      { numRuns: cases(300) },
    );
  });

  it('cut off at every place', async () => {
    const whole = GOOD[0];
    for (let length = 0; length < whole.length; length += 3) await outcome(whole.slice(0, length));
  });

  it('a file cut off in the middle of a command is refused, at the end of one it is a warning', async () => {
    const cut = `${HEAD}%ADD10C,1*%\nD10*\nX0Y0D03*\nX3000`;
    await expect(readText(cut)).rejects.toMatchObject({ code: 'FILE_CUT_OFF' });
    const { warnings } = await readText(cut.replace(/X3000$/, ''));
    expect(warnings.map((w) => w.code)).toContain('END_MISSING');
  });

  it.each([
    ['a region', 'G36*\nX0Y0D02*\nG01X3000000D01*\nY2000000D01*\n', 'G36'],
    ['a block aperture', '%ABD12*%\nX0Y0D03*\n', 'line 6'],
  ])('a file cut off within %s is refused, and mended where only its end was forgotten', async (_, body, said) => {
    const text = `${HEAD}%ADD10C,1*%\nD10*\nX0Y9000000D03*\n${body}`;
    const cut = await readText(text).catch((e: unknown) => e);
    expect(cut).toBeInstanceOf(InputError);
    expect((cut as InputError).problems).toMatchObject([{ code: 'FILE_CUT_OFF' }]);
    expect((cut as InputError).message).toContain(said);
    const { warnings } = await readText(`${text}M02*\n`);
    expect(warnings.map(({ code }) => code)).toContain(body.startsWith('G36') ? 'REGION_OPEN' : 'BLOCK_OPEN');
    for (const { place } of warnings) expect(place?.line).not.toBe(0);
  });

  it('the same problem on the same line is told once', async () => {
    const error = await readText('%MOMM*%%ADD10C,1*%D10*X10000Y5000D03*M02*').catch((e: unknown) => e);
    expect((error as InputError).problems).toMatchObject([{ code: 'FORMAT_MISSING' }]);
  });
});

describe('files that ask for too much', () => {
  const nested = (depth: number): string =>
    Array.from({ length: depth }, (_, i) => `%ABD${100 + i}*%\nD${99 + i}*\n${'X0Y0D03*\n'.repeat(10)}%AB*%`).join(
      '\n',
    );

  it.each([
    ['repeats of repeats', `%ADD10C,1*%%SRX999Y999I1J1*%D10*${'X0Y0D03*'.repeat(50)}%SR*%`],
    ['blocks of blocks', `%ADD10C,1*%\n%ABD99*%\nD10*\nX0Y0D03*\n%AB*%\n${nested(9)}\nD108*\nX0Y0D03*`],
    [
      'blocks nested without end',
      `%ADD10C,1*%${Array.from({ length: 50 }, (_, i) => `%ABD${20 + i}*%`).join('')}D10*X0Y0D03*`,
    ],
    ['brackets nested without end', `%AMA*1,1,${'('.repeat(5000)}1${')'.repeat(5000)},0,0*%%ADD10A*%D10*X0Y0D03*`],
    ['a coordinate far out', `%ADD10C,1*%D10*X9999999999999D03*`],
    ['an outline of a million corners', `%AMA*4,1,999999,0,0,1,0*%%ADD10A*%D10*X0Y0D03*`],
  ])('%s', async (_name, body) => {
    const error = await readText(`${HEAD}${body}\nM02*\n`).catch((e: unknown) => e);
    expect(error).toBeInstanceOf(InputError);
  });
});
