import { InputError, type Warning, warningsIf } from '../../errors.js';
import { ringArea } from '../../geometry/area.js';
import { joinBoxes, ringBounds } from '../../geometry/bounds.js';
import type { Box, Point, Ring } from '../../geometry/types.js';
import { insideRing } from '../../geometry/walls.js';
import { WorkBudget } from '../../geometry/work-budget.js';
import { givenFile } from '../../given.js';
import { chainPaths } from '../paint/chain.js';
import { Diagnostics } from '../paint/diagnostics.js';
import { requireFormat } from '../read.js';
import { interpret } from './interpreter.js';
import { decodeLayer, lexGerber } from './lex.js';
import type { DrawnObject } from './object-sink.js';

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
  const { objects, attributes } = new WorkBudget().run(() => interpret(commands, notes, { keepLines: true }));
  if (notes.problems.length > 0) throw new InputError(notes.problems);
  const kind = attributes.get('.FileFunction')?.[0];
  if (kind !== undefined && !OUTLINE_LAYERS.test(kind)) {
    notes.warn(
      'OUTLINE_DOUBTFUL',
      undefined,
      `the file says that it is a layer of the kind ${kind}, not the outline of a board.`,
      'Give the profile layer.',
    );
  }
  const { paths, contours } = drawnLines(objects);
  const gapMm = options.gapMm ?? DEFAULT_GAP_MM;
  const chained = chainPaths(paths, gapMm);
  const rings: Ring[] = [...chained.rings, ...contours].filter((ring) => Math.abs(ringArea(ring)) > 1e-6);
  if (rings.length === 0) {
    throw new InputError({
      code: 'OUTLINE_OPEN',
      place: { file: options.name },
      message:
        chained.open.length > 0
          ? `its ${chained.open.length} line(s) do not join into a closed outline (ends may be ${gapMm} mm apart).`
          : 'it draws no outline.',
      hint: 'Export the board outline again, or give the board’s size with --board-mm.',
    });
  }
  const { widestGapMm, open } = chained;
  const more = warningsIf(options.name, [
    [widestGapMm, 'OUTLINE_GAP', `the outline has gaps of up to ${widestGapMm.toFixed(3)} mm; they were bridged.`],
    [
      open.length,
      'OUTLINE_LEFT',
      `${open.length} line(s) of the outline layer belong to no closed contour and were left out.`,
    ],
  ]);
  const warnings: Warning[] = [...notes.finish(), ...more];
  const { outer, inner } = nest(distinct(rings));
  return { rings: [...outer, ...inner], bounds: outer.map(ringBounds).reduce(joinBoxes), warnings };
}

/** More contours than this are no outline but a drawing. */
const MAX_RINGS = 2000;

/** Each contour once, also when the file draws it twice; the largest ones when there are very many. */
function distinct(rings: readonly Ring[]): Ring[] {
  const known = new Map<string, Ring>();
  for (const ring of rings) {
    const { minX, minY, maxX, maxY } = ringBounds(ring);
    const key = [minX, minY, maxX, maxY, Math.abs(ringArea(ring))].map((v) => v.toFixed(3)).join(' ');
    if (!known.has(key)) known.set(key, ring);
  }
  const all = [...known.values()];
  if (all.length <= MAX_RINGS) return all;
  return all.sort((p, q) => Math.abs(ringArea(q)) - Math.abs(ringArea(p))).slice(0, MAX_RINGS);
}

/** Boards, counter-clockwise, and their cut-outs, clockwise: contours within an even and an odd number of others. */
function nest(rings: readonly Ring[]): { outer: Ring[]; inner: Ring[] } {
  const boxes = rings.map(ringBounds);
  const areas = rings.map((ring) => Math.abs(ringArea(ring)));
  // Only a larger one can hold another: of contours that cross, none is within the other both ways.
  const larger = (i: number, k: number): boolean => areas[i] > areas[k] || (areas[i] === areas[k] && i < k);
  const holds = (i: number, [x, y]: Point): boolean => {
    const { minX, minY, maxX, maxY } = boxes[i];
    return x >= minX && x <= maxX && y >= minY && y <= maxY && insideRing([x, y], rings[i]);
  };
  const outer: Ring[] = [];
  const inner: Ring[] = [];
  rings.forEach((ring, k) => {
    const depth = rings.filter((_, i) => i !== k && larger(i, k) && holds(i, ring[0])).length;
    const board = depth % 2 === 0;
    (board ? outer : inner).push(ringArea(ring) > 0 === board ? ring : ring.toReversed());
  });
  return { outer, inner };
}

/** Centre lines and contours of dark objects, where they lie. Flashes have none. */
function drawnLines(objects: readonly DrawnObject[]): { paths: Point[][]; contours: Point[][] } {
  const paths: Point[][] = [];
  const contours: Point[][] = [];
  for (const { dark, path, contours: rings, at: [dx, dy] = [0, 0] } of objects) {
    if (!dark) continue;
    const placed = (points: readonly Point[]): Point[] => points.map(([x, y]): Point => [x + dx, y + dy]);
    if (path) paths.push(placed(path));
    for (const ring of rings ?? []) contours.push(placed(ring));
  }
  return { paths, contours };
}
