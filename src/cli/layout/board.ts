import type { DrilledHole } from '../../artwork/drill/drill-program.js';
import { demand, type Warning } from '../../errors.js';
import { boundsOf } from '../../geometry/bounds.js';
import { boxRing, rectangle, solid } from '../../geometry/shapes.js';
import type { Opening, Ring } from '../../geometry/types.js';
import { webBetween } from '../../geometry/walls.js';
import { present } from '../../kept.js';
import { holeOpenings } from '../../layout/lay-stencil.js';
import { wrongFile } from '../../schema/our-files.js';
import type { Pending } from '../each-artwork.js';
import { about } from '../file-problem.js';
import type { Io } from '../io.js';
import type { LayoutOptionValues } from '../options/stencils.js';

/** A board is held by some holes; many thousands are vias. */
const MOST_HOLES = 5000;

/** Holes of this diameter and more are tooling and mounting holes, mm. Common practice, no source. */
const LEAST_HOLE_MM = 2.5;

/** How JSON begins. */
const OPEN_BRACE = 0x7b;

/** What is known of the board besides its paste layers, in the artwork’s coordinates. */
export interface Board {
  readonly outline?: readonly Ring[];
  readonly holes: readonly DrilledHole[];
  readonly warnings: readonly Warning[];
}

/** A file's bytes, unless it is one of our own files, which no reader of artwork can name. */
async function bytesOf(file: string, wanted: string, io: Io): Promise<Uint8Array> {
  const bytes = await io.readFile(file);
  const error = bytes[0] === OPEN_BRACE ? wrongFile(file, wanted, new TextDecoder().decode(bytes)) : undefined;
  if (error) throw error;
  return bytes;
}

/** Reads the outline and the holes that the options name. @param own - the outline out of an archive */
export async function readBoard(values: LayoutOptionValues, io: Io, own?: Pending['outline']): Promise<Board> {
  const warnings: Warning[] = [];
  let outline: readonly Ring[] | undefined;
  if (values.outline) {
    const file = values.outline;
    const { readOutline } = await import('../../artwork/gerber/read-outline.js');
    const result = await about(file, async () =>
      readOutline(own?.bytes ?? (await bytesOf(file, 'the outline of the board', io)), { name: file }),
    );
    outline = result.rings;
    warnings.push(...result.warnings);
  } else if (values.boardMm) {
    const { x, y } = values.boardAtMm ?? { x: 0, y: 0 };
    outline = [rectangle(x, y, x + values.boardMm.widthMm, y + values.boardMm.heightMm)];
  }
  const holes: DrilledHole[] = [...(values.hole ?? [])];
  if (values.drill) {
    const file = values.drill;
    const { readDrill } = await import('../../artwork/drill/read-drill.js');
    const drilled = await about(file, async () => readDrill(await bytesOf(file, 'a drill file', io), { name: file }));
    const taken = await about(file, async () => holesToCut(drilled.holes, values.holeMm));
    for (const hole of taken) holes.push(hole);
    warnings.push(...drilled.warnings, ...outsideBoard(taken, outline, file));
  }
  return { outline, holes, warnings };
}

/** @throws {InputError} NO_HOLES, TOO_MANY_HOLES */
function holesToCut(all: readonly DrilledHole[], wanted: readonly number[] | undefined): DrilledHole[] {
  const taken = all.filter(({ diameterMm }) =>
    wanted ? wanted.some((d) => Math.abs(d - diameterMm) < 0.026) : diameterMm >= LEAST_HOLE_MM,
  );
  const sizes = new Set(all.map(({ diameterMm }) => Number(diameterMm.toFixed(3))));
  demand(
    taken.length > 0,
    'NO_HOLES',
    `none of its ${all.length} holes is ${wanted ? `${wanted.join(' or ')} mm wide` : `${LEAST_HOLE_MM} mm wide or more`}; it has ${[...sizes].sort((p, q) => p - q).join(', ')} mm.`,
    'Choose diameters with --hole-mm, or leave out --drill.',
  );
  demand(
    taken.length <= MOST_HOLES,
    'TOO_MANY_HOLES',
    `${taken.length} of its holes would be cut; at most ${MOST_HOLES} can be.`,
    'Choose the diameters of the holes that hold the board with --hole-mm.',
  );
  return taken;
}

/** The board as one shape; of several outlines, which may be cut-outs or a panel, what holds them all. */
function boardShape(outline: readonly Ring[] | undefined): Opening | undefined {
  const box = outline && boundsOf(outline.map((ring) => solid(ring)));
  if (!box) return undefined;
  return solid(outline.length === 1 ? outline[0] : boxRing(box));
}

/** Holes that a drill file has beside the board: most often its origin is another than that of the outline. */
function outsideBoard(holes: readonly DrilledHole[], outline: readonly Ring[] | undefined, file: string): Warning[] {
  const board = boardShape(outline);
  if (!board) return [];
  const shapes = holeOpenings(holes);
  const outside = holes.filter((_, i) => !webBetween(shapes[i], board, 0));
  const places = outside.slice(0, 4).map(({ x, y }) => `${x.toFixed(2)}, ${y.toFixed(2)}`);
  return present(
    places.length > 0 && {
      code: 'HOLE_OUTSIDE_BOARD',
      place: { file },
      message: `${outside.length} of ${holes.length} holes lie${outside.length === 1 ? 's' : ''} outside the outline of the board (at ${places.join('; ')}${outside.length > places.length ? '; …' : ''} mm); cut all the same.`,
      hint: 'Check that drill file and outline share one origin and one unit, or choose holes with --hole-mm.',
    },
  );
}
