import { rotation } from '../../geometry/affine.js';
import type { Diagnostics } from '../paint/diagnostics.js';
import type { Values } from './attributes.js';
import { isExtended, obeyExtended, unknownCommand } from './extended.js';
import { obeyFunctionCodes } from './function-codes.js';
import { LayerState } from './layer-state.js';
import type { Command } from './lex.js';
import type { DrawnObject } from './object-sink.js';
import { endRegion } from './region.js';
import { findUnit } from './units.js';

/** What a layer draws, and what it says of itself. */
export interface Interpreted {
  readonly objects: readonly DrawnObject[];
  readonly attributes: ReadonlyMap<string, Values>;
  /** Functions of the apertures (.AperFunction) that were defined. */
  readonly apertureFunctions: readonly string[];
}

/**
 * Obeys a layer's commands in order and gathers what they draw. Problems and warnings go to the notes.
 *
 * @param options.keepLines - keep centre lines of strokes and contours of regions, for outlines
 */
export function interpret(
  commands: readonly Command[],
  notes: Diagnostics,
  options: { readonly keepLines?: boolean } = {},
): Interpreted {
  const layer = new LayerState(notes, options.keepLines ?? false, findUnit(commands, notes));
  for (const command of commands) {
    if (layer.sink.full) break;
    if (layer.ended) {
      // Old files say the end twice, and comments are no data.
      if (/^(M0*[0-3]|M30|G0*4)(?!\d)/i.test(command.text)) continue;
      notes.warnOnce('AFTER_END', command.line, 'there is data after the end of the file (M02); it is left out.');
      break;
    }
    obey(layer, command);
  }
  finish(layer, commands.at(-1)?.line ?? 1);
  return {
    objects: layer.sink.all,
    attributes: layer.attributes.file,
    apertureFunctions: [...layer.apertures.values()].flatMap(
      (a) => a.attributes.get('.AperFunction')?.slice(0, 1) ?? [],
    ),
  };
}

function obey(layer: LayerState, command: Command): void {
  // Files that lost a percent sign hold either kind in the other's place; what they mean is clear from their letters.
  if (isExtended(command.text)) {
    if (!command.extended) {
      layer.notes.warn(
        'PERCENT_MISSING',
        command.line,
        `"${command.text.slice(0, 2)}" does not stand between percent signs; obeyed as if it did.`,
      );
    }
    obeyExtended(layer, command);
  } else if (command.extended && !/^[GDMXYIJN]\s*[\d.+-]/i.test(command.text)) {
    unknownCommand(layer.notes, command);
  } else obeyFunctionCodes(layer, command);
}

function finish(layer: LayerState, lastLine: number): void {
  const { notes, sink } = layer;
  // Without its end as well, a part of the file is missing, and nobody can tell what stood in it.
  const cutOff = (what: string): void =>
    notes.fail('FILE_CUT_OFF', lastLine, `the file ends within ${what}.`, 'Export or copy the file again.');
  if (layer.region) {
    if (layer.ended)
      notes.warn('REGION_OPEN', lastLine, 'a region (G36) is not ended before the file is; it is ended here.');
    else cutOff('a region (G36), before its G37');
    endRegion(layer, lastLine);
  }
  for (let block = sink.innermost; block; block = sink.innermost) {
    // Old files end with their step and repeat still on.
    if (block.kind === 'aperture' && !layer.ended) cutOff(`the block aperture that begins on line ${block.line}`);
    else if (block.kind === 'aperture')
      notes.warn('BLOCK_OPEN', block.line, 'a block aperture (AB) is not ended before the file is; it is ended here.');
    sink.closeBlock();
  }
  if (!layer.ended) {
    notes.warn(
      'END_MISSING',
      undefined,
      'the file has no end command (M02); it may be cut off.',
      'Compare the number of openings, or export it again.',
    );
  }
  if (layer.imageTurnDeg !== 0) sink.turn(rotation(layer.imageTurnDeg));
}
