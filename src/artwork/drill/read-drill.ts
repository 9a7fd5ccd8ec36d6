import { InputError, type Warning } from '../../errors.js';
import { givenFile } from '../../given.js';
import { decodeLayer } from '../gerber/lex.js';
import { Diagnostics } from '../paint/diagnostics.js';
import { requireFormat } from '../read.js';
import { drillLines, findDrillFormat } from './drill-format.js';
import { type DrilledHole, DrillProgram } from './drill-program.js';

export interface Drilled {
  readonly holes: readonly DrilledHole[];
  readonly warnings: readonly Warning[];
}

/**
 * Reads a drill file (Excellon, XNC) into holes: hits, slots (G85), routed slots (G00, G01, arcs), repeats.
 *
 * @param given - the whole file
 * @returns holes and slots in mm, in the order of drilling; what was told from the numbers alone as warnings
 * @throws {InputError} NOT_A_DRILL_FILE, TOOL_UNDEFINED, DRILL_UNIT, DRILL_ZEROS, DRILL_NUMBER, TOO_MUCH, NO_HOLES
 * @example (await readDrill(drill)).holes.length // 4
 */
export async function readDrill(
  given: Uint8Array | ArrayBuffer,
  options: { readonly name?: string } = {},
): Promise<Drilled> {
  const bytes = givenFile(given, options);
  const place = { file: options.name };
  requireFormat(bytes, 'drill', {
    code: 'NOT_A_DRILL_FILE',
    expected: 'a drill file (Excellon or XNC)',
    hint: 'Give the drill file, or holes by hand with --hole x,y,d.',
    file: options.name,
  });
  const notes = new Diagnostics(options.name);
  const lines = drillLines(decodeLayer(bytes));
  const program = new DrillProgram(findDrillFormat(lines, notes), notes);
  for (const line of lines) {
    notes.line = line.line;
    if (!program.ended) program.obey(line);
    else if (/[XY][+-]?[.\d]/.test(line.text)) {
      notes.warnOnce(
        'AFTER_END',
        'the drill file goes on with holes after its end (M30); they are left out.',
        'It may be two files in one: export it again.',
      );
    }
  }
  if (!program.ended) {
    notes.line = undefined;
    notes.warn('END_MISSING', 'the drill file has no end command (M30); it may be cut off.');
  }
  if (notes.problems.length > 0) throw new InputError(notes.problems);
  if (program.holes.length === 0) {
    throw new InputError({
      code: 'NO_HOLES',
      place,
      message: 'the drill file holds no holes.',
      hint: 'Check that this is the right file.',
    });
  }
  return { holes: program.holes, warnings: notes.finish() };
}
