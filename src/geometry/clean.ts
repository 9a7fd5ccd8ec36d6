import { InputError, type Warning } from '../errors.js';
import { present } from '../kept.js';
import { orient } from './affine.js';
import { isRegion, openingArea, openingPerimeter, ringArea } from './area.js';
import { subtractRegions, unionRings } from './boolean.js';
import { boxIndex } from './box-index.js';
import { isConvex } from './convex.js';
import { isClean, markClean } from './copies.js';
import type { Opening, Region, Ring } from './types.js';
import { nearestBetween, wallsOf } from './walls.js';

/** Openings smaller than this, mm², are no openings: a square of a tenth of a micrometre. */
export const NO_AREA_MM2 = 1e-8;
/** Farther out than this, mm, lies no stencil: ten metres. */
export const FARTHEST_MM = 1e4;
/** Film between two rings that is no film, mm. */
const TOUCHING_MM = 1e-6;
/** What resolving a sound ring may change: the clipper's grid, as a width along its walls and a share of their length. */
const GRID_MM = 1e-5;
const GRID_SHARE = 1e-4;

/**
 * What every entry of the library does with openings first: no point twice in a row, outer rings counter-clockwise,
 * islands clockwise and within their ring. Rings that cross themselves, and islands that touch or leave their ring, are
 * resolved where one opening remains, and that is told; numbers stay as they are.
 *
 * @param openings - mm; those of the readers cost nothing
 * @returns as many openings as came in; warnings OPENING_RESOLVED, OPENING_WITHOUT_AREA
 * @throws {InputError} BAD_OPENING for fewer than three points, coordinates that are no numbers or beyond ten metres, and
 * rings that fall apart or vanish when they are resolved
 */
export function cleanOpenings(openings: readonly Opening[]): {
  readonly openings: readonly Opening[];
  readonly warnings: Warning[];
} {
  requireOpenings(openings);
  const mended: number[] = [];
  const empty: number[] = [];
  const cleaned = openings.map((opening, i) => {
    if (isClean(opening)) return opening;
    checkPoints(opening, i);
    const tidy = tidied(opening);
    if (ringArea(tidy.outer) < NO_AREA_MM2 && resolved(tidy).length === 0) {
      empty.push(i + 1);
      return tidy;
    }
    const sound = soundOf(tidy, i);
    if (sound !== tidy) mended.push(i + 1);
    return markClean(sound);
  });
  const warnings = present(
    mended.length > 0 && {
      code: 'OPENING_RESOLVED',
      message: `${mended.length} ${mended.length === 1 ? 'opening crosses itself or has islands that touch or leave its ring; it was' : 'openings cross themselves or have islands that touch or leave their rings; they were'} resolved: what any ring goes around is open, what any island goes around is film.`,
      hint: 'Look at the openings there.',
      openings: mended,
    },
    empty.length > 0 && {
      code: 'OPENING_WITHOUT_AREA',
      message: `${empty.length} ${empty.length === 1 ? 'opening has' : 'openings have'} no area and will not be cut.`,
      hint: 'Look at the artwork there.',
      openings: empty,
    },
  );
  return { openings: cleaned, warnings };
}

/** @throws {InputError} BAD_OPENING for what is no list of openings with rings */
export function requireOpenings(openings: readonly Region[]): void {
  if (!Array.isArray(openings)) throw notOpenings(openings);
  openings.forEach((opening, i) => {
    if (!isRegion(opening)) throw bad(i, 'has no rings: outer is a list of points, islands a list of such lists');
  });
}

function notOpenings(found: unknown): InputError {
  return new InputError({
    code: 'BAD_OPENING',
    place: { key: 'openings' },
    message: `expected a list of openings, found ${found === null ? 'null' : typeof found}.`,
    hint: 'Hand in the openings of readArtwork: (await readArtwork(bytes)).openings.',
  });
}

function bad(index: number, what: string, key = ''): InputError {
  return new InputError({
    code: 'BAD_OPENING',
    place: { key: `openings[${index}]${key}` },
    message: `opening ${index + 1} ${what}.`,
    hint: 'Read the artwork with readArtwork, or give plain rings of at least three points in mm.',
  });
}

function checkPoints({ outer, islands }: Region, index: number): void {
  [outer, ...islands].forEach((ring, k) => {
    const key = k === 0 ? '.outer' : `.islands[${k - 1}]`;
    if (ring.length < 3) throw bad(index, `has a ring of ${ring.length} points, three are the least`, key);
    ring.forEach(([x, y], at) => {
      if (Math.abs(x) <= FARTHEST_MM && Math.abs(y) <= FARTHEST_MM) return;
      const what = Number.isFinite(x) && Number.isFinite(y) ? 'lies more than ten metres out' : 'is no number';
      throw bad(index, `has a coordinate that ${what}`, `${key}[${at}]`);
    });
  });
}

const tidied = (opening: Opening): Opening => {
  const { outer, islands } = opening;
  const rings = [outer, ...islands];
  const single = rings.map(withoutRepeats);
  const isTidy =
    ringArea(outer) >= 0 &&
    single.every((ring, i) => ring === rings[i]) &&
    islands.every((ring) => ringArea(ring) <= -NO_AREA_MM2);
  if (isTidy) return opening;
  const kept = single.slice(1).filter((ring) => Math.abs(ringArea(ring)) >= NO_AREA_MM2);
  return orient({ ...opening, outer: single[0], islands: kept });
};

/** The same ring when no point is repeated. */
function withoutRepeats(ring: Ring): Ring {
  const differs = ([x, y]: Ring[number], i: number): boolean => {
    const [px, py] = ring[i === 0 ? ring.length - 1 : i - 1];
    return x !== px || y !== py;
  };
  return ring.every(differs) ? ring : ring.filter(differs);
}

/** The opening itself where no rings touch and resolving changes nothing that can be measured; convex rings need no clipper. */
function soundOf(opening: Opening, index: number): Opening {
  if (opening.islands.length === 0 && isConvex(opening.outer)) return opening;
  const pieces = resolved(opening);
  if (isSame(pieces, opening) && !ringsTouch(opening)) return opening;
  if (pieces.length === 1) return { ...opening, ...pieces[0] };
  throw bad(
    index,
    pieces.length === 0
      ? 'is covered by its islands'
      : `crosses itself or is cut by its islands, and falls into ${pieces.length} pieces`,
  );
}

function isSame(pieces: readonly Region[], region: Region): boolean {
  if (pieces.length !== 1 || pieces[0].islands.length !== region.islands.length) return false;
  const lengthMm = openingPerimeter(region);
  return (
    Math.abs(openingArea(pieces[0]) - openingArea(region)) <= GRID_MM * lengthMm &&
    Math.abs(openingPerimeter(pieces[0]) - lengthMm) <= GRID_SHARE * lengthMm
  );
}

function ringsTouch({ outer, islands }: Region): boolean {
  const walls = [outer, ...islands].map((ring) => wallsOf({ outer: ring, islands: [] }));
  const index = boxIndex(walls, ({ box }) => box);
  return walls.some((own, i) =>
    index.near(own.box, TOUCHING_MM).some((k) => k > i && nearestBetween(own, walls[k], TOUCHING_MM) !== undefined),
  );
}

function resolved({ outer, islands }: Region): Region[] {
  const around = unionRings([outer]);
  const film = islands.flatMap((ring) => unionRings([ring]));
  const pieces = film.length > 0 ? subtractRegions(around, film) : around;
  return pieces.filter((piece) => openingArea(piece) >= NO_AREA_MM2);
}
