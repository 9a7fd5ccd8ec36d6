import { composeMaps, mapPoint, scaling } from '../../geometry/affine.js';
import { insidePoint, ringArea } from '../../geometry/area.js';
import type { Affine, Opening, Point } from '../../geometry/types.js';
import { kept } from '../../kept.js';
import { blockMeans, type GreyPicture, levelAt } from '../picture/picture.js';
import { medianOf } from '../picture/robust.js';
import { type FoundCoupon, findConstellation, type SearchOptions, type Star } from './constellation.js';
import { findFew } from './few.js';
import type { Openings } from './places.js';
import { blobsOf, type Polarity, standingOut } from './standing-out.js';
import { type Symmetry, symmetriesOf } from './symmetries.js';

/** How openings look in a picture. */
export type ScanLook = Polarity | 'walls';

/** A coupon in a picture. */
export interface Recognised {
  readonly look: ScanLook;
  /** Commanded mm to pixels of the whole picture. */
  readonly map: Affine;
  /** The film lies upside down. */
  readonly mirrored: boolean;
  /** For each opening where its middle was seen, pixels. */
  readonly seenAt: readonly (Point | undefined)[];
  readonly expected: number;
  readonly seen: number;
  /** Another film with the same openings lies beside it. */
  readonly twice: boolean;
  /** Of a stencil: other ways to lay it that look the same. */
  readonly alike?: readonly Symmetry[];
}

/** Fine enough for openings of 0.1 mm, coarse enough for a whole sheet. */
const OVERVIEW_DOTS_PER_MM = 12;
const OVERVIEW_MOST_PX = 4200;
const LEAST_BLOB_PX = 2;
/** Blobs that are looked at: the largest ones. */
const MOST_BLOBS = 4000;
const SURE = 0.85;
const CERTAIN = 0.95;
/** Openings at least so large have an inside of their own, mm; and by how much that differs from the film. */
const WIDE_MM = 0.4;
const ALIKE = 0.05;
const BESIDE_MM = 0.35;
/** Walls that stand out of the film by so many times as much as what lies between them are lines: of a film that is nearly clear. */
const SCORCHED = 1.3;
/** So far beside a wall there is film, mm. */
const WEB_MM = 0.15;
/** In mm; nothing that belongs to a coupon is larger. */
const LARGEST_RADIUS_MM = 6;
/** So few openings are looked for by their outlines when their places don't tell where they lie. */
const MOST_FEW = 12;
/** Openings whose places differ by less look the same, mm: machines and scanners err by as much. */
const SAME_MM = 0.03;

interface Sky {
  readonly stars: readonly Star[];
  readonly contrast: Float32Array;
}

/** What stands out in one picture, found once for all coupons. */
export class Scene {
  /** The whole picture, smaller. */
  readonly overview: GreyPicture;
  private readonly factor: number;
  private readonly skies = new Map<string, Sky>();
  private readonly pxPerMm: number | undefined;

  constructor(picture: GreyPicture) {
    const dots = picture.dotsPerMm;
    const mean = dots && (dots.x + dots.y) / 2;
    const longest = Math.max(picture.widthPx, picture.heightPx);
    this.factor = Math.max(1, Math.floor(mean ? mean / OVERVIEW_DOTS_PER_MM + 0.5 : longest / OVERVIEW_MOST_PX + 0.5));
    this.overview = blockMeans(picture, this.factor);
    this.pxPerMm = mean === undefined ? undefined : mean / this.factor;
  }

  /** How many things stand out, for messages. */
  get blobCount(): number {
    return Math.max(0, ...[...this.skies.values()].map(({ stars }) => stars.length));
  }

  private sky(look: ScanLook, light: 'local' | 'even'): Sky {
    const polarity = look === 'lighter' ? 'lighter' : 'darker';
    return kept(this.skies, `${polarity} ${light}`, () => this.skyOf(polarity, light));
  }

  private skyOf(polarity: Polarity, light: 'local' | 'even'): Sky {
    const contrast = standingOut(this.overview, polarity, light);
    const most = LARGEST_RADIUS_MM * (this.pxPerMm ?? 40);
    const stars = blobsOf(this.overview, contrast)
      .filter(({ areaPx, radius }) => areaPx >= LEAST_BLOB_PX && radius < most)
      .sort((a, b) => b.areaPx - a.areaPx)
      .slice(0, MOST_BLOBS);
    return { stars, contrast };
  }

