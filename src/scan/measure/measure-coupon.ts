import type { CellFeature, DimensionalFeature, Feature } from '../../coupon/features.js';
import { mapPoint } from '../../geometry/affine.js';
import type { PerAxis, Point } from '../../geometry/types.js';
import type { Outcome } from '../../readings/types.js';
import { type OpeningBox, type Openings, unitVectorOf } from '../find/places.js';
import type { Recognised } from '../find/recognise.js';
import { type GreyPicture, levelAt } from '../picture/picture.js';
import { medianOf, spreadOf } from '../picture/robust.js';
import type { SeenMark } from '../scanner/places-of-marks.js';
import type { ScannedLength } from '../scanner/scanner.js';
import { edgeToEdge, type MeasuredEdge, wallLines } from './edge.js';
import { HALO, type Sharpness, softDoubtMm } from './levels.js';
import { chordLackOf, fitPatch } from './patch-of-opening.js';
import { type Across, measureAcross } from './profile-of-opening.js';
import { proposeCell } from './propose-cell.js';
import { readStrip, type ScanFrame, type Strip } from './strip.js';
import { type EdgeShape, lightOf, toneOf } from './tone.js';

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

const FIRST_SIGMA_MM = 0.03;
const WIDE_MM = 0.45;
/** Wide openings that the picture's sharpness is learnt from. */
const MOST_WIDE = 40;
/** Ground that is looked at on each side of an opening, mm. */
const ROOM_MM = 0.4;
/** What else is cut farther away does not reach into that ground, mm. */
const GAP_MM = 0.8;
/** Ends of a slot are round after cutting: profiles stay away from them. */
const TRIM_MM = 0.2;
/** Smaller openings are not looked at for their place. */
const LEAST_MARK_MM = 0.5;
/** Readings whose one profile scatters by more than this, or to which fewer profiles agree, are marked. */
const RAGGED_MM = 0.03;
const FEW = 0.6;
/** Ground around a patch that blur does not reach, and about how many samples a side are enough for it. */
const PATCH_ROOM_MM = 0.03;
const PATCH_SAMPLES = 64;
/** What nobody sees of a small opening's size, as a share of a dot. */
const LEAST_PATCH = 0.02;
/** One that shows less of its walls, and grew by so much more or less than others, mm, may be dirt. */
const CLEAN = 0.95;
const ODD_GROWTH_MM = 0.004;
/** Directions that are as good as along an axis, as a cosine. */
const LEAST_ALONG = 0.98;
/** Everything that is measured lies on dots of the picture of this many to the mm. */
const SAMPLES_A_DOT = 2;
/** Openings lie within this of where their neighbours do, mm, or so many times as far off as these differ; no dirt draws one farther. */
const ODD_MM = 0.05;
const ODD_SPREAD = 4;
const MOST_ODD_MM = 0.2;
const NEIGHBOURS = 5;
/** Along a long edge: burnt walls wander over a tenth of a millimetre, and a hundred dots leave little noise. */
const MOST_ROWS = 120;

