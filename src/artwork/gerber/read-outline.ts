import { InputError, type Warning, warningsIf } from '../../errors.js';
import { ringArea } from '../../geometry/area.js';
import { joinBoxes, ringBounds } from '../../geometry/bounds.js';
import { move } from '../../geometry/copies.js';
import type { Box, OpeningTag, Region, Ring } from '../../geometry/types.js';
import { WorkBudget } from '../../geometry/work-budget.js';
import { givenFile } from '../../given.js';
import { kept } from '../../kept.js';
import { Diagnostics } from '../paint/diagnostics.js';
import { enclosed } from '../paint/enclosed.js';
import { unionOfRings } from '../paint/unite.js';
import { requireFormat } from '../read.js';
import { interpret } from './interpreter.js';
import { decodeLayer, lexGerber } from './lex.js';

export interface OutlineOptions {
  /** File name, for messages. */
  readonly name?: string;
  /** Ends this far apart still join, mm; default 0.05. */
  readonly gapMm?: number;
}

export interface BoardOutline {
  /** Outlines of boards, counter-clockwise, then their cut-outs, clockwise; mm. */
  readonly rings: readonly Ring[];
  readonly bounds: Box;
  readonly warnings: readonly Warning[];
}

const DEFAULT_GAP_MM = 0.05;
/** Ends nearer than this are the same point, mm. */
const SAME_MM = 1e-3;
/** Values of .FileFunction that an outline may have. */
const OUTLINE_LAYERS = /^(Profile|Other|OtherDrawing|Drawing|FabricationDrawing|Keepout)$/i;

/**
 * Reads a board's outline from a Gerber profile layer: the centre lines of its strokes, joined into closed contours,
 * and the contours of its regions.
 *
 * @throws {InputError} NOT_AN_OUTLINE, OUTLINE_OPEN, and what the Gerber reader throws
 * @example (await readOutline(outline)).rings.length // 1
 */
export async function readOutline(
  given: Uint8Array | ArrayBuffer,
  options: OutlineOptions = {},
): Promise<BoardOutline> {
  const bytes = givenFile(given, options);
  requireFormat(bytes, 'gerber', {
    code: 'NOT_AN_OUTLINE',
    expected: 'a Gerber profile layer',
    hint: 'Give the outline layer as Gerber, or the board’s size with --board-mm.',
    file: options.name,
  });
  const notes = new Diagnostics(options.name);
  const commands = lexGerber(decodeLayer(bytes), notes);
  const gapMm = Math.max(options.gapMm ?? DEFAULT_GAP_MM, SAME_MM);
  const budget = new WorkBudget();
  const { objects, attributes } = budget.run(() => interpret(commands, notes, gapMm));
  if (notes.problems.length > 0) throw new InputError(notes.problems);
  const kind = attributes.get('.FileFunction')?.[0];
  if (kind !== undefined && !OUTLINE_LAYERS.test(kind)) {
    notes.warn(
      'OUTLINE_DOUBTFUL',
      `the file says that it is a layer of the kind ${kind}, not the outline of a board.`,
      'Give the profile layer.',
    );
  }
  const drawn = (kind: OpeningTag['drawn']): Region[] =>
    objects.flatMap(({ dark, regions, at: [dx, dy] = [0, 0], tag }) =>
      dark && tag?.drawn === kind ? regions.map((region) => move(region, dx, dy)) : [],
    );
  const { rings, open } = budget.run(() => enclosed(drawn('stroke'), gapMm));
  const contours = drawn('region').flatMap(({ outer, islands }) => [outer, ...islands]);
  // A contour within another one is a cut-out, one within that a board again.
  const boards = unionOfRings(distinct([...rings, ...contours]), 'evenodd');
  if (boards.length === 0) {
    throw new InputError({
      code: 'OUTLINE_OPEN',
      place: { file: options.name },
      message:
        open > 0
          ? `its lines do not join into a closed outline (ends may be ${gapMm} mm apart).`
          : 'it draws no outline.',
      hint: 'Export the board outline again, or give the board’s size with --board-mm.',
    });
  }
  const left = `${open} line(s) of the outline layer belong to no closed contour and were left out.`;
  const outer = boards.map((board) => board.outer);
  return {
    rings: [...outer, ...boards.flatMap(({ islands }) => islands)],
    bounds: outer.map(ringBounds).reduce(joinBoxes),
    warnings: [...notes.finish(), ...warningsIf(options.name, [[open, 'OUTLINE_LEFT', left]])],
  };
}

/** Each contour once, also when the file draws it twice. */
function distinct(rings: readonly Ring[]): Ring[] {
  const known = new Map<string, Ring>();
  for (const ring of rings) {
    const { minX, minY, maxX, maxY } = ringBounds(ring);
    kept(known, [minX, minY, maxX, maxY, Math.abs(ringArea(ring))].map((v) => v.toFixed(3)).join(' '), () => ring);
  }
  return [...known.values()];
}
