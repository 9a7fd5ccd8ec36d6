import { IDENTITY, invert, mapPoint } from '../../geometry/affine.js';
import { insidePoint, openingArea, openingPerimeter } from '../../geometry/area.js';
import { ownAxes, sizeAlong } from '../../geometry/oriented-box.js';
import type { Affine, Opening, Point, Region } from '../../geometry/types.js';
import type { OpeningBox, Openings } from '../find/places.js';
import type { Recognised } from '../find/recognise.js';
import { Ruler, type Sharpness } from '../measure/ruler.js';
import { fitStiff } from '../picture/fit-affine.js';
import type { GreyPicture } from '../picture/picture.js';
import { medianOf } from '../picture/robust.js';
import { type Hole, holesOf } from './holes.js';
import { type InspectedOpening, type InspectLimits, judged } from './judge.js';
import { bridge, type MeasuredOpening, measurePatch } from './measure-patch.js';
import { groundOf, Neighbourhood, openShareOf, type Patch, patchOf, WIDE_ROOM_MM } from './patch.js';

/** An opening that lies farther from its place is another one, mm; and may differ from it by so much of its area. */
const BESIDE_MM = 1.5;
const BESIDE_AREA = 0.3;
/** Openings of which so much is there, and so many of them, tell where the stencil lies. */
const WHOLE = 0.2;
const LEAST_WHOLE = 3;
/** Openings that contrast is learnt from. */
const MOST_LEARNT = 60;
/** Across narrower ones blur reaches from wall to wall, mm. */
const LEAST_WIDE_MM = 0.3;
/** What is not judged is there when its midst is so open. */
const HALF_OPEN = 0.5;
/** An opening differs from film by this much at least; what doesn't is closed. */
const LEAST_CONTRAST = 0.08;

export interface Inspection {
  readonly inspected: InspectedOpening[];
  readonly holes: Hole[];
  readonly sharpness: Sharpness;
  /** From where openings should lie to where they lie, as a whole, upon the recognised stencil; undefined where too few are whole. */
  readonly laid?: Affine;
}

/**
 * Holds every opening of a recognised stencil against what was asked, and finds those that nobody asked for.
 *
 * @param judging - openings after `count` are only looked for; `asCut`: what the beam makes of the others
 */
export function inspectOpenings(
  picture: GreyPicture,
  openings: Openings,
  recognised: Recognised,
  limits: InspectLimits,
  { count = openings.all.length, asCut = [] }: { readonly count?: number; readonly asCut?: AsCut } = {},
): Inspection {
  const ruler = new Ruler(picture, openings, recognised);
  const sharpness = ruler.learn(rectangles(openings).filter(({ opening }) => recognised.seenAt[opening]));
  const around = new Neighbourhood(openings.all);
  const sizes = openings.all.map((opening) => sizeOf([opening], opening));
  const openShare = contrastOf(around, ruler);
  const back = invert(recognised.map);
  const besideOf = (i: number): Point => {
    const { at } = openings.stars[i];
    const [x, y] = mapPoint(back, ruler.film.near(i)(at));
    return [x - at[0], y - at[1]];
  };
  const measure = (i: number, moved: Point = [0, 0]): MeasuredOpening => {
    const drawn = asCut[i]?.length > 0 ? asCut[i] : undefined;
    const patch = (roomMm?: number): Patch =>
      patchOf(groundOf(around, i, ruler.levelsNear(i), { moved, roomMm, drawn }), openShare, sharpness.sigmaMm);
    const found = measurePatch(patch(), drawn ? sizeOf(drawn, openings.all[i]) : sizes[i]);
    const other = found.slit && found.bridgedWith === undefined ? bridge(patch(WIDE_ROOM_MM)) : undefined;
    const [x, y] = besideOf(i);
    const { beside, bridgedWith = other } = found;
    return { ...found, beside: beside && [x + moved[0] + beside[0], y + moved[1] + beside[1]], bridgedWith };
  };
  const judgedOnes = openings.all.slice(0, count).map((_, i) => i);
  const first = judgedOnes.map((i) => measure(i));
  const laid = laidOn(openings, first, sizes);
  /** Whether it is open in its midst. */
  const isThere = (i: number): boolean => {
    const { film } = first[around.nearest(openings.stars[i].at, judgedOnes)];
    const level = ruler.levelsNear(i)(insidePoint(openings.all[i]));
    // Outside of the picture nothing is known.
    return recognised.seenAt[i] !== undefined || !((level / film - 1) / (openShare - 1) < HALF_OPEN);
  };
  const inspected = openings.all.map((opening, i): InspectedOpening => {
    const { at } = openings.stars[i];
    const base = { number: i + 1, asked: sizes[i], at, ring: opening.outer.map(ruler.film.near(i)) };
    if (i >= count) return { ...base, faults: isThere(i) ? [] : ['missing'] };
    const [x, y] = mapPoint(laid ?? IDENTITY, at);
    const judge = (found: MeasuredOpening): InspectedOpening =>
      judged(base, openingPerimeter(opening), found, laid && [at[0] - x, at[1] - y], limits);
    const found = judge(first[i]);
    const star = recognised.seenAt[i];
    if (found.faults.length === 0 || found.faults[0] === 'bridged' || !star) return found;
    // What lies beside its place is measured where it lies.
    const [sx, sy] = mapPoint(back, star);
    const beside = besideOf(i);
    const again = judge(measure(i, [sx - at[0] - beside[0], sy - at[1] - beside[1]]));
    return again.faults.length === 1 && again.faults[0] === 'out of place' ? again : found;
  });
  const sound = inspected.flatMap(({ faults, unseen }, i) => (faults.length > 0 || unseen ? [] : [i]));
  const telling = sound.filter((i) => i < count);
  const holes = holesOf(around, {
    ...{ ruler, openShare },
    filmAt: (i) => first[i].film,
    sound: telling.length > 0 ? telling : judgedOnes.filter((i) => !first[i].cutOff),
  }).filter(({ at: [x, y], widthMm, heightMm }) => {
    // What lies beside its place is no hole.
    const isIt = ([p, q]: Point): boolean => Math.abs(p - x) < widthMm / 2 && Math.abs(q - y) < heightMm / 2;
    return !inspected.some(({ faults: [fault] }, i) => fault === 'out of place' && recognised.seenAt[i] && isIt(mapPoint(back, recognised.seenAt[i]))); // biome-ignore format: one line
  });
  return { ...paired(bothBridged(inspected), holes, openings), sharpness, laid };
}

