import type { Warning } from '../../errors.js';
import { openingArea, ringArea } from '../../geometry/area.js';
import { intersectRegions, subtractRegions } from '../../geometry/boolean.js';
import { boundsOf, boxDistance, ringBounds } from '../../geometry/bounds.js';
import { moveWalls } from '../../geometry/reshape.js';
import { rectangle, solid } from '../../geometry/shapes.js';
import type { Box, Opening, Point, Region, Ring, Size } from '../../geometry/types.js';
import { present } from '../../kept.js';
import { compose, type PaintedObject } from './compose.js';
import { type Colour, clipOf, clipRegion, fillRings, type Paint } from './drawing.js';
import { enclosed, strips } from './enclosed.js';
import { lostPieces } from './unite.js';

export interface ComposedOpenings {
  readonly openings: readonly Opening[];
  readonly warnings: readonly Warning[];
}

/** A colour that differs from the ground by less than this, in its strongest channel, is taken as ground. */
const CONTRAST = 0.25;
/** Below this even the eye sees nothing. */
const FAINT_CONTRAST = 0.02;
/** Less of a faint shape than this is what rounding leaves beside one that covers it, mm². */
const SEEN_MM2 = 1e-4;
/** A see-through colour erases only from this opacity on. */
const ERASES = 0.5;
/** Share of the canvas that a ground covers. */
const COVERS = 0.999;

/** Less dark than this along all four edges is a frame around the layer, not film with openings in it. */
const FILM_SHARE = 0.5;

const WHITE: Colour = { r: 1, g: 1, b: 1, a: 1 };
const NIGHT: Colour = { r: 0, g: 0, b: 0, a: 1 };

/** How much a paint stands out against a ground, 0 to 1. */
function contrast(colour: Colour, ground: Colour): number {
  return (
    colour.a * Math.max(Math.abs(colour.r - ground.r), Math.abs(colour.g - ground.g), Math.abs(colour.b - ground.b))
  );
}

/**
 * Turns painted objects into openings. What stands out against the ground is an opening, what has the ground's colour
 * erases. The ground is white paper, unless a shape of another colour covers the whole canvas: then the artwork is a
 * negative.
 *
 * @param paints - in the order of painting; mm
 * @param ground - the canvas's own colour, if the file says one
 */
export function openingsOf(
  paints: readonly Paint[],
  canvas: Size,
  polarity: 'auto' | 'dark' | 'light',
  ground?: Colour,
): ComposedOpenings {
  const warnings: Warning[] = [];
  const seen = withinCanvas(paints, canvas, warnings);
  if (polarity === 'dark') return { openings: painted(seen, WHITE, canvas, warnings), warnings };
  const first = seen.findIndex((paint) => covers(paint, canvas) && paint.colour.a > ERASES);
  const base = first >= 0 ? seen[first].colour : ground;
  if (base && contrast(base, WHITE) >= CONTRAST) {
    const above = seen.slice(first + 1);
    const words: Warning[] = [];
    const found = above.some((paint) => contrast(paint.colour, base) >= CONTRAST)
      ? painted(above, base, canvas, words)
      : [];
    if (found.length > 0) {
      warnings.push(...words.filter(({ code }) => code === 'PIECES_DROPPED' || code === 'FAINT_LEFT_OUT'));
      if (polarity === 'auto') warnings.push(inferred('a shape of another colour than white covers the whole canvas'));
      return { openings: found, warnings };
    }
  }
  if (polarity === 'light') return { openings: lightParts(seen, canvas, warnings), warnings };
  const openings = painted(seen, WHITE, canvas, warnings);
  const film = openings.find(
    (opening) =>
      opening.islands.length > 0 &&
      openingArea(opening) > FILM_SHARE * canvas.widthMm * canvas.heightMm &&
      covers({ regions: [opening] }, canvas, true),
  );
  if (!film) return { openings, warnings };
  warnings.push(inferred('one dark shape runs along all four edges of the canvas'));
  const dark = openings.filter((opening) => opening !== film);
  return {
    openings: compose([...holesOf(film), ...dark.map((region) => ({ dark: false, regions: [region] }))]),
    warnings,
  };
}

function inferred(why: string): Warning {
  return {
    code: 'POLARITY_INFERRED',
    message: `the artwork is read as a negative: ${why}.`,
    hint: 'Say --polarity dark if the dark parts are the openings.',
  };
}

const holesOf = (region: Region): PaintedObject[] =>
  region.islands.map((ring) => ({ dark: true, regions: [solid(ring.toReversed())], tag: { drawn: 'path' } }));

