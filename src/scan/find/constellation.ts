import { seeded } from '../../fit/statistics/ensemble-sampler.js';
import { around, composeMaps, mapPoint, rotation, scaling, translation } from '../../geometry/affine.js';
import { boxAround, ringBounds } from '../../geometry/bounds.js';
import { type BoxIndex, boxIndex } from '../../geometry/box-index.js';
import type { Affine, Box, Point } from '../../geometry/types.js';
import { distance } from '../../geometry/walls.js';
import { grouped, kept } from '../../kept.js';
import { fitAffine, fitStiff } from '../picture/fit-affine.js';

/** An opening as the search sees it; mm as commanded for a coupon, pixels for a picture. */
export interface Star {
  readonly at: Point;
  readonly radius: number;
}

export interface FoundCoupon {
  /** Commanded mm to pixels. */
  readonly map: Affine;
  /** For each opening the blob that shows it; undefined where there is none. */
  readonly blobOf: readonly (number | undefined)[];
  /** Openings that lie inside the picture, and how many of them were seen. */
  readonly expected: number;
  readonly seen: number;
  /** How many of these lie where the map says, each by how near it is, and how much of its size: of rows of openings that are
   * all alike the next one is near, too. */
  readonly close: number;
}

export interface SearchOptions {
  readonly widthPx: number;
  readonly heightPx: number;
  /** Pixels for a millimetre, when it is known. */
  readonly pxPerMm?: number;
  /** Share of the openings inside the picture that must be seen; default 0.6. */
  readonly enough?: number;
  /** The film is known to be what was asked, but for a percent at most: rows of one pitch can't be sheared to fit. */
  readonly stiff?: boolean;
}

/** A scale may be off by this much from what the file says: the machine's own scale and the scanner's. */
const SCALE_ROOM = 0.04;
const BASE_PAIRS = 60;
/** Where the scale is not known every blob may be every opening, which takes longer. */
const BLIND_PAIRS = 10;
/** Smaller ones may not have come through. */
const SMALLEST_BASE_MM = 0.15;
const PROBES = 36;
/** Share of the probes that speak for a place, and of all openings that make it certain. */
const LIKELY = 0.4;
const ENOUGH = 0.6;
/** Fewer openings tell no constellation: they are known by their outlines, and by nothing else. */
export const LEAST_SEEN = 8;
const SURE = 0.85;
const NEAR_MM = 0.35;
/** Of a film that is squeezed more come with each round. */
const NEARER = new Array<number>(8).fill(NEAR_MM);
const AFFINE = ['a', 'b', 'c', 'd', 'e', 'f'] as const;
/** A kerf, or a wall's line, makes openings larger by up to this. */
const GROWTH_MM = 0.14;
/** So much of what is asked, as near as can be, is right for certain. */
const PERFECT = 0.95;
/** Openings beside one, whose places it is tried in: a row of one pitch fits itself one farther on. */
const BESIDE = 4;

/**
 * Finds a coupon among blobs by the places of its own openings: two openings lie on two blobs, and then all others must
 * lie on blobs too. Any turn, mirrored or not, scales between 0.96 and 1.04 of what the resolution says (any, where it is
 * not known), a part of it outside of the picture, dust between.
 */
export const findConstellation = (
  openings: readonly Star[],
  blobs: readonly Star[],
  options: SearchOptions,
): FoundCoupon | undefined =>
  Math.min(blobs.length, openings.length) < LEAST_SEEN ? undefined : new Search(openings, blobs, options).find();

class Search {
  private best: FoundCoupon | undefined;
  private readonly index: BoxIndex;
  private readonly box: Box;
  private readonly size: number;
  /** The same search every time. */
  private readonly random = seeded();
  private readonly probes: readonly Star[];

  constructor(
    private readonly openings: readonly Star[],
    private readonly blobs: readonly Star[],
    private readonly options: SearchOptions,
  ) {
    this.index = boxIndex(blobs, ({ at }) => boxAround(at, 0, 0));
    this.box = ringBounds(openings.map(({ at }) => at));
    this.size = Math.hypot(this.box.maxX - this.box.minX, this.box.maxY - this.box.minY);
    this.probes = pick(openings, PROBES, this.random);
  }

  find(): FoundCoupon | undefined {
    search: for (const [n, pair] of this.basePairs().entries()) {
      for (const map of hypotheses(pair, this.blobs, this.options)) {
        this.take(map);
        if (this.isSure(0)) break search;
      }
      if (this.isSure(n)) break;
    }
    if (this.best) this.lookBeside(this.best);
    return this.best;
  }

  private isSure(n: number): boolean {
    const { best, openings } = this;
    if (!best) return false;
    return (
      best.close >= (this.options.stiff ? PERFECT : SURE) * openings.length ||
      (n > 30 && best.seen >= SURE * best.expected)
    );
  }

  /** Takes a map for the best one, if it is. */
  private take(map: Affine): void {
    const found = this.isLikely(map) ? this.settled(map) : undefined;
    if (found && found.close > (this.best?.close ?? 0)) this.best = found;
  }

