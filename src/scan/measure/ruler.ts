import type { Point } from '../../geometry/types.js';
import { kept } from '../../kept.js';
import type { OpeningBox, Openings } from '../find/places.js';
import type { Recognised } from '../find/recognise.js';
import { type GreyPicture, levelAt } from '../picture/picture.js';
import { medianOf } from '../picture/robust.js';
import type { SeenMark } from '../scanner/places-of-marks.js';
import { type MeasuredEdge, type TwoEdges, wallLines } from './edge.js';
import { FilmInPicture, type Laid } from './film-in-picture.js';
import { chordLackOf, fitPatch } from './patch-of-opening.js';
import { type Across, measureAcross } from './profile-of-opening.js';
import { bothWays, readStrip, type Strip, stripAlong } from './strip.js';
import { blurOf, type EdgeShape, haloOf, lightOf, type Tone, toneOf } from './tone.js';

/** An overshoot of this share of the contrast is no noise: a driver has sharpened. */
export const HALO = 0.04;

/** Edges softer than this, mm, are no flatbed's that is in focus; and softer than so many dots no resolution's. */
const SOFT_MM = 0.055;
const SOFT_DOTS = 0.8;
/** From here on, mm, openings' and webs' levels run into each other, and widths are off by such a share of what is more. */
const MIXED_MM = 0.07;
const MIXED_SHARE = 0.4;

/** Whether a picture is softer than its scanner's dots account for. */
export const isOutOfFocus = ({ sigmaMm }: Sharpness, dotMm: number): boolean =>
  sigmaMm > Math.max(SOFT_MM, SOFT_DOTS * dotMm);

/** By how much widths may be off because edges are too soft, mm; found on simulated scans up to 110 um. */
export const softDoubtMm = ({ sigmaMm }: Sharpness): number => MIXED_SHARE * Math.max(0, sigmaMm - MIXED_MM);

/** What is known of a picture's own sharpness and contrast, from its wide openings. */
export interface Sharpness {
  /** Blur as the standard deviation of the edge's spread, mm. */
  readonly sigmaMm: number;
  /** Level of an opening as a share of the film's beside it: light that falls off leaves it as it is. */
  readonly openShare: number;
  /** By how much the film's side of an edge overshoots, as a share of the contrast: a driver has sharpened it. */
  readonly halo: number;
  /** Share of wide openings whose film or opening lies at the end of the scale. */
  readonly clipped: number;
  readonly tone?: Tone;
  /** How far each edge may be off because levels are not light, mm: what was undone leaves some, and little is not told. */
  readonly uToneMm: number;
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
export const RAGGED_MM = 0.03;
export const FEW = 0.6;
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
/** Along a long edge: burnt walls wander over a tenth of a millimetre, and a hundred dots leave little noise. */
const MOST_ROWS = 120;

export const OUTSIDE = 'it lies outside of the picture, or at its side';
const TOGETHER = 'the lines of its two walls run into each other';

/** How a strip across an opening is taken. */
interface StripOptions {
  readonly roomMm?: number;
  /** Share of the opening's length that is looked at: of round ones little, and at least so much. */
  readonly share?: number;
  readonly leastShare?: number;
}

/** Measures openings in one picture where a coupon, or a stencil, was recognised. */
export class Ruler {
  readonly film: FilmInPicture;
  readonly stepMm: number;
  /** +1: openings are darker than the film; -1: lighter. */
  readonly sign: 1 | -1;
  /** Only the walls of openings show, as lines. */
  readonly isClear: boolean;
  sharpness: Sharpness = { sigmaMm: FIRST_SIGMA_MM, openShare: Number.NaN, halo: 0, clipped: 0, uToneMm: 0 };
  lineDepth: number | undefined;
  /** By how much wide openings came out wider than commanded, along X and along Y. */
  private grownMm: readonly [number, number] = [0, 0];
  /** Spans share their slots with each other and with the marks. */
  private readonly known = new Map<string, TwoEdges | string>();

  constructor(
    public picture: GreyPicture,
    private readonly openings: Openings,
    recognised: Recognised,
  ) {
    this.film = new FilmInPicture(openings, recognised, picture.dotsPerMm);
    const { x, y } = this.film.dots;
    this.stepMm = 1 / (SAMPLES_A_DOT * Math.min(x, y));
    this.sign = recognised.look === 'lighter' ? -1 : 1;
    this.isClear = recognised.look === 'walls';
  }