  /** Everything that stands out, pixels of the whole picture. */
  things(look: Polarity): Star[] {
    const k = this.factor;
    return this.sky(look, 'local').stars.map(({ at: [x, y], radius }) => ({ at: [x * k, y * k], radius: radius * k }));
  }

  /** Looks for a coupon; undefined when it isn't there. */
  find(openings: Openings, only?: ScanLook): Recognised | undefined {
    return this.findAll([openings], only)[0];
  }

  /**
   * Looks for a stencil, which is what was asked but for a percent; undefined when it isn't there. What looks the same when
   * it is turned or mirrored is taken to lie right side up, and turned by as little as may be.
   *
   * @param enough - share of the openings that must be seen; default 0.6
   */
  findStencil(openings: Openings, look: Polarity, enough?: number): Recognised | undefined {
    let best: { found: FoundCoupon; twice: boolean; stars: readonly Star[] } | undefined;
    const { pxPerMm } = this;
    for (const light of ['local', 'even'] as const) {
      const { stars, contrast } = this.sky(look, light);
      const laid =
        this.many(openings, stars, look, enough) ??
        (openings.all.length <= MOST_FEW && pxPerMm !== undefined
          ? findFew(openings, stars, { ...this.overview, pxPerMm, levels: contrast })
          : undefined);
      if (!laid || !this.filled(laid.found, openings)) continue;
      // Light that is taken for what it is not draws middles aside.
      if (laid.found.close > (best?.found.close ?? -1)) best = { ...laid, stars };
      if (laid.found.close >= CERTAIN * laid.found.expected) break;
    }
    if (!best) return undefined;
    const alike = symmetriesOf(openings.all, openings.stars, SAME_MM);
    return { ...this.recognised(upright(best.found, alike), look, best.stars, best.twice), alike };
  }

  private many(openings: Openings, stars: readonly Star[], look: Polarity, enough: number | undefined) {
    const found = this.among(stars, openings, look, { stiff: true, enough });
    if (!found) return undefined;
    const taken = new Set(found.blobOf);
    const rest = stars.filter((_, k) => !taken.has(k));
    const twice = this.pxPerMm !== undefined && this.among(rest, openings, look, { stiff: true }) !== undefined;
    return { found, twice };
  }

  /**
   * Looks for several coupons; undefined for those that aren't there. All films of one picture lie on one ground, so a
   * look in which one was found for certain is that of all, and the others are not looked for in ways that take long.
   */
  findAll(coupons: readonly Openings[], only?: ScanLook): (Recognised | undefined)[] {
    const attempts: readonly [ScanLook, 'local' | 'even'][] = [
      ['darker', 'local'],
      ['lighter', 'local'],
      ['darker', 'even'],
      ['lighter', 'even'],
      ['walls', 'local'],
    ];
    const best: ({ found: FoundCoupon; look: ScanLook; stars: readonly Star[]; all: readonly Star[] } | undefined)[] =
      coupons.map(() => undefined);
    for (const [look, light] of attempts) {
      if (only !== undefined && look !== only) continue;
      // What belongs to one coupon belongs to no other.
      const { stars: all } = this.sky(look, light);
      let stars = all;
      coupons.forEach((openings, i) => {
        const found = this.among(stars, openings, look);
        if (!found) return;
        if (found.seen > (best[i]?.found.seen ?? 0)) best[i] = { found, look, stars, all };
        const taken = new Set(found.blobOf);
        stars = stars.filter((_, k) => !taken.has(k));
      });
      if (best.some((one) => one && one.found.seen >= SURE * one.found.expected)) break;
    }
    const taken = new Set(
      best.flatMap((one) => one?.found.blobOf.flatMap((blob) => (blob === undefined ? [] : one.stars[blob])) ?? []),
    );
    return best.map((one, i) => {
      if (!one) return undefined;
      const rest = one.all.filter((star) => !taken.has(star));
      const twice = this.pxPerMm !== undefined && this.among(rest, coupons[i], one.look) !== undefined;
      return this.recognised(one.found, one.look, one.stars, twice);
    });
  }

  private among(
    stars: readonly Star[],
    openings: Openings,
    look: ScanLook,
    how: Pick<SearchOptions, 'stiff' | 'enough'> = {},
  ): FoundCoupon | undefined {
    const { widthPx, heightPx } = this.overview;
    const found = findConstellation(look === 'walls' ? openings.outlines : openings.stars, stars, {
      widthPx,
      heightPx,
      pxPerMm: this.pxPerMm,
      ...how,
      // The lines of two openings with a narrow web between them run into one.
      ...(look === 'walls' ? { enough: 0.45 } : {}),
    });
    return found && (look === 'walls') !== this.filled(found, openings) ? found : undefined;
  }

