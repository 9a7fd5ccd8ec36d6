import { invert, mapPoint } from '../../geometry/affine.js';
import type { Affine, PerAxis, Point } from '../../geometry/types.js';
import { distance } from '../../geometry/walls.js';
import { kept } from '../../kept.js';
import type { OpeningBox, Openings } from '../find/places.js';
import type { Recognised } from '../find/recognise.js';
import { medianOf, spreadOf } from '../picture/robust.js';
import type { ScanFrame } from './strip.js';

/** Where an opening lies in the picture, as seen along a direction; lengths in mm of the scanner. */
export interface Laid extends ScanFrame {
  readonly place: OpeningBox;
  readonly halfMm: number;
  readonly halfAlongMm: number;
  /** Millimetres of the scanner for one as commanded, and the direction in its axes; a unit vector. */
  readonly scale: number;
  readonly direction: Point;
}

/** Openings lie within this of where their neighbours do, mm, or so many times as far off as these differ; no dirt draws one farther. */
const ODD_MM = 0.05;
const ODD_SPREAD = 4;
const MOST_ODD_MM = 0.2;
const NEIGHBOURS = 5;

/** Where in a picture the places of a recognised film are seen. */
export class FilmInPicture {
  /** Pixels for a millimetre of the scanner. */
  readonly dots: PerAxis;
  private readonly map: Affine;
  /** By how much the middles of openings lie beside their places, pixels. */
  private readonly shifts: readonly (Point | undefined)[];
  private readonly trusted = new Map<number, Point>();
  private readonly mostOddMm: number;

  constructor(
    private readonly openings: Openings,
    { map, seenAt, look }: Recognised,
    dots: PerAxis | undefined,
  ) {
    this.map = map;
    this.dots = dots ?? evenDots(map);
    // In clear film a tear's line draws the middle of all lines aside.
    this.mostOddMm = look === 'walls' ? ODD_MM : MOST_ODD_MM;
    this.shifts = seenAt.map((at, i) => {
      if (!at) return undefined;
      const place = mapPoint(map, openings.stars[i].at);
      return [at[0] - place[0], at[1] - place[1]];
    });
  }

  lay(place: OpeningBox): Laid {
    const { px, scale, direction } = this.unit(place.across);
    const along = this.unit(place.along);
    return {
      ...{ place, at: this.near(place.opening)(place.middle), across: px, along: along.px, scale, direction },
      ...{ halfMm: place.halfAcross * scale, halfAlongMm: place.halfAlong * along.scale },
    };
  }

  /** Where places of the film are seen next to one of its openings, pixels. */
  near(opening: number): (point: Point) => Point {
    const { a, b, c, d, e, f } = this.map;
    const [dx, dy] = this.shiftAt(opening);
    return ([x, y]) => [a * x + b * y + e + dx, c * x + d * y + f + dy];
  }

  /** By how much an opening's middle may lie beside where it is taken to lie, if its neighbours are right, mm across and along. */
  aside({ place, across: [a, c], along: [b, d] }: Laid): readonly [number, number] {
    const [x, y] = this.shiftAt(place.opening);
    return mapPoint(invert({ a, b, c, d, e: x, f: y }), this.shiftAround(place.opening).middle);
  }

  /** Pixels for one mm of the scanner along a commanded direction, and mm of the scanner for one as commanded. */
  private unit([x, y]: Point): { readonly px: Point; readonly scale: number; readonly direction: Point } {
    const { a, b, c, d } = this.map;
    const [px, py] = [a * x + b * y, c * x + d * y];
    const [sx, sy] = [px / this.dots.x, py / this.dots.y];
    const scale = Math.hypot(sx, sy);
    return { px: [px / scale, py / scale], scale, direction: [sx / scale, sy / scale] };
  }

  /**
   * Where an opening's own surroundings lie: the machine's places are not quite even over the bed. What lies where its
   * neighbours do not has a hair in its middle.
   */
  private shiftAt(opening: number): Point {
    return kept(this.trusted, opening, () => {
      const own = this.shifts[opening];
      const mm = Math.min(this.dots.x, this.dots.y);
      const lies = ([x, y]: Point, room: number): boolean =>
        own !== undefined && Math.hypot(own[0] - x, own[1] - y) <= room * mm;
      if (own && lies([0, 0], ODD_MM)) return own;
      const { middle, spread } = this.shiftAround(opening);
      const room = Math.min(this.mostOddMm, Math.max(ODD_MM, (ODD_SPREAD * spread) / mm));
      return own && lies(middle, room) ? own : middle;
    });
  }

  private shiftAround(opening: number): { readonly middle: Point; readonly spread: number } {
    const { stars } = this.openings;
    const near: { shift: Point; far: number }[] = [];
    this.shifts.forEach((shift, i) => {
      if (!shift || i === opening) return;
      const far = distance(stars[i].at, stars[opening].at);
      if (near.length === NEIGHBOURS && far >= near[NEIGHBOURS - 1].far) return;
      near.push({ shift, far });
      near.sort((p, q) => p.far - q.far);
      near.length = Math.min(near.length, NEIGHBOURS);
    });
    if (near.length === 0) return { middle: [0, 0], spread: 0 };
    const [xs, ys] = ([0, 1] as const).map((axis) => near.map(({ shift }) => shift[axis]));
    return { middle: [medianOf(xs), medianOf(ys)], spread: Math.max(spreadOf(xs), spreadOf(ys)) };
  }
}

/** Without a resolution the coupon's own millimetres are taken; only a reference makes lengths of them. */
export function evenDots({ a, b, c, d }: Recognised['map']): PerAxis {
  const mean = Math.sqrt(Math.abs(a * d - b * c));
  return { x: mean, y: mean };
}