  /** Learns sharpness and contrast from the wide ones of some openings, so that narrow ones can be measured by them. */
  learn(places: readonly OpeningBox[]): Sharpness {
    const wide = places
      .map((place) => this.film.lay(place))
      .filter(({ halfMm }) => 2 * halfMm > WIDE_MM)
      .slice(0, MOST_WIDE);
    if (this.isClear) {
      const depths = wide.flatMap((laid) => {
        const found = this.lines(laid);
        return typeof found === 'string' ? [] : [found.depth];
      });
      this.lineDepth = depths.length > 0 ? medianOf(depths) : undefined;
      return this.sharpness;
    }
    this.learnSharpness(wide);
    // Edges that a program has sharpened have a shape of its making.
    if (this.sharpness.halo > HALO) return this.sharpness;
    const levels = this.picture;
    const { clipped, sigmaMm } = this.sharpness;
    const edges = (): readonly EdgeShape[] => wide.flatMap((laid) => this.wide(laid)?.edges ?? []);
    const { tone, uMm } = toneOf(edges(), sigmaMm, SAMPLES_A_DOT * this.stepMm, (gamma) => {
      this.picture = { ...levels, light: lightOf(gamma) };
      return edges();
    });
    if (tone) {
      this.picture = { ...levels, light: lightOf(tone.gamma) };
      this.learnSharpness(wide);
    }
    this.sharpness = { ...this.sharpness, clipped, uToneMm: uMm, tone };
    return this.sharpness;
  }

  private wide(laid: Laid): Across | undefined {
    const found = this.across(laid, {}, true);
    return typeof found === 'string' || found.narrow ? undefined : found;
  }

  private learnSharpness(wide: readonly Laid[]): void {
    for (let round = 0; round < 2; round += 1) {
      const seen = wide.flatMap((laid) => {
        const one = this.wide(laid);
        return one ? [{ ...one, laid, grownMm: one.width.mm - 2 * laid.halfMm }] : [];
      });
      if (seen.length === 0) break;
      const grown = ([0, 1] as const).map((axis) =>
        medianOf(
          seen.flatMap(({ laid, grownMm }) => (Math.abs(laid.place.across[axis]) > LEAST_ALONG ? [grownMm] : [])),
        ),
      );
      // What nothing tells of one axis is as along the other.
      this.grownMm = [grown[0] || grown[1] || 0, grown[1] || grown[0] || 0];
      const edges = seen.flatMap((one) => one.edges ?? []);
      const sigmas = edges.flatMap((edge) => blurOf(edge) ?? []);
      const ends = (level: number): boolean => level <= 0.5 || level >= 254.5;
      this.sharpness = {
        sigmaMm: sigmas.length > 0 ? Math.max(0.3 * SAMPLES_A_DOT * this.stepMm, medianOf(sigmas)) : FIRST_SIGMA_MM,
        openShare: medianOf(seen.map(({ inside, ground }) => (2 * inside) / (ground[0] + ground[1]))),
        halo: medianOf(seen.map((one) => Math.max(0, ...(one.edges ?? []).map(haloOf)))),
        clipped: seen.filter(({ inside, ground }) => [inside, ...ground].some(ends)).length / seen.length,
        uToneMm: 0,
      };
    }
  }

  /** The levels at places of the film next to one of its openings; NaN outside of the picture. */
  levelsNear(opening: number): (point: Point) => number {
    const { picture } = this;
    const place = this.film.near(opening);
    return (point) => levelAt(picture, ...place(point));
  }

  private halfBandMm({ halfAlongMm }: Laid, { share = 0.8, leastShare = 0.15 }: StripOptions): number {
    return Math.max(leastShare * halfAlongMm, 0.02, Math.min(share * halfAlongMm, halfAlongMm - TRIM_MM));
  }

  strip(laid: Laid, options: StripOptions = {}): Strip | undefined {
    const { halfMm } = laid;
    const roomMm = options.roomMm ?? ROOM_MM;
    const t = this.halfBandMm(laid, options);
    // At least seven rows, however short an edge is, and no more than say something new.
    const rowStepMm = Math.max((2 * t) / MOST_ROWS, Math.min(2 * this.stepMm, t / 3));
    return readStrip(this.picture, laid, bothWays(halfMm + roomMm), t, this.stepMm, rowStepMm);
  }

  /** Measures across an opening; `missing`, or why it can't be told. `first`: while contrast is not known yet. */
  across(laid: Laid, options: StripOptions = {}, first = false): Across | string {
    const strip = this.strip(laid, options);
    if (!strip) return OUTSIDE;
    const { sigmaMm, openShare } = this.sharpness;
    const [low, high] = this.openings.gapsBeside(laid.place, GAP_MM);
    const found = measureAcross(strip, {
      ...{ halfMm: laid.halfMm, roomMm: options.roomMm ?? ROOM_MM, sign: this.sign, sigmaMm },
      gapsMm: [low * laid.scale, high * laid.scale],
      ...(first || Number.isNaN(openShare) ? {} : { inside: (ground) => ground * openShare }),
    });
    return found ?? OUTSIDE;
  }

  /** The same where only walls show. */
  private lines(laid: Laid, options: StripOptions = {}) {
    const strip = this.strip(laid, options);
    return strip ? (wallLines(strip, laid.halfMm, options.roomMm ?? ROOM_MM, this.lineDepth) ?? TOGETHER) : OUTSIDE;
  }

  /** The edges of an opening, however its kind of picture shows them; `missing`, or why they can't be told. */
  edges(laid: Laid, options: StripOptions = {}): TwoEdges | string {
    return this.isClear ? this.lines(laid, options) : this.across(laid, options);
  }

