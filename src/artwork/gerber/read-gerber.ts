import { InputError, type Problem } from '../../errors.js';
import { boundsOf } from '../../geometry/bounds.js';
import { compose } from '../compose.js';
import { findSuspicious } from '../suspicious.js';
import type { Artwork, ReadOptions } from '../types.js';
import { Interpreter } from './interpreter.js';
import { decodeText, lexGerber } from './lex.js';
import { Notes } from './notes.js';

/** Kinds of layer by the first value of .FileFunction that are no stencil, in words. */
const OTHER_LAYERS: Readonly<Record<string, string>> = {
  copper: 'a copper layer',
  soldermask: 'a solder mask',
  legend: 'a legend (silk screen)',
  profile: 'the outline of the board',
  plated: 'a drill layer',
  nonplated: 'a drill layer',
  mixedplating: 'a drill layer',
  keepout: 'a keep-out layer',
  component: 'a component layer',
  drillmap: 'a drill map',
  fabricationdrawing: 'a drawing',
  assemblydrawing: 'a drawing',
  vcut: 'a V-cut layer',
  glue: 'a glue layer',
};

/**
 * Reads a Gerber layer (RS-274X, X2, X3) into openings, as the Ucamco Gerber layer format specification says, with the
 * deprecated commands that real files hold.
 *
 * @param bytes - the whole file
 * @param options - `acceptAnyLayer` reads layers whose attributes say that they are no paste layer
 * @returns openings in mm, in the order in which the file draws them; the side from the file's attributes
 * @throws {InputError} WRONG_LAYER, NOTHING_DRAWN, FILE_CUT_OFF, APERTURE_UNDEFINED, … with line numbers, all together
 */
export async function readGerber(bytes: Uint8Array, options: ReadOptions): Promise<Artwork> {
  const notes = new Notes(options.name);
  const commands = lexGerber(decodeText(bytes), notes);
  if (notes.problems.length > 0) throw new InputError(notes.problems);
  const { objects, attributes } = new Interpreter(notes, false).run(commands);
  const layer = attributes.get('.FileFunction') ?? [];
  const other = OTHER_LAYERS[(layer[0] ?? '').toLowerCase()];
  const problems: Problem[] = [...notes.problems];
  if (other && !options.acceptAnyLayer) {
    problems.unshift({
      code: 'WRONG_LAYER',
      place: { file: options.name },
      message: `the file says that it is ${other} (${layer.join(',')}), not a paste layer.`,
      hint: 'Give the paste layer, or --any-layer to read it all the same.',
    });
  }
  if (problems.length > 0) throw new InputError(problems);
  if ((attributes.get('.FilePolarity')?.[0] ?? '').toLowerCase() === 'negative') {
    notes.warn(
      'FILE_NEGATIVE',
      undefined,
      'the file says that its polarity is negative; it is read as it is drawn.',
      'Look at the picture that `predict` makes.',
    );
  }
  const openings = compose(objects);
  if (openings.length === 0) {
    throw new InputError({
      code: 'NOTHING_DRAWN',
      place: { file: options.name },
      message: 'the layer draws nothing, so there is no opening to cut.',
      hint: 'Check that this is the paste layer of the right side.',
    });
  }
  const side = sideOf(layer);
  return {
    format: 'gerber',
    openings,
    warnings: [...notes.finish(), ...findSuspicious(openings)],
    ...(side ? { side } : {}),
    bounds: boundsOf(openings),
  };
}

function sideOf(layer: readonly string[]): 'top' | 'bottom' | undefined {
  const values = layer.map((value) => value.toLowerCase());
  return values.includes('top') ? 'top' : values.includes('bot') || values.includes('bottom') ? 'bottom' : undefined;
}