  /** The same film laid otherwise: moved by a pitch, turned, upside down. The one that explains most is right. */
  private lookBeside(first: FoundCoupon): void {
    const { minX, minY, maxX, maxY } = this.box;
    const middle: Point = [(minX + maxX) / 2, (minY + maxY) / 2];
    const takeMoved = (moved: Affine): void => this.take(composeMaps((this.best ?? first).map, moved));
    for (const turn of [0, 90, 180, 270]) {
      for (const flip of [1, -1]) takeMoved(around(middle, composeMaps(rotation(turn), scaling(flip, 1))));
    }
    const pitches = pitchesOf(this.openings);
    for (let round = 0; round < 8; round += 1) {
      const before = this.best;
      for (const [x, y] of pitches) takeMoved(translation(x, y));
      if (this.best === before) break;
    }
  }

  /** Pairs of openings to start from: far apart, and of sizes that few blobs have. */
  private basePairs(): [Star, Star][] {
    const { blobs, random } = this;
    const { pxPerMm } = this.options;
    const large = this.openings.filter(({ radius }) => radius > SMALLEST_BASE_MM);
    const from = large.length >= LEAST_SEEN ? large : this.openings;
    const candidates = new Map<Star, number>();
    const countOf = (star: Star): number =>
      kept(candidates, star, () => (pxPerMm === undefined ? 1 : blobsLike(star, blobs, pxPerMm).length));
    const tried: { pair: [Star, Star]; cost: number }[] = [];
    for (let n = 0; n < 4 * BASE_PAIRS; n += 1) {
      // Long pairs fix a place better; short ones are still there when half of the coupon is cut off.
      const least = this.size * (n % 3 === 2 ? 0.2 : 0.5);
      const a = from[Math.floor(random() * from.length)];
      const b = from[Math.floor(random() * from.length)];
      if (distance(a.at, b.at) < least) continue;
      const cost = countOf(a) * countOf(b);
      if (cost > 0) tried.push({ pair: [a, b], cost });
    }
    return tried
      .sort((p, q) => p.cost - q.cost)
      .slice(0, pxPerMm === undefined ? BLIND_PAIRS : BASE_PAIRS)
      .map(({ pair }) => pair);
  }

  private isLikely(map: Affine): boolean {
    const { probes } = this;
    let [inside, hits] = [0, 0];
    const room = NEAR_MM + 0.004 * this.size;
    for (const { at, radius } of probes) {
      const place = mapPoint(map, at);
      if (!this.holds(place)) continue;
      inside += 1;
      if (this.nearest(place, radius, room, scaleOf(map)) !== undefined) hits += 1;
      // What lies right by chance is given up soon; of a place that is right most probes hit.
      if ((inside === 4 && hits === 0) || (inside === 8 && hits < 3)) return false;
    }
    return inside >= probes.length / 6 && inside >= 5 && hits >= LIKELY * inside;
  }

  /** Fits the map to all openings that have a blob, with less and less room. */
  private settled(start: Affine): FoundCoupon | undefined {
    const { openings, blobs, size } = this;
    const { enough = ENOUGH, stiff = false } = this.options;
    let map = start;
    let blobOf: (number | undefined)[] = [];
    for (const room of [NEAR_MM + 0.004 * size, NEAR_MM + 0.001 * size, ...NEARER]) {
      blobOf = openings.map(({ at, radius }) => this.nearest(mapPoint(map, at), radius, room, scaleOf(map)));
      const pairs = blobOf.flatMap((blob, i): [Point, Point][] =>
        blob === undefined ? [] : [[openings[i].at, blobs[blob].at]],
      );
      if (pairs.length < LEAST_SEEN) return undefined;
      const fitted = stiff ? fitStiff(pairs, map) : fitAffine(pairs)?.map;
      if (!fitted) return undefined;
      // From here on each round would bring the same.
      if (room === NEAR_MM && AFFINE.every((k) => fitted[k] === map[k])) break;
      map = fitted;
    }
    const expected = openings.filter(({ at }) => this.holds(mapPoint(map, at))).length;
    const seen = new Set(blobOf.filter((blob) => blob !== undefined)).size;
    if (seen < enough * expected || seen < LEAST_SEEN || unlikelyShape(map, stiff ? MOST_STIFF : MOST_STRAIN))
      return undefined;
    return { map, blobOf, expected, seen, close: this.closeness(map, blobOf) };
  }

  /** How well all that was seen fits, as a count of openings. */
  private closeness(map: Affine, blobOf: readonly (number | undefined)[]): number {
    const scale = scaleOf(map);
    const shares = new Map<number, number>();
    blobOf.forEach((k, i) => {
      if (k === undefined) return;
      const [{ at, radius }, blob] = [this.openings[i], this.blobs[k]];
      const far = distance(blob.at, mapPoint(map, at)) / scale / NEAR_MM;
      const other = (blob.radius / scale - radius) / (0.15 * radius + GROWTH_MM);
      const share = Math.max(0, 1 - far ** 2) * Math.max(0, 1 - 0.5 * other ** 2);
      // Two openings on one blob are one opening.
      shares.set(k, Math.max(share, shares.get(k) ?? 0));
    });
    return [...shares.values()].reduce((sum, share) => sum + share, 0);
  }

