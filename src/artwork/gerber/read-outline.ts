import { InputError, type Warning } from '../../errors.js';
import { ringArea } from '../../geometry/area.js';
import { joinBoxes, ringBounds } from '../../geometry/bounds.js';
import type { Box, Point, Ring } from '../../geometry/types.js';
import { insideRing } from '../../geometry/walls.js';
import { sniff } from '../sniff.js';
import { chainPaths } from './chain.js';
import { interpret } from './interpreter.js';
import { decodeText, lexGerber } from './lex.js';
import { Notes } from './notes.js';

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

/**
 * Reads a board's outline from a Gerber profile layer: the centre lines of its strokes, joined into closed contours,
 * and the contours of its regions.
 *
 * @throws {InputError} NOT_AN_OUTLINE, OUTLINE_OPEN, and what the Gerber reader throws
 */
export async function readOutline(bytes: Uint8Array, options: OutlineOptions = {}): Promise<BoardOutline> {
  const place = { file: options.name };
  const format = sniff(bytes);
  if (format !== 'gerber') {
    throw new InputError({
      code: 'NOT_AN_OUTLINE',
      place,
      message: `expected a Gerber profile layer, found ${format === 'unknown' ? 'something else' : `a file of the kind ${format}`}.`,
      hint: 'Give the outline layer as Gerber, or the board’s size with --board-mm.',
    });
  }
  const notes = new Notes(options.name);
  const commands = lexGerber(decodeText(bytes), notes);
  const { paths, contours } =
    notes.problems.length > 0 ? { paths: [], contours: [] } : interpret(commands, notes, { keepPaths: true });
  if (notes.problems.length > 0) throw new InputError(notes.problems);
  const gapMm = options.gapMm ?? DEFAULT_GAP_MM;
  const chained = chainPaths(
    paths.map(({ points }) => points),
    gapMm,
  );
  const rings: Ring[] = [...chained.rings, ...contours].filter((ring) => Math.abs(ringArea(ring)) > 1e-6);
  if (rings.length === 0) {
    throw new InputError({
      code: 'OUTLINE_OPEN',
      place,
      message:
        chained.open.length > 0
          ? `its ${chained.open.length} line(s) do not join into a closed outline (ends may be ${gapMm} mm apart).`
          : 'it draws no outline.',
      hint: 'Export the board outline again, or give the board’s size with --board-mm.',
    });
  }
  const warnings: Warning[] = [...notes.finish()];
  if (chained.widestGapMm > 0) {
    warnings.push({
      code: 'OUTLINE_GAP',
      place,
      message: `the outline has gaps of up to ${chained.widestGapMm.toFixed(3)} mm; they were bridged.`,
    });
  }
  if (chained.open.length > 0) {
    warnings.push({
      code: 'OUTLINE_LEFT',
      place,
      message: `${chained.open.length} line(s) of the outline layer belong to no closed contour and were left out.`,
    });
  }
  const nested = rings.map((ring) => ({
    ring,
    depth: rings.filter((other) => other !== ring && insideRing(ring[0] as Point, other)).length,
  }));
  const outer = nested
    .filter(({ depth }) => depth % 2 === 0)
    .map(({ ring }) => (ringArea(ring) > 0 ? ring : ring.toReversed()));
  const inner = nested
    .filter(({ depth }) => depth % 2 === 1)
    .map(({ ring }) => (ringArea(ring) < 0 ? ring : ring.toReversed()));
  return { rings: [...outer, ...inner], bounds: outer.map(ringBounds).reduce(joinBoxes), warnings };
}
