import { strToU8, zipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { listArchive } from '../../../src/artwork/archive/list-archive.js';
import { readArtwork } from '../../../src/artwork/read.js';
import { InputError } from '../../../src/errors.js';

/** A layer with one flash; `role` as its attribute. */
const layer = (role?: string, x = 0, comment = false): Uint8Array =>
  strToU8(
    `${role ? (comment ? `G04 #@! TF.FileFunction,${role}*\n` : `%TF.FileFunction,${role}*%\n`) : ''}` +
      `%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.5*%\nD10*\nX${x * 1e6}Y0D03*\nM02*\n`,
  );
const DRILL = strToU8('M48\nMETRIC,TZ\nT1C0.800\n%\nT1\nX10.0Y10.0\nM30\n');

/** A zip whose directory says that its files unpack to so many bytes each. */
function claiming(sizeBytes: number, count: number, data = layer()): Uint8Array {
  const zip = zipSync(Object.fromEntries(Array.from({ length: count }, (_, i) => [`${i}.gtp`, data])));
  const view = new DataView(zip.buffer, zip.byteOffset, zip.byteLength);
  for (let at = 0; at + 46 <= zip.length; at += 1) {
    if (view.getUint32(at, true) === 0x02014b50) view.setUint32(at + 24, sizeBytes, true);
  }
  return zip;
}

const codeOf = async (bytes: Uint8Array): Promise<string> => {
  try {
    await listArchive(bytes);
  } catch (error) {
    if (error instanceof InputError) return error.code;
    throw error;
  }
  return 'none';
};

describe('finding the paste layers', () => {
  it('by attribute, whatever the names say', async () => {
    const { paste, outline, drills, warnings } = await listArchive(
      zipSync({
        'out/a.gbr': layer('Paste,Top'),
        'out/b.gbr': layer('Paste,Bot', 1, true),
        'out/paste-top.gbr': layer('Copper,L1,Top', 2),
        'out/c.gbr': layer('Profile,NP', 3),
        'out/d.drl': DRILL,
        'out/readme.txt': strToU8('Hello'),
        '__MACOSX/out/._a.gbr': strToU8('x'),
      }),
    );
    expect(paste.map(({ name, side }) => [name, side])).toEqual([
      ['out/a.gbr', 'top'],
      ['out/b.gbr', 'bottom'],
    ]);
    expect(paste[0].reason).toContain('Paste,Top');
    expect(outline?.name).toBe('out/c.gbr');
    expect(drills.map(({ name }) => name)).toEqual(['out/d.drl']);
    expect(warnings).toEqual([]);
    expect((await readArtwork(paste[0].bytes)).openings).toHaveLength(1);
  });

  it.each([
    ['board.GTP', 'top'],
    ['board.gbp', 'bottom'],
    ['board-F_Paste.gbr', 'top'],
    ['board-B.Paste.gbr', 'bottom'],
    ['SolderPaste_Top.art', 'top'],
    ['pastebot.pho', 'bottom'],
    ['tcream.ger', 'top'],
    ['bcream.ger', 'bottom'],
    ['board.crc', 'top'],
    ['board_spb.gbr', 'bottom'],
    ['stencil.gbr', undefined],
    ['robot-F_Paste.gbr', 'top'],
    ['laptop-B_Paste.gbr', 'bottom'],
    ['front-panel-bcream.gbr', 'bottom'],
    ['Robot_SolderPasteTop.gbr', 'top'],
    ['topaz-paste-bottom.gbr', 'bottom'],
    ['top_paste_bottom.gbr', undefined],
  ])('%s by its name', async (name, side) => {
    const { paste } = await listArchive(zipSync({ [name]: layer(), 'board.gtl': layer(undefined, 1) }));
    expect(paste).toHaveLength(1);
    expect(paste[0].side).toBe(side);
  });

  it.each(['board.gts', 'F_Mask.gbr', 'soldermask-top.gbr', 'top.gbr', 'silk.gto', 'board.gtl'])(
    '%s is none',
    async (name) => {
      expect((await listArchive(zipSync({ [name]: layer() }))).paste).toEqual([]);
    },
  );

  it('an attribute beats a name, a layer beats a picture of it', async () => {
    const { paste, warnings } = await listArchive(
      zipSync({
        'old-paste-top.gbr': layer(undefined, 5),
        'new.gbr': layer('Paste,Top'),
        'paste-bottom.svg': strToU8('<svg xmlns="http://www.w3.org/2000/svg" width="1mm" height="1mm"/>'),
        'paste-bottom.gbr': layer(undefined, 6),
      }),
    );
    expect(paste.map(({ name }) => name)).toEqual(['new.gbr', 'paste-bottom.gbr']);
    expect(warnings.map(({ code }) => code)).toEqual(['PASTE_LEFT']);
  });

  it('a Gerber job file says what layers without attributes are', async () => {
    const job = { FilesAttributes: [{ Path: 'x1.gbr', FileFunction: 'SolderPaste,Top' }] };
    const { paste } = await listArchive(
      zipSync({ 'x1.gbr': layer(), 'x2.gbr': layer(undefined, 1), 'b.gbrjob': strToU8(JSON.stringify(job)) }),
    );
    expect(paste.map(({ name, side }) => [name, side])).toEqual([['x1.gbr', 'top']]);
  });

  it('two boards are both taken, and it is said; equal files count once', async () => {
    const { paste, warnings } = await listArchive(
      zipSync({ 'a/p.gtp': layer(), 'b/p.gtp': layer(undefined, 4), 'c/p.gtp': layer() }),
    );
    expect(paste.map(({ name }) => name)).toEqual(['a/p.gtp', 'b/p.gtp']);
    expect(warnings.map(({ code }) => code)).toEqual(['PASTE_TWICE', 'PASTE_SEVERAL']);
    expect(warnings[0].message).toMatch(/"c\/p\.gtp" is the same as "a\/p\.gtp"/);
  });

  it('tells of an archive inside the archive, and does not open it', async () => {
    const inner = zipSync({ 'p.gtp': layer() });
    const { paste, entries, warnings } = await listArchive(
      zipSync({ 'gerber.zip': inner, 'readme.txt': strToU8('x') }),
    );
    expect([paste.length, entries.map(({ name, kind }) => [name, kind])[0]]).toEqual([0, ['gerber.zip', 'archive']]);
    expect(warnings).toMatchObject([{ code: 'NESTED_ARCHIVE', message: expect.stringContaining('"gerber.zip"') }]);
  });

  it('names never lead out of the archive', async () => {
    const { entries } = await listArchive(zipSync({ '../../etc/p.gtp': layer(), 'a\\..\\b.gbp': layer() }));
    expect(entries.map(({ name }) => name)).toEqual(['a/b.gbp', 'etc/p.gtp']);
  });
});

describe('archives that can not be taken', () => {
  const bytes = zipSync({ 'p.gtp': layer(), 'q.gbp': layer(undefined, 2) });
  /** Sets bit 0 of the flags of every central entry: encrypted. */
  const encrypted = (): Uint8Array => {
    const copy = Uint8Array.from(bytes);
    for (let i = 0; i + 4 < copy.length; i += 1) {
      if (copy[i] === 0x50 && copy[i + 1] === 0x4b && copy[i + 2] === 1 && copy[i + 3] === 2) copy[i + 8] |= 1;
    }
    return copy;
  };
  it.each([
    ['no archive', strToU8('Hello'), 'NOT_AN_ARCHIVE'],
    ['cut off', bytes.slice(0, bytes.length - 30), 'ARCHIVE_BROKEN'],
    ['an empty one', zipSync({}), 'ARCHIVE_EMPTY'],
    ['with a password', encrypted(), 'ARCHIVE_ENCRYPTED'],
    ['a file of 128 MB', claiming(128 * 2 ** 20, 1), 'ARCHIVE_TOO_LARGE'],
  ])('%s', async (_, data, code) => {
    expect(await codeOf(data)).toBe(code);
  });

  it('many files of moderate size add up', async () => {
    expect(await codeOf(claiming(80 * 2 ** 20, 4))).toBe('ARCHIVE_TOO_LARGE');
  });

  it('a size that lies is found out', async () => {
    const lying = claiming(100, 1, new Uint8Array(2 ** 20));
    expect(await codeOf(lying)).toBe('ARCHIVE_BROKEN');
  });

  it('changed bytes end in a listing or in an InputError', async () => {
    let seed = 9;
    const random = (below: number): number => {
      seed = (seed * 1664525 + 1013904223) >>> 0;
      return Math.floor((seed / 2 ** 32) * below);
    };
    const ends = new Map<string, number>();
    for (let i = 0; i < 3000; i += 1) {
      const data = Uint8Array.from(bytes);
      for (let k = random(5); k >= 0; k -= 1) data[random(data.length)] = random(256);
      const end = await codeOf(random(6) === 0 ? data.slice(0, random(data.length)) : data);
      ends.set(end, (ends.get(end) ?? 0) + 1);
    }
    expect(ends.get('ARCHIVE_BROKEN')).toBeGreaterThan(500);
    expect(ends.get('none')).toBeGreaterThan(100);
  });
});