  private holds([x, y]: Point): boolean {
    return x > 2 && y > 2 && x < this.options.widthPx - 2 && y < this.options.heightPx - 2;
  }

  /** The blob nearest to a place that is like an opening. */
  private nearest([x, y]: Point, radiusMm: number, roomMm: number, pxPerMm: number): number | undefined {
    const room = roomMm * pxPerMm;
    let [best, least]: [number | undefined, number] = [undefined, room * room];
    for (const i of this.index.near({ minX: x, minY: y, maxX: x, maxY: y }, room)) {
      const { at, radius } = this.blobs[i];
      const far = (at[0] - x) ** 2 + (at[1] - y) ** 2;
      if (far < least && alike(radiusMm, radius / pxPerMm)) [best, least] = [i, far];
    }
    return best;
  }
}

/** The ways from openings to those beside them, each once. */
function pitchesOf(openings: readonly Star[]): Point[] {
  const step = Math.max(1, Math.floor(openings.length / 200));
  const some = openings.filter((_, i) => i % step === 0);
  const ways = some.flatMap((own) => {
    const beside = openings
      .filter((other) => other !== own)
      .map(({ at }): Point => [at[0] - own.at[0], at[1] - own.at[1]])
      .sort((p, q) => Math.hypot(...p) - Math.hypot(...q));
    return beside.slice(0, BESIDE).flatMap(([x, y]): Point[] => [
      [x, y],
      [-x, -y],
    ]);
  });
  return [...grouped(ways, (way) => way.map((value) => Math.round(value * 10)).join()).values()]
    .sort((p, q) => q.length - p.length)
    .slice(0, 24)
    .map((alike) => alike[alike.length - 1]);
}

/** Turned, mirrored and scaled maps that put two openings on two blobs like them. */
export function* hypotheses(
  [a, b]: [Star, Star],
  blobs: readonly Star[],
  { pxPerMm }: Pick<SearchOptions, 'pxPerMm'>,
): Generator<Affine> {
  const [dx, dy] = [b.at[0] - a.at[0], b.at[1] - a.at[1]];
  const length = Math.hypot(dx, dy);
  const fits = (star: Star): readonly Star[] => (pxPerMm === undefined ? blobs : blobsLike(star, blobs, pxPerMm));
  const ends = fits(b);
  for (const p of fits(a)) {
    for (const q of ends) {
      if (p === q) continue;
      const [ex, ey] = [q.at[0] - p.at[0], q.at[1] - p.at[1]];
      const scale = Math.hypot(ex, ey) / length;
      if (pxPerMm !== undefined) {
        if (Math.abs(scale / pxPerMm - 1) > SCALE_ROOM) continue;
      } else if (!(scale > 2 && alike(a.radius, p.radius / scale) && alike(b.radius, q.radius / scale))) continue;
      for (const flip of [-1, 1]) {
        // q - p = scale · turn · (flip in y) · (b - a)
        const [ux, uy] = [dx, flip * dy];
        const cos = (ux * ex + uy * ey) / (length * length);
        const sin = (ux * ey - uy * ex) / (length * length);
        yield laidOnBlob(a, p, cos, sin, flip);
      }
    }
  }
}

/** The map by sine and cosine times a scale, upside down or not, that puts an opening on a blob. */
export function laidOnBlob({ at: [x, y] }: Star, blob: Star, cos: number, sin: number, flip: number): Affine {
  const [a, b, c, d] = [cos, -sin * flip, sin, cos * flip];
  return { a, b, c, d, e: blob.at[0] - (a * x + b * y), f: blob.at[1] - (c * x + d * y) };
}

const blobsLike = ({ radius }: Star, blobs: readonly Star[], pxPerMm: number): readonly Star[] =>
  blobs.filter((blob) => alike(radius, blob.radius / pxPerMm));

const alike = (opening: number, blob: number): boolean => Math.abs(blob - opening) <= 0.15 * opening + GROWTH_MM;

/** None leans by 5 %, and one axis is squeezed by more than a scanner does only where something is set wrong; a film that was corrected is off by less. */
const MOST_STRAIN = { squeeze: 0.15, lean: 0.05 };
const MOST_STIFF = { squeeze: 0.02, lean: 0.02 };

function unlikelyShape(map: Affine, { squeeze, lean }: typeof MOST_STRAIN): boolean {
  const { a, b, c, d } = map;
  return Math.abs(squeezeOf(map)) > squeeze || Math.abs(a * b + c * d) / Math.abs(a * d - b * c) > lean;
}

/** The share by which X is drawn longer than Y. */
export const squeezeOf = ({ a, b, c, d }: Affine): number => Math.hypot(a, c) / Math.hypot(b, d) - 1;

const scaleOf = ({ a, b, c, d }: Affine): number => Math.sqrt(Math.abs(a * d - b * c));

function pick<T>(items: readonly T[], count: number, random: () => number): T[] {
  const left = [...items];
  const picked: T[] = [];
  while (picked.length < count && left.length > 0) picked.push(...left.splice(Math.floor(random() * left.length), 1));
  return picked;
}
