import type { CellFeature, DimensionalFeature, Feature } from '../../coupon/features.js';
import type { Point } from '../../geometry/types.js';
import type { Outcome } from '../../readings/types.js';
import type { Openings } from '../find/places.js';
import type { Recognised } from '../find/recognise.js';
import type { GreyPicture } from '../picture/picture.js';
import type { SeenMark } from '../scanner/places-of-marks.js';
import type { ScannedLength } from '../scanner/scanner.js';
import { edgeToEdge, type MeasuredEdge, wallLines } from './edge.js';
import type { Laid } from './film-in-picture.js';
import { type Sharpness, softDoubtMm } from './levels.js';
import { chordLackOf } from './patch-of-opening.js';
import { measureAcross } from './profile-of-opening.js';
import { proposeCell } from './propose-cell.js';
import { FEW, OUTSIDE, RAGGED_MM, ROOM_MM, Ruler } from './ruler.js';
import { bothWays, readStrip, type ScanFrame, stripAlong } from './strip.js';

/** What a picture says of one feature, before the scanner's own scale is taken out. */
export interface Scanned {
  readonly feature: Feature;
  /** mm of the scanner. */
  readonly lengthMm?: number;
  readonly uMm?: number;
  readonly outcome?: Outcome;
  /** The direction in which it was measured, in the scanner's own axes; a unit vector. */
  readonly direction: readonly [number, number];
  /** Where its two edges were found, pixels. */
  readonly ends?: readonly [Point, Point];
  /** Why a person should look at it. */
  readonly doubt?: string;
  /** Words for the column `note`. */
  readonly note?: string;
}

export interface ScannedCoupon {
  readonly recognised: Recognised;
  readonly sharpness: Sharpness;
  readonly scanned: readonly Scanned[];
  /** Middles of openings with four square corners, wherever they lie. */
  readonly marks: readonly SeenMark[];
  /** Why features could not be read: the film is cut off, a vernier, too narrow between two wall lines. */
  readonly unread: readonly { readonly id: string; readonly why: string }[];
}

/** Of a slot, a square and a circle the share of its length that is looked at. */
const SHARES = { slot: 0.8, square: 0.4, circle: 0.25 };
/** Film beside a web, and around a cell, that is looked at, mm. */
const WEB_GROUND_MM = 0.3;
const CELL_ROOM_MM = 0.5;

/** Measures every feature of a recognised coupon. */
export function measureCoupon(
  picture: GreyPicture,
  features: readonly Feature[],
  openings: Openings,
  recognised: Recognised,
): ScannedCoupon {
  const ruler = new Ruler(picture, openings, recognised);
  const lengths = features.filter((feature) => 'from' in feature);
  const isWeb = ({ kind }: Feature): boolean => kind === 'web';
  const webLast = [...lengths.filter((one) => !isWeb(one)), ...lengths.filter(isWeb)];
  const sharpness = ruler.learn(webLast.map((feature) => openings.placesOf(feature)[0]));
  const scanned: Scanned[] = [];
  const unread: { id: string; why: string }[] = [];
  for (const feature of features) {
    const found =
      feature.kind === 'vernier'
        ? 'verniers are read by eye'
        : feature.kind === 'cell'
          ? cell(ruler, feature, openings)
          : length(
              ruler,
              feature,
              openings.placesOf(feature).map((place) => ruler.film.lay(place)),
            );
    if (typeof found === 'string') unread.push({ id: feature.id, why: found });
    else scanned.push(found);
  }
  return { recognised, sharpness, scanned, marks: ruler.marks(), unread };
}

/** The lengths among what was scanned of a coupon. */
export function lengthsIn(coupon: string, scanned: readonly Scanned[]): ScannedLength[] {
  return scanned.flatMap(({ feature, lengthMm, uMm, direction }): ScannedLength[] =>
    'nominalMm' in feature && lengthMm !== undefined && uMm !== undefined
      ? [{ coupon, feature, lengthMm, uMm, direction }]
      : [],
  );
}

/** @param laid - the opening, or those on both sides; a text where it can't be read */
function length(ruler: Ruler, feature: DimensionalFeature, laid: readonly Laid[]): Scanned | string {
  if (feature.kind === 'span') return span(ruler, feature, laid);
  if (feature.kind === 'web') return web(ruler, feature, laid);
  return ruler.isClear ? betweenLines(ruler, feature, laid[0]) : opening(ruler, feature, laid[0]);
}

function opening(ruler: Ruler, feature: DimensionalFeature, laid: Laid): Scanned | string {
  const found = ruler.across(laid, { share: SHARES[feature.shape ?? 'slot'] });
  if (!found) return OUTSIDE;
  if (found === 'missing') return { feature, outcome: 'closed', direction: laid.direction };
  const width = feature.shape === undefined ? found.width : ruler.smallShape(laid, found);
  return widthOf(ruler, feature, laid, found, width);
}

function span(ruler: Ruler, feature: DimensionalFeature, laid: readonly Laid[]): Scanned | string {
  const { dots } = ruler.film;
  const [from, to] = laid.map((one) => ruler.edge(one, feature.side === 'far' ? 'high' : 'low'));
  if (typeof from === 'string') return from;
  if (typeof to === 'string') return to;
  const [p, q] = [stripAlong(laid[0], from.mm), stripAlong(laid[1], to.mm)];
  const lengthMm = Math.hypot((q[0] - p[0]) / dots.x, (q[1] - p[1]) / dots.y);
  return said(ruler, feature, edgeToEdge(from, to, lengthMm), laid[0].direction, [p, q]);
}

