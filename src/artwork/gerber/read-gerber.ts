import { InputError } from '../../errors.js';
import { boundsOf } from '../../geometry/bounds.js';
import type { Region } from '../../geometry/types.js';
import { WorkBudget } from '../../geometry/work-budget.js';
import { compose } from '../paint/compose.js';
import { Diagnostics } from '../paint/diagnostics.js';
import { lostPieces } from '../paint/slivers.js';
import { sideInFunction } from '../side.js';
import { findSuspicious } from '../suspicious.js';
import type { Artwork, ReadOptions } from '../types.js';
import { mostlyCleared } from './cleared.js';
import { interpret } from './interpreter.js';
import { suspectLayer, wrongLayer } from './layer-kind.js';
import { decodeLayer, lexGerber } from './lex.js';

/**
 * Reads a Gerber layer (RS-274X, X2, X3) into openings, as the Ucamco Gerber layer format specification says, with the
 * deprecated commands that real files hold.
 *
 * @param bytes - the whole file
 * @param options - `acceptAnyLayer` reads layers whose attributes say that they are no paste layer
 * @returns openings in mm, in the order in which the file draws them; the side from the file's attributes
 * @throws {InputError} WRONG_LAYER, NOTHING_DRAWN, FILE_CUT_OFF, APERTURE_UNDEFINED, … with line numbers,
 * all that were found together
 */
export async function readGerber(bytes: Uint8Array, options: ReadOptions = {}): Promise<Artwork> {
  const notes = new Diagnostics(options.name);
  const commands = lexGerber(decodeLayer(bytes), notes);
  const budget = new WorkBudget();
  const { objects, attributes, apertureFunctions } = budget.run(() => interpret(commands, notes));
  const wrong = options.acceptAnyLayer ? undefined : wrongLayer(attributes, options.name);
  const problems = wrong ? [wrong, ...notes.problems] : notes.problems;
  if (problems.length > 0) throw new InputError(problems);
  if ((attributes.get('.FilePolarity')?.[0] ?? '').toLowerCase() === 'negative') {
    notes.warn(
      'FILE_NEGATIVE',
      undefined,
      'the file says that its polarity is negative; it is read as it is drawn.',
      'Look at the picture that `predict` makes.',
    );
  }
  const lost: Region[] = [];
  const openings = budget.run(() => compose(objects, lost));
  if (openings.length === 0) {
    throw new InputError({
      code: 'NOTHING_DRAWN',
      place: { file: options.name },
      message: 'the layer draws nothing, so there is no opening to cut.',
      hint: 'Check that this is the paste layer of the right side.',
    });
  }
  const side = sideInFunction(attributes.get('.FileFunction') ?? []);
  return {
    format: 'gerber',
    openings,
    warnings: [
      ...notes.finish(),
      ...lostPieces(lost, options.name),
      ...mostlyCleared(objects, openings, options.name),
      ...suspectLayer(attributes, apertureFunctions, options),
      ...findSuspicious(openings),
    ],
    ...(side ? { side } : {}),
    bounds: boundsOf(openings),
  };
}