/** What comes out of each opening, in pieces. */
type AsCut = readonly (readonly Region[])[];

/** Along the sides of an opening as asked. */
function sizeOf(pieces: readonly Region[], asked: Opening) {
  const outer = pieces.length === 1 ? pieces[0].outer : pieces.flatMap((piece) => piece.outer);
  const [widthMm, heightMm] = sizeAlong({ outer }, ownAxes(asked));
  return { widthMm, heightMm, areaMm2: pieces.reduce((sum, piece) => sum + openingArea(piece), 0) };
}

/** The whole stencil laid upon the artwork once more, by walls instead of what stood out of a smaller picture. */
function laidOn(
  { stars }: Openings,
  found: readonly MeasuredOpening[],
  asked: readonly { readonly areaMm2: number }[],
): Affine | undefined {
  const shares = found.map(({ areaMm2 }, i) => areaMm2 / asked[i].areaMm2);
  // What was cut too wide throughout is so around the places where its openings should lie.
  const usual = Math.max(1, medianOf(shares));
  const pairs = found.flatMap(({ beside, bridgedWith, cutOff }, i): [Point, Point][] => {
    const [x, y] = stars[i].at;
    const whole = Math.abs(shares[i] / usual - 1) < WHOLE && bridgedWith === undefined && !cutOff;
    return beside && whole ? [[stars[i].at, [x + beside[0], y + beside[1]]]] : [];
  });
  return pairs.length >= LEAST_WHOLE ? fitStiff(pairs, IDENTITY) : undefined;
}

/** What has grown together with an opening is as faulty as that. */
function bothBridged(inspected: readonly InspectedOpening[]): InspectedOpening[] {
  const others = new Map(inspected.flatMap(({ bridgedWith, number }) => (bridgedWith ? [[bridgedWith, number]] : [])));
  return inspected.map((one) => {
    const other = others.get(one.number);
    if (other === undefined || one.unseen || one.faults[0] === 'bridged') return one;
    return { ...one, bridgedWith: other, faults: ['bridged'] };
  });
}

/** What is missing in one place and lies open beside it is one opening, out of place. */
function paired(
  inspected: readonly InspectedOpening[],
  holes: readonly Hole[],
  { stars }: Openings,
): { readonly inspected: InspectedOpening[]; readonly holes: Hole[] } {
  const left = new Set(holes);
  const all = inspected.map((one, i): InspectedOpening => {
    if (one.faults[0] !== 'missing' && one.faults[0] !== 'partly closed') return one;
    const [x, y] = stars[i].at;
    const far = ({ at }: Hole): number => Math.hypot(at[0] - x, at[1] - y);
    const { areaMm2 } = one.asked;
    const [moved] = [...left]
      .filter((hole) => far(hole) < BESIDE_MM && Math.abs(hole.areaMm2 / areaMm2 - 1) < BESIDE_AREA)
      .sort((p, q) => far(p) - far(q));
    if (!moved) return one;
    left.delete(moved);
    const { widthMm, heightMm } = moved;
    return { ...one, areaMm2: moved.areaMm2, widthMm, heightMm, offMm: far(moved), faults: ['out of place'] };
  });
  return { inspected: all, holes: [...left] };
}

/** Rectangles across their longer side, the widest ones first: round walls make edges look soft and lopsided. */
function rectangles(openings: Openings): OpeningBox[] {
  return openings.all
    .flatMap((opening, i) => {
      if (opening.outer.length !== 4 || opening.islands.length > 0) return [];
      const [across, along] = ownAxes(opening);
      const place = openings.placeOf(i, across);
      if (openingArea(opening) < 0.99 * 4 * place.halfAcross * place.halfAlong) return [];
      return place.halfAcross < place.halfAlong ? openings.placeOf(i, along) : place;
    })
    .filter(({ halfAlong }) => 2 * halfAlong > LEAST_WIDE_MM)
    .sort((a, b) => b.halfAlong - a.halfAlong)
    .slice(0, MOST_LEARNT);
}

/** Level of openings as a share of the film's; of narrow ones the middle is taken, where none is wide. */
function contrastOf(around: Neighbourhood, ruler: Ruler): number {
  const { openShare } = ruler.sharpness;
  if (!Number.isNaN(openShare)) return openShare;
  const step = Math.max(1, Math.floor(around.openings.length / MOST_LEARNT));
  const shares = around.openings.flatMap((_, i) =>
    i % step === 0 ? [openShareOf(groundOf(around, i, ruler.levelsNear(i)))] : [],
  );
  return medianOf(shares.filter((share) => Math.abs(share - 1) > LEAST_CONTRAST));
}