/** Film between two openings: what stands out of the openings is the film. */
function web(ruler: Ruler, feature: DimensionalFeature, sides: readonly Laid[]): Scanned | string {
  const middle: Point = [(feature.from[0] + feature.to[0]) / 2, (feature.from[1] + feature.to[1]) / 2];
  const [p, q] = sides.map(({ place }) => ruler.film.near(place.opening)(middle));
  const { scale, direction } = sides[0];
  const halfMm = (feature.nominalMm * scale) / 2;
  const film: Laid = { ...sides[0], at: [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2], halfMm };
  const roomMm = Math.min(...sides.map((side) => side.halfMm)) * 0.95;
  if (ruler.isClear) return betweenLines(ruler, feature, film, roomMm);
  const strip = ruler.strip(film, { roomMm });
  if (!strip) return OUTSIDE;
  const outer = sides.flatMap((side, i) => {
    const found = ruler.across(side, { roomMm: WEB_GROUND_MM });
    return found && found !== 'missing' ? [found.ground[i]] : [];
  });
  const level = outer.length > 0 ? outer.reduce((sum, one) => sum + one, 0) / outer.length : undefined;
  const { sigmaMm, openShare } = ruler.sharpness;
  const found = measureAcross(strip, {
    ...{ halfMm, roomMm, sigmaMm, sign: ruler.sign === 1 ? -1 : 1 },
    inside: (ground) => level ?? ground / openShare,
  });
  if (found === 'missing') return { feature, outcome: 'gone', direction };
  return found ? widthOf(ruler, feature, film, found, found.width) : 'its two edges could not be told';
}

function betweenLines(ruler: Ruler, feature: DimensionalFeature, laid: Laid, roomMm = ROOM_MM): Scanned | string {
  const [share, leastShare] = feature.shape === 'circle' ? [SHARES.circle, SHARES.circle] : [];
  const strip = ruler.strip(laid, { roomMm, share, leastShare });
  if (!strip) return OUTSIDE;
  const lines = wallLines(strip, laid.halfMm, roomMm, ruler.lineDepth);
  if (lines === 'missing')
    return { feature, outcome: feature.kind === 'web' ? 'gone' : 'closed', direction: laid.direction };
  if (!lines) return 'the lines of its two walls run into each other';
  const width = edgeToEdge(lines.low, lines.high);
  // Round walls: chords beside the middle are shorter, and blur draws the lines inwards.
  const lackMm = feature.shape
    ? chordLackOf(ruler.ringOf(laid), width.mm, -strip.firstRowMm, ruler.sharpness.sigmaMm)
    : 0;
  return widthOf(ruler, feature, laid, lines, { ...width, mm: width.mm + lackMm });
}

interface TwoEdges {
  readonly low: MeasuredEdge;
  readonly high: MeasuredEdge;
}

/** A width about the middle of two edges. */
function widthOf(
  ruler: Ruler,
  feature: DimensionalFeature,
  laid: Laid,
  { low, high }: TwoEdges,
  width = edgeToEdge(low, high),
): Scanned {
  const middleMm = (low.mm + high.mm) / 2;
  const ends = [-0.5, 0.5].map((part) => stripAlong(laid, middleMm + part * width.mm));
  return said(ruler, feature, width, laid.direction, [ends[0], ends[1]]);
}

function said(
  { sharpness }: Ruler,
  feature: DimensionalFeature,
  { mm, uMm: ownMm, spreadMm, share }: MeasuredEdge,
  direction: readonly [number, number],
  ends: readonly [Point, Point],
): Scanned {
  const uMm = Math.hypot(ownMm, feature.kind === 'span' ? 0 : softDoubtMm(sharpness));
  const ragged = spreadMm > RAGGED_MM ? `ragged edges, ${Math.round(1000 * spreadMm)} µm` : undefined;
  const doubt = ragged ?? (share < FEW ? 'dirt or a torn edge' : undefined);
  return { feature, lengthMm: mm, uMm: doubt ? 2 * uMm : uMm, direction, ends, ...(doubt ? { doubt } : {}) };
}

function cell(ruler: Ruler, feature: CellFeature, openings: Openings): Scanned | string {
  const [x0, y0, x1, y1] = feature.box;
  const place = openings.placeAt([(x0 + x1) / 2, (y0 + y1) / 2], [1, 0]);
  const ways = [place, openings.placeOf(place.opening, [0, 1])].map((one) => ruler.film.lay(one));
  const [{ halfMm, halfAlongMm }] = ways;
  const frame: ScanFrame = ways[0];
  const [step, room] = [2 * ruler.stepMm, CELL_ROOM_MM];
  const strip = readStrip(ruler.picture, frame, bothWays(halfMm + room), halfAlongMm + room, step, step);
  if (!strip) return OUTSIDE;
  const spreads = ways.flatMap((laid) => {
    const found = ruler.across(laid);
    return found && found !== 'missing' ? [found.low.spreadMm, found.high.spreadMm] : [];
  });
  const raggedMm = Math.max(0, ...spreads.filter((spreadMm) => spreadMm > RAGGED_MM));
  return {
    feature,
    ...proposeCell(strip, [halfMm, halfAlongMm], ruler.sign, ruler.sharpness.openShare, raggedMm),
    direction: [1, 0],
    doubt: 'a proposal, to be confirmed',
    ends: [stripAlong(frame, -halfMm), stripAlong(frame, halfMm)],
  };
}