/** Measures every feature of a recognised coupon. */
export function measureCoupon(
  picture: GreyPicture,
  features: readonly Feature[],
  openings: Openings,
  recognised: Recognised,
): ScannedCoupon {
  const ruler = new CouponRuler(picture, openings, recognised);
  const lengths = features.filter((feature) => 'from' in feature);
  const sharpness = ruler.learn(lengths);
  const scanned: Scanned[] = [];
  const unread: { id: string; why: string }[] = [];
  for (const feature of features) {
    if (feature.kind === 'vernier') {
      unread.push({ id: feature.id, why: 'verniers are read by eye' });
      continue;
    }
    const found = feature.kind === 'cell' ? ruler.cell(feature) : ruler.length(feature);
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

/** Measures openings in one picture where a coupon, or a stencil, was recognised. */
export class CouponRuler {
  private readonly shifts: readonly (readonly [number, number] | undefined)[];
  private readonly dots: PerAxis;
  private readonly sign: 1 | -1;
  private sharpness: Sharpness = {
    sigmaMm: FIRST_SIGMA_MM,
    openShare: Number.NaN,
    halo: 0,
    clipped: 0,
    count: 0,
    uToneMm: 0,
  };
  private lineDepth: number | undefined;
  /** By how much wide openings came out wider than commanded, along X and along Y. */
  private grownMm: readonly [number, number] = [0, 0];
  private readonly stepMm: number;
  private readonly trusted = new Map<number, readonly [number, number]>();
  /** Spans share their slots with each other and with the marks. */
  private readonly edges = new Map<string, Across | 'missing' | undefined>();

  constructor(
    private picture: GreyPicture,
    private readonly openings: Openings,
    private readonly recognised: Recognised,
  ) {
    const { map, seenAt, look } = recognised;
    this.dots = picture.dotsPerMm ?? evenDots(map);
    this.stepMm = 1 / (SAMPLES_A_DOT * Math.min(this.dots.x, this.dots.y));
    this.sign = look === 'lighter' ? -1 : 1;
    this.shifts = seenAt.map((at, i) => {
      if (!at) return undefined;
      const place = mapPoint(map, openings.stars[i].at);
      return [at[0] - place[0], at[1] - place[1]];
    });
  }

  /** Learns sharpness and contrast from the wide openings, so that narrow ones can be measured by them. */
  learn(features: readonly DimensionalFeature[]): Sharpness {
    const places = features
      .filter(({ kind }) => kind !== 'web')
      .map((feature) => {
        const across = unitVectorOf(feature);
        const shift = feature.kind === 'span' ? (feature.side === 'far' ? -0.02 : 0.02) : feature.nominalMm / 2;
        return this.openings.placeAt(
          [feature.from[0] + shift * across[0], feature.from[1] + shift * across[1]],
          across,
        );
      })
      .concat(features.filter(({ kind }) => kind === 'web').map((feature) => this.webSides(feature)[0]));
    return this.learnFrom(places);
  }

  learnFrom(places: readonly OpeningBox[]): Sharpness {
    const wide = places
      .filter((place) => 2 * place.halfAcross * this.unit(place.across).mm > WIDE_MM)
      .slice(0, MOST_WIDE);
    if (this.recognised.look === 'walls') {
      const depths = wide.flatMap((place) => {
        const strip = this.strip(place, ROOM_MM);
        const found = strip && wallLines(strip, this.halfOf(place), ROOM_MM, undefined);
        return found && found !== 'missing' ? [found.depth] : [];
      });
      this.lineDepth = depths.length > 0 ? medianOf(depths) : undefined;
      this.sharpness = { ...this.sharpness, count: depths.length };
      return this.sharpness;
    }
    this.learnSharpness(wide);
    // Edges that a program has sharpened have a shape of its making.
    if (this.sharpness.halo > HALO) return this.sharpness;
    const levels = this.picture;
    const { clipped, sigmaMm } = this.sharpness;
    const edges = (): readonly EdgeShape[] => wide.flatMap((place) => this.wide(place)?.edges ?? []);
    const { tone, uMm } = toneOf(edges(), sigmaMm, SAMPLES_A_DOT * this.stepMm, (gamma) => {
      this.picture = { ...levels, light: lightOf(gamma) };
      return edges();
    });
    if (tone) {
      this.picture = { ...levels, light: lightOf(tone.gamma) };
      this.learnSharpness(wide);
    }
    this.sharpness = { ...this.sharpness, clipped, uToneMm: uMm, ...(tone ? { tone } : {}) };
    return this.sharpness;
  }

  private wide(place: OpeningBox): Across | undefined {
    const found = this.across(place, true);
    return found && found !== 'missing' && !found.narrow ? found : undefined;
  }

  private learnSharpness(places: readonly OpeningBox[]): void {
    for (let round = 0; round < 2; round += 1) {
      const seen = places.flatMap((place) => {
        const one = this.wide(place);
        return one ? [{ ...one, place, grownMm: one.width.mm - 2 * this.halfOf(place) }] : [];
      });
      if (seen.length === 0) break;
      const grown = ([0, 1] as const).map((axis) =>
        medianOf(seen.flatMap(({ place, grownMm }) => (Math.abs(place.across[axis]) > LEAST_ALONG ? [grownMm] : []))),
      );
      // What nothing tells of one axis is as along the other.
      this.grownMm = [grown[0] || grown[1] || 0, grown[1] || grown[0] || 0];
      const sigmas = seen.flatMap(({ sigmaMm }) => sigmaMm ?? []);
      const ends = (level: number): boolean => level <= 0.5 || level >= 254.5;
      this.sharpness = {
        sigmaMm:
          sigmas.length > 0 ? Math.max(0.3 / Math.min(this.dots.x, this.dots.y), medianOf(sigmas)) : FIRST_SIGMA_MM,
        openShare: medianOf(seen.map(({ inside, ground }) => (2 * inside) / (ground[0] + ground[1]))),
        halo: medianOf(seen.map(({ halo }) => halo ?? 0)),
        clipped: seen.filter(({ inside, ground }) => [inside, ...ground].some(ends)).length / seen.length,
        count: seen.length,
        uToneMm: 0,
      };
    }
  }

  /** The levels at places of the coupon next to one of its openings; NaN outside of the picture. */
  levelsNear(opening: number): (point: Point) => number {
    const { picture } = this;
    const { a, b, c, d, e, f } = this.recognised.map;
    const [dx, dy] = this.shiftAt(opening);
    return ([x, y]) => levelAt(picture, a * x + b * y + e + dx, c * x + d * y + f + dy);
  }

  /** Where a place of the coupon is seen next to one of its openings, pixels. */
  seen(point: Point, opening: number): Point {
    return this.pixelOf(point, opening);
  }

  /** Pixels for one mm of the scanner along a commanded direction, and mm of the scanner for one as commanded. */
  private unit([x, y]: Point): {
    readonly px: readonly [number, number];
    readonly mm: number;
    readonly scanner: readonly [number, number];
  } {
    const { a, b, c, d } = this.recognised.map;
    const [px, py] = [a * x + b * y, c * x + d * y];
    const [sx, sy] = [px / this.dots.x, py / this.dots.y];
    const mm = Math.hypot(sx, sy);
    return { px: [px / mm, py / mm], mm, scanner: [sx / mm, sy / mm] };
  }

  /**
   * Where an opening's own surroundings lie: the machine's places are not quite even over the bed. What lies where its
   * neighbours do not has a hair in its middle.
   */
  private shiftAt(opening: number): readonly [number, number] {
    const known = this.trusted.get(opening);
    if (known) return known;
    const own = this.shifts[opening];
    const mm = Math.min(this.dots.x, this.dots.y);
    const lies = ([x, y]: readonly [number, number], room: number): boolean =>
      own !== undefined && Math.hypot(own[0] - x, own[1] - y) <= room * mm;
    let shift = own;
    if (!own || !lies([0, 0], ODD_MM)) {
      const { middle, spread } = this.shiftAround(opening);
      // In clear film a tear's line draws the middle of all lines aside.
      const most = this.recognised.look === 'walls' ? ODD_MM : MOST_ODD_MM;
      if (!lies(middle, Math.min(most, Math.max(ODD_MM, (ODD_SPREAD * spread) / mm)))) shift = middle;
    }
    this.trusted.set(opening, shift ?? [0, 0]);
    return shift ?? [0, 0];
  }

  private shiftAround(opening: number): { readonly middle: readonly [number, number]; readonly spread: number } {
    const { stars } = this.openings;
    const [x, y] = stars[opening].at;
    const near: { shift: readonly [number, number]; far: number }[] = [];
    this.shifts.forEach((shift, i) => {
      if (!shift || i === opening) return;
      const far = Math.hypot(stars[i].at[0] - x, stars[i].at[1] - y);
      if (near.length === NEIGHBOURS && far >= near[NEIGHBOURS - 1].far) return;
      near.push({ shift, far });
      near.sort((p, q) => p.far - q.far);
      near.length = Math.min(near.length, NEIGHBOURS);
    });
    if (near.length === 0) return { middle: [0, 0], spread: 0 };
    const [xs, ys] = ([0, 1] as const).map((axis) => near.map(({ shift }) => shift[axis]));
    return { middle: [medianOf(xs), medianOf(ys)], spread: Math.max(spreadOf(xs), spreadOf(ys)) };
  }

  private pixelOf(point: Point, opening: number): Point {
    const [x, y] = mapPoint(this.recognised.map, point);
    const [dx, dy] = this.shiftAt(opening);
    return [x + dx, y + dy];
  }

  private frame(place: OpeningBox): ScanFrame {
    return {
      at: this.pixelOf(place.middle, place.opening),
      across: this.unit(place.across).px,
      along: this.unit(place.along).px,
    };
  }

  private halfOf = (place: OpeningBox): number => place.halfAcross * this.unit(place.across).mm;

  private strip(place: OpeningBox, roomMm: number, share = 0.8, leastShare = 0.15): Strip | undefined {
    const half = this.halfOf(place);
    const along = place.halfAlong * this.unit(place.along).mm;
    const t = Math.max(leastShare * along, 0.02, Math.min(share * along, along - TRIM_MM));
    return readStrip(
      this.picture,
      this.frame(place),
      { from: -half - roomMm, to: half + roomMm },
      { from: -t, to: t },
      this.stepMm,
      rowStep(t, this.stepMm),
    );
  }

  private inside = (ground: number): number => ground * this.sharpness.openShare;

  /** Measures across an opening. `first`: while contrast is not known yet. */
  across(place: OpeningBox, first = false, roomMm = ROOM_MM, share?: number): Across | 'missing' | undefined {
    const strip = this.strip(place, roomMm, share);
    if (!strip) return undefined;
    const known = !first && !Number.isNaN(this.sharpness.openShare);
    const { mm } = this.unit(place.across);
    const [low, high] = this.openings.gapsBeside(place, GAP_MM);
    return measureAcross(strip, {
      halfMm: this.halfOf(place),
      roomMm,
      sign: this.sign,
      sigmaMm: this.sharpness.sigmaMm,
      gapsMm: [low * mm, high * mm],
      ...(known ? { inside: this.inside } : {}),
    });
  }

  /** Where the middles of upright rectangles are seen: half-way between opposite edges, so that no kerf and no level moves them. */
  marks(): SeenMark[] {
    return this.openings.all.flatMap(({ outer }, opening): SeenMark[] => {
      if (outer.length !== 4) return [];
      const across = this.openings.placeOf(opening, [1, 0]);
      if (Math.min(across.halfAcross, across.halfAlong) < LEAST_MARK_MM / 2 || !isUpright(outer)) return [];
      const along = this.openings.placeOf(opening, [0, 1]);
      const found = [across, along].map((place) => this.middle(place));
      if (!found[0] || !found[1]) return [];
      const frame = this.frame(across);
      const { px } = this.unit(along.across);
      const [s, t] = [found[0].mm, found[1].mm];
      const [x, y] = [frame.at[0] + s * frame.across[0] + t * px[0], frame.at[1] + s * frame.across[1] + t * px[1]];
      const uMm = Math.max(found[0].uMm, found[1].uMm);
      return [{ opening, at: across.middle, seen: [x / this.dots.x, y / this.dots.y], uMm }];
    });
  }

  /** The middle between two edges, mm from where the place was looked for. */
  private middle(place: OpeningBox): { readonly mm: number; readonly uMm: number } | undefined {
    const [low, high] = (['low', 'high'] as const).map((side) => this.edge(place, side));
    if (typeof low === 'string' || typeof high === 'string') return undefined;
    if (Math.min(low.share, high.share) < FEW || Math.max(low.spreadMm, high.spreadMm) > RAGGED_MM) return undefined;
    return { mm: (low.mm + high.mm) / 2, uMm: Math.hypot(low.uMm, high.uMm) / 2 };
  }

  length(feature: DimensionalFeature): Scanned | string {
    const across = unitVectorOf(feature);
    if (feature.kind === 'span') return this.span(feature, across);
    if (feature.kind === 'web') return this.web(feature, across);
    const middle: Point = [(feature.from[0] + feature.to[0]) / 2, (feature.from[1] + feature.to[1]) / 2];
    const place = this.openings.placeAt(middle, across);
    if (this.recognised.look === 'walls') return this.betweenLines(feature, place);
    const found = this.across(
      place,
      false,
      ROOM_MM,
      feature.shape === undefined ? 0.8 : feature.shape === 'square' ? 0.4 : 0.25,
    );
    if (!found) return OUTSIDE;
    const { scanner } = this.unit(across);
    if (found === 'missing') return { feature, outcome: 'closed', direction: scanner };
    const width = feature.shape === undefined ? found.width : this.smallShape(place, found);
    const frame = this.frame(place);
    const middleMm = (found.low.mm + found.high.mm) / 2;
    return this.said(feature, width, scanner, [
      alongFrame(frame, middleMm - width.mm / 2),
      alongFrame(frame, middleMm + width.mm / 2),
    ]);
  }

  /** Squares and circles: blur rounds them off, and few profiles cross them, so all of one is held against its shape. */
  private smallShape(place: OpeningBox, found: Across): MeasuredEdge {
    const fitted = this.patch(place);
    if (!fitted) return found.width;
    const mm = 2 * this.halfOf(place) + fitted.growthMm;
    // Where dirt hides a part of it, one that grew unlike the others may have grown by the dirt.
    const odd = Math.abs(fitted.growthMm - this.usualGrowth(place.across));
    const isDirty = fitted.share < CLEAN && odd > ODD_GROWTH_MM;
    const uMm = Math.hypot(LEAST_PATCH * SAMPLES_A_DOT * this.stepMm, fitted.uMm, isDirty ? odd : 0);
    return { ...found.width, mm, uMm, share: isDirty ? 0 : fitted.share };
  }

  private patch(place: OpeningBox): { growthMm: number; uMm: number; share: number } | undefined {
    const { sigmaMm, openShare } = this.sharpness;
    const [s, t] = [place.halfAcross * this.unit(place.across).mm, place.halfAlong * this.unit(place.along).mm];
    const usual = [this.usualGrowth(place.across), this.usualGrowth(place.along)] as const;
    const room = Math.max(...usual) / 2 + 4 * sigmaMm + PATCH_ROOM_MM;
    const stepMm = Math.min(sigmaMm / 1.5, Math.max(this.stepMm, sigmaMm / 3, (s + t + 2 * room) / PATCH_SAMPLES));
    const [ends, sides] = [s + room, t + room].map((half) => ({ from: -half, to: half }));
    const strip = readStrip(this.picture, this.frame(place), ends, sides, stepMm, stepMm);
    // What lies on it may have drawn its middle aside, and not those of its neighbours.
    const [x, y] = this.shiftAt(place.opening);
    const [p, q] = this.shiftAround(place.opening).middle;
    const aside = this.alongAxes(place, [p - x, q - y]);
    const fitted = strip && fitPatch(strip, this.ringOf(place), { openShare, sigmaMm }, usual, [[0, 0], aside]);
    return fitted && { growthMm: fitted.growth[0], uMm: fitted.uMm[0], share: fitted.share };
  }

  /** A way in pixels along an opening's axes, mm of the scanner. */
  private alongAxes({ across, along }: OpeningBox, [x, y]: readonly [number, number]): [number, number] {
    const [[a, c], [b, d]] = [this.unit(across).px, this.unit(along).px];
    const det = a * d - b * c;
    return [(d * x - b * y) / det, (a * y - c * x) / det];
  }

  /** Growth of wide openings in a direction, mm. */
  private usualGrowth = ([x, y]: Point): number => Math.hypot(this.grownMm[0] * x, this.grownMm[1] * y);

  /** An opening before it grew, mm of the scanner, its axes across and along. */
  private ringOf(place: OpeningBox): Point[] {
    const { opening, across: u, along: v } = place;
    const [mx, my] = [this.unit(u).mm, this.unit(v).mm];
    const { middle } = place;
    return this.openings.all[opening].outer.map(([px, py]) => {
      const [x, y] = [px - middle[0], py - middle[1]];
      return [(x * u[0] + y * u[1]) * mx, (x * v[0] + y * v[1]) * my];
    });
  }

  private said(
    feature: DimensionalFeature,
    measured: MeasuredEdge,
    direction: readonly [number, number],
    ends: readonly [Point, Point],
  ): Scanned {
    const { mm, spreadMm, share } = measured;
    const uMm = Math.hypot(measured.uMm, feature.kind === 'span' ? 0 : softDoubtMm(this.sharpness));
    const doubt =
      spreadMm > RAGGED_MM
        ? `ragged edges, ${Math.round(1000 * spreadMm)} µm`
        : share < FEW
          ? 'dirt or a torn edge'
          : undefined;
    return { feature, lengthMm: mm, uMm: doubt ? 2 * uMm : uMm, direction, ends, ...(doubt ? { doubt } : {}) };
  }

  private span(feature: DimensionalFeature, across: Point): Scanned | string {
    const far = feature.side === 'far';
    const ends: Point[] = [];
    const parts: MeasuredEdge[] = [];
    for (const point of [feature.from, feature.to]) {
      const inwards = far ? -0.02 : 0.02;
      const place = this.openings.placeAt([point[0] + inwards * across[0], point[1] + inwards * across[1]], across);
      const edge = this.edge(place, far ? 'high' : 'low');
      if (typeof edge === 'string') return edge;
      parts.push(edge);
      ends.push(alongFrame(this.frame(place), edge.mm));
    }
    const [p, q] = ends;
    const lengthMm = Math.hypot((q[0] - p[0]) / this.dots.x, (q[1] - p[1]) / this.dots.y);
    return this.said(feature, edgeToEdge(parts[0], parts[1], lengthMm), this.unit(across).scanner, [p, q]);
  }

  private edge(place: OpeningBox, side: 'low' | 'high'): MeasuredEdge | string {
    if (this.recognised.look === 'walls') {
      const strip = this.strip(place, ROOM_MM);
      if (!strip) return OUTSIDE;
      const found = wallLines(strip, this.halfOf(place), ROOM_MM, this.lineDepth);
      return found === 'missing' ? 'its slot is not there' : found ? found[side] : 'its edges can not be told';
    }
    const key = `${place.opening} ${place.across}`;
    if (!this.edges.has(key)) this.edges.set(key, this.across(place));
    const found = this.edges.get(key);
    return found === 'missing' ? 'its slot is not through' : found ? found[side] : OUTSIDE;
  }

  private webSides({ from, to }: DimensionalFeature): [OpeningBox, OpeningBox] {
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    const u: Point = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
    return [
      this.openings.placeAt([from[0] - 0.01 * u[0], from[1] - 0.01 * u[1]], u),
      this.openings.placeAt([to[0] + 0.01 * u[0], to[1] + 0.01 * u[1]], u),
    ];
  }

  /** Film between two openings: what stands out of the openings is the film. */
  private web(feature: DimensionalFeature, across: Point): Scanned | string {
    const sides = this.webSides(feature);
    const { mm, px, scanner } = this.unit(across);
    const middle: Point = [(feature.from[0] + feature.to[0]) / 2, (feature.from[1] + feature.to[1]) / 2];
    const [p, q] = sides.map(({ opening }) => this.pixelOf(middle, opening));
    const at: Point = [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
    const frame: ScanFrame = { at, across: px, along: this.unit(sides[0].along).px };
    const along = sides[0].halfAlong * this.unit(sides[0].along).mm;
    const t = Math.max(0.15 * along, Math.min(0.8 * along, along - TRIM_MM));
    const half = (feature.nominalMm * mm) / 2;
    const room = Math.min(...sides.map(({ halfAcross }) => halfAcross * mm)) * 0.95;
    const strip = readStrip(
      this.picture,
      frame,
      { from: -half - room, to: half + room },
      { from: -t, to: t },
      this.stepMm,
    );
    if (!strip) return OUTSIDE;
    if (this.recognised.look === 'walls') {
      const lines = wallLines(strip, half, room, this.lineDepth);
      if (lines === 'missing') return { feature, outcome: 'gone', direction: scanner };
      if (!lines) return 'the lines of its two walls run into each other';
      return this.lengthOf(feature, lines, frame, scanner);
    }
    const whole = sides.map((place) => this.across(place, false, 0.3));
    const outer = whole
      .map((one, i) => (one && one !== 'missing' ? one.ground[i] : undefined))
      .filter((one) => one !== undefined);
    const film = outer.length > 0 ? outer.reduce((sum, one) => sum + one, 0) / outer.length : undefined;
    const found = measureAcross(strip, {
      halfMm: half,
      roomMm: room,
      sign: this.sign === 1 ? -1 : 1,
      sigmaMm: this.sharpness.sigmaMm,
      inside: (ground) => film ?? ground / this.sharpness.openShare,
    });
    if (found === 'missing') return { feature, outcome: 'gone', direction: scanner };
    if (!found) return 'its two edges could not be told';
    return this.lengthOf(feature, found, frame, scanner, found.width);
  }

  private lengthOf(
    feature: DimensionalFeature,
    { low, high }: { readonly low: MeasuredEdge; readonly high: MeasuredEdge },
    frame: ScanFrame,
    scanner: readonly [number, number],
    width = edgeToEdge(low, high),
  ): Scanned {
    return this.said(feature, width, scanner, [alongFrame(frame, low.mm), alongFrame(frame, high.mm)]);
  }

  private betweenLines(feature: DimensionalFeature, place: OpeningBox): Scanned | string {
    const { scanner } = this.unit(place.across);
    const strip = this.strip(place, ROOM_MM, ...(feature.shape === 'circle' ? [0.25, 0.25] : []));
    if (!strip) return OUTSIDE;
    const lines = wallLines(strip, this.halfOf(place), ROOM_MM, this.lineDepth);
    if (lines === 'missing') return { feature, outcome: 'closed', direction: scanner };
    if (!lines) return 'the lines of its two walls run into each other';
    const { low, high } = lines;
    // Round walls: chords beside the middle are shorter, and blur draws the lines inwards.
    const outMm = feature.shape
      ? chordLackOf(this.ringOf(place), high.mm - low.mm, -strip.firstRowMm, FIRST_SIGMA_MM) / 2
      : 0;
    const walls = { low: { ...low, mm: low.mm - outMm }, high: { ...high, mm: high.mm + outMm } };
    return this.lengthOf(feature, walls, this.frame(place), scanner);
  }

  cell(feature: CellFeature): Scanned | string {
    const [x0, y0, x1, y1] = feature.box;
    const place = this.openings.placeAt([(x0 + x1) / 2, (y0 + y1) / 2], [1, 0]);
    const frame = this.frame(place);
    const [halfX, halfY] = [this.halfOf(place), place.halfAlong * this.unit(place.along).mm];
    const strip = readStrip(
      this.picture,
      frame,
      { from: -halfX - 0.5, to: halfX + 0.5 },
      { from: -halfY - 0.5, to: halfY + 0.5 },
      2 * this.stepMm,
      2 * this.stepMm,
    );
    if (!strip) return OUTSIDE;
    const sides = [place, this.openings.placeOf(place.opening, [0, 1])].flatMap((one) => {
      const found = this.across(one);
      return found && found !== 'missing' ? [found.low.spreadMm, found.high.spreadMm] : [];
    });
    const raggedMm = Math.max(0, ...sides.filter((spreadMm) => spreadMm > RAGGED_MM));
    return {
      feature,
      ...proposeCell(strip, [halfX, halfY], this.sign, this.sharpness.openShare, raggedMm),
      direction: [1, 0],
      doubt: 'a proposal, to be confirmed',
      ends: [alongFrame(frame, -halfX), alongFrame(frame, halfX)],
    };
  }
}

const isUpright = (ring: readonly Point[]): boolean =>
  ring.every(([x, y], i) => {
    const [p, q] = ring[(i + 1) % ring.length];
    return Math.abs(p - x) < 1e-9 || Math.abs(q - y) < 1e-9;
  });

/** At least seven rows, however short an edge is, and no more than say something new. */
const rowStep = (halfMm: number, stepMm: number): number =>
  Math.max((2 * halfMm) / MOST_ROWS, Math.min(2 * stepMm, halfMm / 3));

const OUTSIDE = 'it lies outside of the picture, or at its side';

const alongFrame = ({ at, across }: ScanFrame, s: number): Point => [at[0] + s * across[0], at[1] + s * across[1]];

/** Without a resolution the coupon's own millimetres are taken; only a reference makes lengths of them. */
export function evenDots({ a, b, c, d }: Recognised['map']): { x: number; y: number } {
  const mean = Math.sqrt(Math.abs(a * d - b * c));
  return { x: mean, y: mean };
}