  /** One edge of an opening, or why it can't be told. */
  edge(laid: Laid, side: 'low' | 'high'): MeasuredEdge | string {
    const key = `${laid.place.opening} ${laid.place.across}`;
    const found = kept(this.known, key, () => this.edges(laid));
    return typeof found !== 'string' ? found[side] : found === 'missing' ? 'its slot is not through' : found;
  }

  /** Where the middles of upright rectangles are seen: half-way between opposite edges, so that no kerf and no level moves them. */
  marks(): SeenMark[] {
    const { dots } = this.film;
    return this.openings.all.flatMap(({ outer }, opening): SeenMark[] => {
      if (outer.length !== 4) return [];
      const [across, along] = ([[1, 0], [0, 1]] as const).map((way) => this.openings.placeOf(opening, way)); // biome-ignore format: two alike
      if (Math.min(across.halfAcross, across.halfAlong) < LEAST_MARK_MM / 2 || !isUpright(outer)) return [];
      const ways = [across, along].map((place) => this.film.lay(place));
      const [s, t] = ways.map((laid) => this.middle(laid));
      if (!s || !t) return [];
      const [x, y] = stripAlong({ ...ways[1], at: stripAlong(ways[0], s.mm) }, t.mm);
      return [{ opening, at: across.middle, seen: [x / dots.x, y / dots.y], uMm: Math.max(s.uMm, t.uMm) }];
    });
  }

  /** The middle between two edges, mm from where the place was looked for. */
  private middle(laid: Laid): { readonly mm: number; readonly uMm: number } | undefined {
    const [low, high] = (['low', 'high'] as const).map((side) => this.edge(laid, side));
    if (typeof low === 'string' || typeof high === 'string') return undefined;
    if (Math.min(low.share, high.share) < FEW || Math.max(low.spreadMm, high.spreadMm) > RAGGED_MM) return undefined;
    return { mm: (low.mm + high.mm) / 2, uMm: Math.hypot(low.uMm, high.uMm) / 2 };
  }

  /** Squares and circles: blur rounds them off, and few profiles cross them, so all of one is held against its shape. */
  smallShape(laid: Laid, nominalMm: number, found: TwoEdges, options: StripOptions): MeasuredEdge {
    const { sigmaMm, openShare } = this.sharpness;
    const { place, halfMm: s, halfAlongMm: t } = laid;
    if (this.isClear) {
      // Round walls: chords beside the middle are shorter, and blur draws the lines inwards.
      const lackMm = chordLackOf(this.ringOf(laid), found.width.mm, this.halfBandMm(laid, options), sigmaMm);
      return { ...found.width, mm: found.width.mm + lackMm };
    }
    const usual = [this.usualGrowth(place.across), this.usualGrowth(place.along)] as const;
    const room = Math.max(...usual) / 2 + 4 * sigmaMm + PATCH_ROOM_MM;
    const stepMm = Math.min(sigmaMm / 1.5, Math.max(this.stepMm, sigmaMm / 3, (s + t + 2 * room) / PATCH_SAMPLES));
    const strip = readStrip(this.picture, laid, bothWays(s + room), t + room, stepMm, stepMm);
    // What lies on it may have drawn its middle aside, and not those of its neighbours.
    const middles = [[0, 0], this.film.aside(laid)] as const;
    const fitted = strip && fitPatch(strip, this.ringOf(laid), { openShare, sigmaMm }, usual, middles);
    if (!fitted) return found.width;
    // Where dirt hides a part of it, one that grew unlike the others may have grown by the dirt.
    const odd = Math.abs(fitted.growth[0] - usual[0]);
    const isDirty = fitted.share < CLEAN && odd > ODD_GROWTH_MM;
    const uMm = Math.hypot(LEAST_PATCH * SAMPLES_A_DOT * this.stepMm, fitted.uMm[0], isDirty ? odd : 0);
    // The box around walls that lean is wider than they are apart.
    return { ...found.width, mm: nominalMm * laid.scale + fitted.growth[0], uMm, share: isDirty ? 0 : fitted.share };
  }

  /** Growth of wide openings in a direction, mm. */
  private usualGrowth = ([x, y]: Point): number => Math.hypot(this.grownMm[0] * x, this.grownMm[1] * y);

  /** An opening before it grew, mm of the scanner, its axes across and along. */
  private ringOf({ place, scale, halfAlongMm }: Laid): Point[] {
    const { opening, across: u, along: v, middle, halfAlong } = place;
    return this.openings.all[opening].outer.map(([px, py]) => {
      const [x, y] = [px - middle[0], py - middle[1]];
      return [(x * u[0] + y * u[1]) * scale, ((x * v[0] + y * v[1]) * halfAlongMm) / halfAlong];
    });
  }
}

const isUpright = (ring: readonly Point[]): boolean =>
  ring.every(([x, y], i) => {
    const [p, q] = ring[(i + 1) % ring.length];
    return Math.abs(p - x) < 1e-9 || Math.abs(q - y) < 1e-9;
  });
