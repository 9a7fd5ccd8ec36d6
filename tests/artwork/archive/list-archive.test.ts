import fc from 'fast-check';
import { strToU8, zipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { listArchive } from '../../../src/artwork/archive/list-archive.js';
import { InputError } from '../../../src/errors.js';

const layer = (attribute = ''): Uint8Array =>
  strToU8(`%FSLAX46Y46*%\n%MOMM*%\n${attribute}%ADD10R,1X1*%\nD10*\nX0Y0D03*\nM02*\n`);
const says = (what: string): string => `%TF.FileFunction,${what}*%\n`;
const DRILL = strToU8('M48\nMETRIC,TZ\nT1C0.8\n%\nT1\nX1.0Y1.0\nM30\n');

describe('a zip of fabrication files', () => {
  it('gives paste layers by what the files say, top before bottom, with outline and drill file', async () => {
    const zip = zipSync({
      'fab/a.gbr': layer(says('Paste,Bot')),
      'fab/b.gbr': layer(says('Copper,L1,Top')),
      'fab/c.gbr': layer(says('Paste,Top')),
      'fab/d.gbr': layer(says('Profile,NP')),
      'fab/e.drl': DRILL,
      'fab/readme.txt': strToU8('hello'),
      '__MACOSX/fab/._a.gbr': strToU8('x'),
    });
    const listing = await listArchive(zip);
    expect(listing.paste.map(({ name, side }) => [name, side])).toEqual([
      ['fab/c.gbr', 'top'],
      ['fab/a.gbr', 'bottom'],
    ]);
    expect(listing.outline?.name).toBe('fab/d.gbr');
    expect(listing.drills.map(({ name }) => name)).toEqual(['fab/e.drl']);
    expect(listing.entries).toHaveLength(6);
    expect(listing.entries[0].reason).toContain('Paste,Bot');
  });

  it.each([
    ['board.GTP', 'top'],
    ['board.gbp', 'bottom'],
    ['board-F_Paste.gbr', 'top'],
    ['board-B.Paste.gbr', 'bottom'],
    ['tcream.ger', 'top'],
    ['solderpaste.gbr', undefined],
  ])('takes %s for a paste layer by its name', async (name, side) => {
    const { paste } = await listArchive(zipSync({ [name]: layer(), 'copper.gtl': layer() }));
    expect(paste.map((entry) => [entry.name, entry.side])).toEqual([[name, side]]);
  });

  it('lets what a file says win over a name, and says what it left', async () => {
    const { paste, warnings } = await listArchive(
      zipSync({
        'old-paste.gbr': layer(),
        'x.gbr': layer(says('Paste,Top')),
        'top-paste.gbr': layer(says('Copper,L1,Top')),
      }),
    );
    expect(paste.map(({ name }) => name)).toEqual(['x.gbr']);
    expect(warnings.map(({ code }) => code)).toEqual(['PASTE_BY_NAME_LEFT']);
  });

  it('refuses one that would fill the memory', async () => {
    const bomb = zipSync({ 'a.gbr': new Uint8Array(120 * 2 ** 20) }, { level: 6 });
    await expect(listArchive(bomb)).rejects.toThrowError(/120 MB/);
  });

  it('ends in a listing or an InputError, whatever bytes are changed', async () => {
    const zip = zipSync({ 'a.gbr': layer(says('Paste,Top')), 'b.drl': DRILL });
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.tuple(fc.nat(zip.length - 1), fc.nat(255)), { minLength: 1, maxLength: 8 }),
        fc.nat(zip.length),
        async (edits, cut) => {
          const bytes = zip.slice(0, cut % 3 === 0 ? cut : zip.length);
          for (const [at, value] of edits) if (at < bytes.length) bytes[at] = value;
          const result = await listArchive(bytes).catch((error: unknown) => error);
          expect(result instanceof InputError || 'paste' in (result as object)).toBe(true);
        },
      ),
      { numRuns: 500 },
    );
  });
});