/** Openings against a known ground. */
function painted(paints: readonly Paint[], ground: Colour, canvas: Size, warnings: Warning[]): Opening[] {
  const strongest = paints.reduce((most, { colour }) => Math.max(most, contrast(colour, ground)), 0);
  const faint = strongest < CONTRAST && strongest >= FAINT_CONTRAST;
  if (faint) {
    warnings.push({
      code: 'FAINT_COLOURS',
      message: 'everything is drawn in colours close to the ground; whatever differs from it is taken as an opening.',
    });
  }
  const limit = faint ? FAINT_CONTRAST : CONTRAST;
  const visible = paints.filter(({ colour }) => contrast(colour, ground) >= limit || colour.a >= ERASES);
  const isDark = ({ colour }: Paint): boolean => contrast(colour, ground) >= limit;
  if (!faint) warnings.push(...faintShapes(paints, ground, canvas, limit));
  const outlines = filledOutlines(visible.filter(isDark), warnings);
  if (outlines) return compose(outlines);
  const lost: Region[] = [];
  const openings = compose(
    visible.map((paint) => ({ dark: isDark(paint), regions: paint.regions, tag: paint.tag })),
    lost,
  );
  warnings.push(...lostPieces(lost));
  return openings;
}

/**
 * Shapes that are neither clearly drawn nor clearly ground: those that are hardly seen, unless others stand on them, and
 * light ones through which something dark is seen.
 */
function faintShapes(paints: readonly Paint[], ground: Colour, canvas: Size, limit: number): Warning[] {
  const reach = paints.map(({ regions }) => boundsOf(regions));
  const isDark = ({ colour }: Paint): boolean => contrast(colour, ground) >= limit;
  const near = (box: Box, from: number, to: number): Paint[] =>
    paints.slice(from, to).filter((_, k) => {
      const other = reach[from + k];
      return other !== undefined && boxDistance(box, other) === 0;
    });
  const areaOf = (regions: readonly Region[]): number => regions.reduce((sum, region) => sum + openingArea(region), 0);
  const all = (group: readonly Paint[]): Region[] => group.flatMap(({ regions }) => regions);
  const at = paints.flatMap((paint, i): Box[] => {
    const box = reach[i];
    const { colour } = paint;
    if (!box || isDark(paint) || covers(paint, canvas)) return [];
    const [isFaint, isVeil] = [contrast(colour, ground) >= FAINT_CONTRAST, colour.a < 1 - FAINT_CONTRAST];
    if (!isFaint && !isVeil) return [];
    const below = near(box, 0, i).filter(isDark);
    const above = near(box, i + 1, paints.length).filter((other) => isDark(other) || other.colour.a >= ERASES);
    if (isFaint && above.some((other) => isDark(other) && holds(box, boundsOf(other.regions)))) return [];
    const seen = subtractRegions(paint.regions, all(above));
    const inDoubt = isVeil && below.length > 0 ? intersectRegions(seen, all(below)) : [];
    const bare = isFaint ? (colour.a >= ERASES ? seen : subtractRegions(seen, all(below))) : [];
    return areaOf(inDoubt) + areaOf(bare) > SEEN_MM2 ? [box] : [];
  });
  const places = at.slice(0, 5).map((box) => `${middle(box.minX, box.maxX)}, ${middle(box.minY, box.maxY)}`);
  return present(
    at.length > 0 && {
      code: 'FAINT_LEFT_OUT',
      message: `${at.length} shape(s) are neither clearly dark nor clearly light, and were not read as openings: at ${places.join('; ')}${at.length > 5 ? '; ...' : ''} mm.`,
      hint: 'Draw in black what shall be cut, and leave out what shall not.',
    },
  );
}

const middle = (p: number, q: number): string => ((p + q) / 2).toFixed(2);

const holds = (outer: Box, inner: Box | undefined): boolean =>
  inner !== undefined &&
  outer.minX < inner.minX &&
  outer.minY < inner.minY &&
  outer.maxX > inner.maxX &&
  outer.maxY > inner.maxY;

/** The light parts of a drawing that do not reach its border. */
function lightParts(paints: readonly Paint[], canvas: Size, warnings: Warning[]): Opening[] {
  if (paints.some(({ colour }) => contrast(colour, NIGHT) >= CONTRAST)) {
    const words: Warning[] = [];
    const light = painted(paints, NIGHT, canvas, words);
    // A white sheet below everything is the paper.
    const inner = light.filter((opening) => !covers({ regions: [opening] }, canvas, true));
    warnings.push(...words.filter(({ code }) => inner.length > 0 && code === 'FAINT_LEFT_OUT'));
    if (inner.length > 0) return inner;
  }
  const sheet: PaintedObject = { dark: true, regions: [solid(rectangle(0, 0, canvas.widthMm, canvas.heightMm))] };
  const all = compose([
    sheet,
    ...paints.map(({ colour, regions }) => ({ dark: contrast(colour, NIGHT) >= CONTRAST, regions })),
  ]);
  return all.filter(({ outer }) => !touchesEdge(ringBounds(outer), canvas));
}

function touchesEdge(box: Box, { widthMm, heightMm }: Size): boolean {
  const near = 1e-3;
  return box.minX <= near || box.minY <= near || box.maxX >= widthMm - near || box.maxY >= heightMm - near;
}

