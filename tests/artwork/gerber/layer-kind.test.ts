import { describe, expect, it } from 'vitest';
import { readGerber } from '../../../src/artwork/gerber/read-gerber.js';
import { HEAD } from './write-layer.js';

const read = (attribute: string, name: string, body = '') =>
  readGerber(
    new TextEncoder().encode(`${attribute}${HEAD}%ADD10C,1*%\nD10*\n${body}X0Y0D03*\nX5000000Y0D03*\nM02*\n`),
    { name },
  );

describe('drill data written as a Gerber layer', () => {
  // Values of .FileFunction: Ucamco, Gerber layer format specification, file attributes.
  it.each(['Plated,1,4,PTH,Drill', 'NonPlated,1,2,NPTH,Drill', 'Plated,1,2,Blind', 'MixedPlating,1,4', 'Drillmap'])(
    'that says so (%s) is refused',
    async (value) => {
      const problem = { code: 'WRONG_LAYER', message: expect.stringContaining('drill') };
      await expect(read(`%TF.FileFunction,${value}*%\n`, 'a.gbr')).rejects.toMatchObject({ problems: [problem] });
    },
  );

  it.each(['board-drill.gbr', 'board-PTH.gbr', 'board_npth.gbr', 'x-NonPlated.gbr', 'board.drl'])(
    'that is only named so (%s) is doubted',
    async (name) => {
      const { warnings } = await read('', name);
      expect(warnings.map(({ code }) => code)).toContain('LAYER_DOUBTFUL');
    },
  );

  it.each(['board-paste.gbr', 'depth.gbr', 'cpth.gbr'])('a paste layer of another name (%s) is not', async (name) => {
    expect((await read('', name)).warnings).toEqual([]);
  });

  it('a function that is not in the standard is doubted and named', async () => {
    const { warnings } = await read('%TF.FileFunction,Holes*%\n', 'a.gbr');
    expect(warnings[0]).toMatchObject({ code: 'LAYER_DOUBTFUL', message: expect.stringContaining('Holes') });
  });
});

describe('commands that are not known or no longer in use', () => {
  it.each([
    ['%XX12*%\n', 'UNKNOWN_COMMAND'],
    ['G99*\n', 'UNKNOWN_COMMAND'],
    ['%FSLIX46Y46*%\n%FSLAX46Y46*%\n', 'OLD_COMMAND'],
    ['M17*\n', 'UNKNOWN_COMMAND'],
    ['Q1*\n', 'UNKNOWN_COMMAND'],
    ['D5*\n', 'UNKNOWN_COMMAND'],
    ['%KO*%\n', 'UNKNOWN_COMMAND'],
    ['%RO90*%\n', 'UNKNOWN_COMMAND'],
    ['%LPX*%\n', 'UNKNOWN_COMMAND'],
    ['%IPWHAT*%\n', 'UNKNOWN_COMMAND'],
    ['%IFother.gbr*%\n', 'UNKNOWN_COMMAND'],
    ['G91*\nX0Y0D02*\nG90*\n', 'OLD_COMMAND'],
    ['G11*\nG01*\n', 'OLD_COMMAND'],
    ['%MIA1B0*%\n', 'OLD_COMMAND'],
  ])('%j is told of with its line', async (body, code) => {
    const { warnings } = await read('', 'a.gbr', body);
    const line = HEAD.split('\n').length - 1 + 3;
    expect(warnings).toContainEqual(expect.objectContaining({ code, place: { file: 'a.gbr', line } }));
  });
});