  /** Openings that are as bright as the film show their walls only, whatever stood out of the picture. */
  private filled({ map, blobOf }: FoundCoupon, openings: Openings): boolean {
    const apart = blobOf.flatMap((blob, i): number[] => {
      if (blob === undefined || openings.stars[i].radius < WIDE_MM) return [];
      // Across the narrower way, where the film begins soonest, and not as far as the next opening.
      const upright = openings.placeOf(i, [1, 0]);
      const place = upright.halfAcross < upright.halfAlong ? upright : openings.placeOf(i, [0, 1]);
      const gaps = openings.gapsBeside(place, 2 * BESIDE_MM);
      const film = [-1, 1].map((side, k) => {
        const out = side * (place.halfAcross + Math.min(BESIDE_MM, gaps[k] / 2));
        const [x, y] = [place.middle[0] + out * place.across[0], place.middle[1] + out * place.across[1]];
        return levelAt(this.overview, ...mapPoint(map, [x, y]));
      });
      // The middle of a frame, or of an L, is film.
      const open = levelAt(this.overview, ...mapPoint(map, insidePoint(openings.all[i])));
      const ground = (film[0] + film[1]) / 2;
      const share = Math.abs(open - ground) / Math.max(20, ground);
      return Number.isNaN(share) ? [] : [share];
    });
    if (apart.length === 0) return this.deeperInside({ map, blobOf }, openings, 1);
    return medianOf(apart) > ALIKE && this.deeperInside({ map, blobOf }, openings, SCORCHED);
  }

  /** Of narrow ones only: their midst stands out more than their walls do. */
  private deeperInside({ map, blobOf }: Pick<FoundCoupon, 'map' | 'blobOf'>, { all }: Openings, times: number) {
    const found = all.filter((_, i) => blobOf[i] !== undefined);
    const levelOf = (at: Point): number => levelAt(this.overview, ...mapPoint(map, at));
    // Of the picture the ground beside the film may be the larger part.
    const beside = found.flatMap((opening) => middlesOfWalls(opening, WEB_MM).map(levelOf));
    const film = medianOf(beside.filter((level) => !Number.isNaN(level)));
    const apart = (at: Point): number => Math.abs(levelOf(at) - film);
    const more = found.flatMap((opening): number[] => {
      const value = times * apart(insidePoint(opening)) - medianOf(middlesOfWalls(opening, 0).map(apart));
      return Number.isNaN(value) ? [] : [value];
    });
    return more.length === 0 || medianOf(more) > 0;
  }

  private recognised(
    { map, blobOf, expected, seen }: FoundCoupon,
    look: ScanLook,
    stars: readonly Star[],
    twice: boolean,
  ): Recognised {
    const whole = scaling(this.factor);
    return {
      ...{ look, map: composeMaps(whole, map), mirrored: isUpsideDown(map), expected, seen, twice },
      seenAt: blobOf.map((blob) => (blob === undefined ? undefined : mapPoint(whole, stars[blob].at))),
    };
  }
}

/** The middles of an opening's walls, and places so far outside of them. */
function middlesOfWalls({ outer }: Opening, outMm: number): Point[] {
  const side = Math.sign(ringArea(outer));
  return outer.map(([x, y], k): Point => {
    const [p, q] = outer[(k + 1) % outer.length];
    const out = (side * outMm) / (Math.hypot(p - x, q - y) || 1);
    return [(x + p) / 2 + out * (q - y), (y + q) / 2 - out * (p - x)];
  });
}

const isUpsideDown = ({ a, b, c, d }: Affine): boolean => a * d - b * c > 0;

function upright(found: FoundCoupon, alike: readonly Symmetry[]): FoundCoupon {
  const ways = alike.map(({ map, partner }): FoundCoupon => {
    return { ...found, map: composeMaps(found.map, map), blobOf: partner.map((j) => found.blobOf[j]) };
  });
  const turn = ({ a, c }: Affine): number => Math.abs(Math.atan2(c, a));
  const worse = (p: FoundCoupon, q: FoundCoupon): number =>
    Number(isUpsideDown(p.map)) - Number(isUpsideDown(q.map)) || turn(p.map) - turn(q.map);
  return [found, ...ways].sort(worse)[0];
}