/** Whether a paint covers the canvas: wholly, or (with `rim`) all along its edges. */
function covers(paint: { readonly regions: readonly Region[] }, canvas: Size, rim = false): boolean {
  const whole = canvas.widthMm * canvas.heightMm;
  return paint.regions.some((region) => {
    const { minX, minY, maxX, maxY } = ringBounds(region.outer);
    const width = Math.min(maxX, canvas.widthMm) - Math.max(minX, 0);
    const height = Math.min(maxY, canvas.heightMm) - Math.max(minY, 0);
    if (width < canvas.widthMm * COVERS || height < canvas.heightMm * COVERS) return false;
    const outside = openingArea({ outer: region.outer, islands: [] });
    return (rim ? outside : openingArea(region)) >= whole * COVERS;
  });
}

/** What lies on the canvas; a shape that runs over its edge is cut there, as any viewer shows it. */
function withinCanvas(paints: readonly Paint[], canvas: Size, warnings: Warning[]): Paint[] {
  const clip = clipOf([solid(rectangle(0, 0, canvas.widthMm, canvas.heightMm))]);
  let outside = 0;
  let across = 0;
  const seen = paints.flatMap((paint): Paint[] => {
    const box = boundsOf(paint.regions);
    if (!box || !clip.box) return [];
    if (covers(paint, canvas)) return [paint];
    const regions = paint.regions.flatMap((region) => {
      const left = clipRegion(region, clip);
      if (left.length === 0) outside += 1;
      else if (left[0] !== region) across += 1;
      return left;
    });
    return regions.length === 0 ? [] : [{ ...paint, regions }];
  });
  if (outside > 0) {
    warnings.push({
      code: 'OUTSIDE_CANVAS',
      message: `${outside} shape(s) lie outside the canvas, where no viewer shows them; they were left out.`,
    });
  }
  if (across > 0) {
    warnings.push({
      code: 'CUT_BY_CANVAS',
      message: `${across} shape(s) run over the canvas's edge and were cut there, as a viewer shows them.`,
    });
  }
  return seen;
}

/** A line that no film could hold as an opening; only outlines are drawn so thin. */
const THIN_MM = 0.15;
/** Wider lines than this are drawn inside or along the land's edge, and their outer edge is the land's, mm. */
const HAIRLINE_MM = 0.05;
/** The line is at most this share of the shape's smaller side. */
const THIN_SHARE = 0.25;
const JOIN_GAP_MM = 0.01;
/** More loose lines than this are a drawing, no outlines of lands. */
const MAX_LOOSE = 3000;

/**
 * Artwork drawn as outlines: nothing is filled, all lines are thin and close. Such shapes are filled before they are
 * burnt.
 *
 * @returns the filled shapes, or undefined when the artwork is not of that kind
 */
function filledOutlines(paints: readonly Paint[], warnings: Warning[]): PaintedObject[] | undefined {
  if (paints.length === 0 || !paints.every(({ lines }) => lines && lines.widthMm <= THIN_MM)) return undefined;
  const rings: Ring[] = [];
  const loose: (readonly Point[])[] = [];
  let widthMm = 0;
  for (const { lines } of paints) {
    widthMm = Math.max(widthMm, lines?.widthMm ?? 0);
    for (const { points, closed } of lines?.polylines ?? []) {
      if (closed || samePoint(points[0], points[points.length - 1])) rings.push(points);
      else loose.push(points);
    }
  }
  if (loose.length > MAX_LOOSE) return undefined;
  if (loose.length > 0) {
    const joined = enclosed(
      loose.flatMap((points) => strips(points, JOIN_GAP_MM)),
      JOIN_GAP_MM,
    );
    if (joined.open > 0) return undefined;
    for (const ring of joined.rings) rings.push(ring);
  }
  const large = rings.every((ring) => {
    const { minX, minY, maxX, maxY } = ringBounds(ring);
    return Math.abs(ringArea(ring)) > 0 && widthMm <= THIN_SHARE * Math.min(maxX - minX, maxY - minY);
  });
  if (rings.length === 0 || !large) return undefined;
  const grow = widthMm > HAIRLINE_MM ? widthMm / 2 : 0;
  const filled = fillRings(rings, 'evenodd').flatMap((region) => moveWalls(region, grow));
  warnings.push({
    code: 'OUTLINES_FILLED',
    message:
      `the artwork is drawn as outlines, with lines of at most ${Number(widthMm.toFixed(3))} mm and no fills; ` +
      `the shapes were filled up to the lines' ${grow > 0 ? 'outer edge' : 'middle'}.`,
    hint: 'Export it with filled shapes if that is not what is wanted.',
  });
  return filled.map((region) => ({ dark: true, regions: [region], tag: { drawn: 'path' } }));
}

function samePoint(p: Point, q: Point): boolean {
  return Math.abs(p[0] - q[0]) < 1e-6 && Math.abs(p[1] - q[1]) < 1e-6;
}
