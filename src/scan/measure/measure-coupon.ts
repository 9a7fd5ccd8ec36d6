import type { CellFeature, DimensionalFeature, Feature } from '../../coupon/features.js';
import { mean } from '../../fit/statistics/averages.js';
import type { Point } from '../../geometry/types.js';
import type { Outcome } from '../../readings/types.js';
import type { Openings } from '../find/places.js';
import type { Recognised } from '../find/recognise.js';
import type { GreyPicture } from '../picture/picture.js';
import type { SeenMark } from '../scanner/places-of-marks.js';
import type { ScannedLength } from '../scanner/scanner.js';
import { edgeToEdge, type MeasuredEdge, type TwoEdges } from './edge.js';
import type { Laid } from './film-in-picture.js';
import { measureAcross } from './profile-of-opening.js';
import { proposeCell } from './propose-cell.js';
import { FEW, OUTSIDE, RAGGED_MM, Ruler, type Sharpness, softDoubtMm } from './ruler.js';
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
  const isWeb = feature.kind === 'web';
  const across = isWeb ? filmBetween(ruler, feature, laid) : laid[0];
  // Lines of walls are lines as far as they are straight.
  const isRound = ruler.isClear && feature.shape === 'circle';
  const share = SHARES[ruler.isClear && !isRound ? 'slot' : (feature.shape ?? 'slot')];
  const options = isRound ? { share, leastShare: share } : { share };
  const found = isWeb ? web(ruler, across, laid) : ruler.edges(across, options);
  const { direction } = across;
  if (found === 'missing') return { feature, outcome: isWeb ? 'gone' : 'closed', direction };
  if (typeof found === 'string') return found;
  const width = feature.shape === undefined ? found.width : ruler.smallShape(across, feature.nominalMm, found, options);
  const middleMm = (found.low.mm + found.high.mm) / 2;
  const [from, to] = [-0.5, 0.5].map((part) => stripAlong(across, middleMm + part * width.mm));
  return said(ruler, feature, width, direction, [from, to]);
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

/** Where the film between two openings lies. */
function filmBetween(ruler: Ruler, { from, to, nominalMm }: DimensionalFeature, sides: readonly Laid[]): Laid {
  const middle: Point = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];
  const [p, q] = sides.map(({ place }) => ruler.film.near(place.opening)(middle));
  return { ...sides[0], at: [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2], halfMm: (nominalMm * sides[0].scale) / 2 };
}

/** Film between two openings: what stands out of the openings is the film. */
function web(ruler: Ruler, film: Laid, sides: readonly Laid[]): TwoEdges | string {
  const roomMm = Math.min(...sides.map((side) => side.halfMm)) * 0.95;
  if (ruler.isClear) return ruler.edges(film, { roomMm });
  const strip = ruler.strip(film, { roomMm });
  if (!strip) return OUTSIDE;
  const outer = sides.flatMap((side, i) => {
    const found = ruler.across(side, { roomMm: WEB_GROUND_MM });
    return typeof found === 'string' ? [] : [found.ground[i]];
  });
  const level = outer.length > 0 ? mean(outer) : undefined;
  const { sigmaMm, openShare } = ruler.sharpness;
  const found = measureAcross(strip, {
    ...{ halfMm: film.halfMm, roomMm, sigmaMm, sign: ruler.sign === 1 ? -1 : 1 },
    inside: (ground) => level ?? ground / openShare,
  });
  return found ?? 'its two edges could not be told';
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
    return typeof found === 'string' ? [] : [found.low.spreadMm, found.high.spreadMm];
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
