import { strToU8, zipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { listArchive } from '../../src/artwork/archive/list-archive.js';
import { readArtwork } from '../../src/artwork/read.js';
import { sideUnknown } from '../../src/artwork/side.js';

const layer = (role?: string): Uint8Array =>
  strToU8(
    `${role ? `%TF.FileFunction,${role}*%\n` : ''}%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.5*%\nD10*\nX0Y0D03*\nX3000000Y0D03*\nM02*\n`,
  );
const codes = (warnings: readonly { code: string }[]): string[] => warnings.map(({ code }) => code);

// Names that layout programs in general give to layers: common practice.
const NAMED: readonly (readonly [string, 'top' | 'bottom' | undefined])[] = [
  ['board.GBP', 'bottom'],
  ['board.gtp', 'top'],
  ['SolderPasteBottom.gbr', 'bottom'],
  ['Bot_paste.gbr', 'bottom'],
  ['Bottom.gbr', 'bottom'],
  ['board-B_Paste.gbr', 'bottom'],
  ['b.paste.gbr', 'bottom'],
  ['PASTE_BOT.PHO', 'bottom'],
  ['bottompaste.ger', 'bottom'],
  ['bcream.ger', 'bottom'],
  ['board_spb.gbr', 'bottom'],
  ['paste-back.gbr', 'bottom'],
  ['board-back.gbr', 'bottom'],
  ['paste_solder_side.gbr', 'bottom'],
  ['secondary-side paste.gbr', 'bottom'],
  ['PASTE_PRIMARY_SIDE.art', 'top'],
  ['SPBOT.gbr', 'bottom'],
  ['sptop.gbr', 'top'],
  ['spot-paste.gbr', undefined],
  ['paste bottom 2.gbr', 'bottom'],
  ['paste.bot', 'bottom'],
  ['stencil/top/bottomlayer.gbr', 'bottom'],
  ['C:\\top\\paste_btm.gbr', 'bottom'],
  ['front-panel-b_paste.gbr', 'bottom'],
  ['top-hat-b_paste.gbr', 'bottom'],
  ['board-rev-b-paste-top.gbr', 'top'],
  ['TopPaste.gbr', 'top'],
  ['F.Paste.gbr', 'top'],
  ['bottom/paste.gbr', undefined],
  ['robot.gbr', undefined],
  ['laptop-paste.gbr', undefined],
  ['desktop.gbr', undefined],
  ['board-rev-b.gbr', undefined],
  ['rev_b_paste.gbr', undefined],
  ['back-panel.gbr', undefined],
  ['backplane-paste.gbr', undefined],
  ['top_paste_bottom.gbr', undefined],
  ['constructor.toString', undefined],
];

describe('the side of a layer', () => {
  it.each(NAMED)('is taken from the name %s, loose and in a zip', async (name, side) => {
    const loose = await readArtwork(layer(), { name });
    expect(loose.side).toBe(side);
    expect(loose.sideFrom).toBe(side && 'name');
    const entry = `bottom-top/${name.replace(/^.*[\\/]/, '')}`;
    const { paste } = await listArchive(zipSync({ [entry]: layer() }));
    for (const found of paste) expect(found.side).toBe(side);
    expect((await readArtwork(layer(), { name: `paste-top.zip:${entry}` })).side).toBe(side);
  });

  it('the attribute beats the name, in a zip too, and it is told', async () => {
    const { side, sideFrom, warnings } = await readArtwork(layer('Paste,Bot'), { name: 'paste-top.gbr' });
    expect([side, sideFrom, codes(warnings)]).toEqual(['bottom', 'attribute', ['SIDE_DISAGREES']]);
    expect((await listArchive(zipSync({ 'paste-top.gbr': layer('Paste,Bot') }))).paste[0].side).toBe('bottom');
  });

  it('an attribute without a side leaves it to the name', async () => {
    expect((await readArtwork(layer('Paste'), { name: 'board.gbp' })).side).toBe('bottom');
    expect((await listArchive(zipSync({ 'board.gbp': layer('Paste') }))).paste[0].side).toBe('bottom');
  });

  it('a job file beats the name and is beaten by the attribute', async () => {
    const job = { FilesAttributes: [{ Path: 'x-top.gbr', FileFunction: 'SolderPaste,Bot' }] };
    const zip = zipSync({ 'x-top.gbr': layer(), 'b.gbrjob': strToU8(JSON.stringify(job)) });
    const [entry] = (await listArchive(zip)).paste;
    const { side, sideFrom } = await readArtwork(entry.bytes, { name: entry.name, jobFunction: entry.jobFunction });
    expect([entry.side, side, sideFrom]).toEqual(['bottom', 'bottom', 'job file']);
    const told = await readArtwork(layer('Paste,Top'), { jobFunction: 'Paste,Bot' });
    expect([told.side, told.sideFrom, codes(told.warnings)]).toEqual(['top', 'attribute', ['SIDE_DISAGREES']]);
  });

  it('what the user says beats them all', async () => {
    const told = await readArtwork(layer('Paste,Bot'), { name: 'board.gbp', side: 'top' });
    expect([told.side, told.sideFrom, codes(told.warnings)]).toEqual(['top', 'option', ['SIDE_DISAGREES']]);
    expect((await readArtwork(layer(), { name: 'board.gbp', side: 'bottom' })).warnings).toEqual([]);
  });

  it('is told of where nobody says it, unless the user says whether to mirror', () => {
    expect(codes(sideUnknown({}, 'a.gbr'))).toEqual(['SIDE_UNKNOWN']);
    expect(sideUnknown({}, 'a.gbr', 'no')).toEqual([]);
    expect(sideUnknown({ side: 'top' }, 'a.gbr')).toEqual([]);
  });
});

describe('the kind of a layer by its name', () => {
  // Pad masters, copper, masks: endings as common practice has them.
  it.each([
    'board.GPT',
    'board.gpb',
    'board-gpt.gbr',
    'stencil/board.gtl',
    'C:\\paste\\board.gtl',
    'stencil.zip:a/board-F_Cu.gbr',
    'stencil-tester.gtl',
    'stencil-tester-F_Cu.gbr',
    'pasteboard-soldermask-top.gbr',
    'board-edge_cuts.gbr',
  ])('%s is no paste layer, loose or in a zip', async (name) => {
    expect(codes((await readArtwork(layer(), { name })).warnings)).toContain('LAYER_DOUBTFUL');
    const entry = `stencil/${name.replace(/^.*[\\/]/, '')}`;
    expect((await listArchive(zipSync({ [entry]: layer() }))).paste).toEqual([]);
  });

  it.each(['board.gtp', 'silk-road-F_Paste.gbr', 'copperfield-paste.gbr', 'a/copper/board-paste.gbr', 'stencil.gbr'])(
    '%s is one',
    async (name) => {
      expect((await readArtwork(layer(), { name })).warnings).toEqual([]);
      expect((await listArchive(zipSync({ [name]: layer() }))).paste).toHaveLength(1);
    },
  );
});
