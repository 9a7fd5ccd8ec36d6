import { mapPoint } from '../geometry/affine.js';
import { openingArea } from '../geometry/area.js';
import type { Point } from '../geometry/types.js';
import type { OpeningBox, Openings } from './find/places.js';
import type { Recognised } from './find/recognise.js';
import type { Sharpness } from './measure/levels.js';
import { CouponRuler } from './measure/measure-coupon.js';
import type { GreyPicture } from './picture/picture.js';
import { medianOf } from './picture/robust.js';

export type SeenFault = 'missing' | 'partly closed' | 'torn' | 'bridged' | 'too small' | 'too large' | 'out of place';

/** How much an opening may differ from what was asked. */
export interface InspectLimits {
  readonly areaPercent: number;
  readonly sizeMm: number;
  readonly placeMm: number;
}

/** One opening of a stencil, asked and found; mm of the scanner. */
export interface InspectedOpening {
  readonly number: number;
  readonly asked: { readonly widthMm: number; readonly heightMm: number; readonly areaMm2: number };
  readonly widthMm?: number;
  readonly heightMm?: number;
  readonly areaMm2?: number;
  /** How far its middle lies from where it should, after the whole stencil was laid upon the artwork. */
  readonly offMm?: number;
  readonly faults: readonly SeenFault[];
  /** The opening it has grown together with. */
  readonly bridgedWith?: number;
  /** Outside of the picture. */
  readonly unseen?: boolean;
  readonly ring: readonly Point[];
}

const ROOM_MM = 0.3;
const RAGGED_MM = 0.03;
const LEAST_SIDE_MM = 0.4;
/** Openings nearer to each other than this may have grown together. */
const WEB_MM = 1;
/** So much of the area, and no more, is there of an opening that did not come through. */
const CLOSED_SHARE = 0.2;
const PARTLY_SHARE = 0.8;
/** So far beyond what an outline may be off it is looked whether film is there; dust is shorter than a tear, hairs are not as dark. */
const RIM_MM = 0.05;
const RIM_STEP_MM = 0.02;
const RIM_SHARE = 0.6;
const LEAST_TEAR_MM = 0.16;

/** Holds every opening of a recognised stencil against what was asked. */
export function inspectOpenings(
  picture: GreyPicture,
  openings: Openings,
  recognised: Recognised,
  limits: InspectLimits,
): { readonly inspected: InspectedOpening[]; readonly sharpness: Sharpness } {
  const ruler = new CouponRuler(picture, openings, recognised);
  const places = openings.all.map((_, i) => openings.placeOf(i, [1, 0]));
  const sharpness = ruler.learnFrom([...places].sort((a, b) => b.halfAcross - a.halfAcross).slice(0, 60));
  const gaps = gapsOf(places);
  const contrast = contrastOf(recognised, sharpness.openShare, places);
  const inspected = places.map((place, i): InspectedOpening => {
    const asked = {
      widthMm: 2 * place.halfAcross,
      heightMm: 2 * place.halfAlong,
      areaMm2: openingArea(openings.all[i]),
    };
    const ring = openings.all[i].outer.map((point) => ruler.seen(point, i));
    const base = { number: i + 1, asked, ring, faults: [] };
    const area = contrast.area(place, ruler, i, gaps[i]);
    if (area === undefined) return { ...base, unseen: true };
    if (area < CLOSED_SHARE * asked.areaMm2) return { ...base, areaMm2: area, faults: ['missing'] };
    const room = Math.max(0.08, Math.min(ROOM_MM, 0.9 * gaps[i].mm));
    const [width, height] = [place, openings.placeOf(i, [0, 1])].map((one) => {
      const { outer } = openings.all[i];
      const share = isBox(outer) ? BOX_SHARE : ROUND_SHARE;
      const found = ruler.across(one, false, room, share);
      if (!found || found === 'missing') return undefined;
      return { ...found.width, mm: found.width.mm + shortOf(outer, one, share) };
    });
    const seen = recognised.seenAt[i];
    const wanted = mapPoint(recognised.map, openings.stars[i].at);
    const pxPerMm = Math.sqrt(Math.abs(recognised.map.a * recognised.map.d - recognised.map.b * recognised.map.c));
    const offMm = seen && Math.hypot(seen[0] - wanted[0], seen[1] - wanted[1]) / pxPerMm;
    const bridgedWith = gaps[i].near.find((other) => contrast.open(between(places[i], places[other]), ruler, i));
    const found = {
      ...base,
      areaMm2: area,
      ...(width ? { widthMm: width.mm } : {}),
      ...(height ? { heightMm: height.mm } : {}),
      ...(offMm === undefined ? {} : { offMm }),
      ...(bridgedWith === undefined ? {} : { bridgedWith: bridgedWith + 1 }),
    };
    // Across the end of a slot there are a few rows, and a speck lies on most of them.
    const sides = [width, height].filter((_, k) => [asked.heightMm, asked.widthMm][k] > LEAST_SIDE_MM);
    const ragged = sides.some((side) => (side?.spreadMm ?? 0) > RAGGED_MM);
    const faults = faultsOf(found, ragged, limits, [width?.uMm ?? 0, height?.uMm ?? 0]);
    return {
      ...found,
      faults:
        faults.length > 0
          ? faults
          : contrast.alongRim(openings.all[i].outer, ruler, i, gaps[i], RIM_MM + limits.sizeMm / 2),
    };
  });
  return { inspected, sharpness };
}

function faultsOf(
  { asked, areaMm2 = 0, widthMm, heightMm, offMm, bridgedWith }: Omit<InspectedOpening, 'faults'>,
  ragged: boolean,
  { areaPercent, sizeMm, placeMm }: InspectLimits,
  uMm: readonly [number, number],
): SeenFault[] {
  if (bridgedWith !== undefined) return ['bridged'];
  const faults: SeenFault[] = [];
  const share = areaMm2 / asked.areaMm2;
  const perimeter = 2 * (asked.widthMm + asked.heightMm);
  // A speck at the wall of a small opening is a large part of its area: both must say so.
  const far = Math.abs(share - 1) > areaPercent / 100 && Math.abs(areaMm2 - asked.areaMm2) > 0.012 * perimeter;
  const off = [
    [widthMm, asked.widthMm],
    [heightMm, asked.heightMm],
  ].map(([found, wanted], k) => {
    const by = found === undefined || wanted === undefined ? 0 : found - wanted;
    // What dirt may have done is no fault.
    return Math.sign(by) * Math.max(0, Math.abs(by) - 2 * uMm[k]);
  });
  const size = off.reduce((most, one) => (Math.abs(one) > Math.abs(most) ? one : most), 0);
  if (far && share < PARTLY_SHARE) faults.push('partly closed');
  else if (far && share > 1 && Math.abs(size) < sizeMm) faults.push('torn');
  else if (far || Math.abs(size) > sizeMm) faults.push((far ? share < 1 : size < 0) ? 'too small' : 'too large');
  else if (ragged) faults.push('torn');
  if (offMm !== undefined && offMm > placeMm && faults.length === 0) faults.push('out of place');
  return faults;
}

/** Within this the middle of a side looks as wide as the whole. */
const BOX_SHARE = 0.5;
const ROUND_SHARE = 0.25;

const isBox = (ring: readonly Point[]): boolean =>
  ring.length === 4 &&
  ring.every(([x, y], k) => {
    const [p, q] = ring[(k + 1) % 4];
    return Math.abs(p - x) < 1e-6 || Math.abs(q - y) < 1e-6;
  });

/** By how much an outline as asked is narrower about its middle, where it is measured, than at its widest, mm. */
function shortOf(
  ring: readonly Point[],
  { middle, across, along, halfAcross, halfAlong }: OpeningBox,
  share: number,
): number {
  const ROWS = 9;
  const chords = Array.from({ length: ROWS }, (_, row) => {
    const t = share * halfAlong * ((2 * row) / (ROWS - 1) - 1);
    const crossings = ring.flatMap(([ax, ay], k): number[] => {
      const [bx, by] = ring[(k + 1) % ring.length];
      const [u, v] = [ax, bx].map(
        (x, end) => (x - middle[0]) * along[0] + ((end === 0 ? ay : by) - middle[1]) * along[1],
      );
      if (u > t === v > t) return [];
      const part = (t - u) / (v - u);
      const [x, y] = [ax + part * (bx - ax) - middle[0], ay + part * (by - ay) - middle[1]];
      return [x * across[0] + y * across[1]];
    });
    return Math.max(...crossings) - Math.min(...crossings);
  });
  const mean = chords.reduce((sum, one) => sum + one, 0) / ROWS;
  return Number.isFinite(mean) ? Math.max(0, 2 * halfAcross - mean) : 0;
}

interface Gap {
  /** To the nearest other opening's box. */
  readonly mm: number;
  readonly near: readonly number[];
}

function gapsOf(places: readonly OpeningBox[]): Gap[] {
  const order = places.map((_, i) => i).sort((a, b) => places[a].middle[0] - places[b].middle[0]);
  const widest = Math.max(...places.map(({ halfAcross }) => halfAcross));
  const gaps = places.map(() => ({ mm: Number.POSITIVE_INFINITY, near: [] as number[] }));
  order.forEach((i, k) => {
    for (let n = k + 1; n < order.length; n += 1) {
      const j = order[n];
      const [p, q] = [places[i], places[j]];
      const dx = q.middle[0] - p.middle[0] - p.halfAcross - q.halfAcross;
      if (q.middle[0] - p.middle[0] > p.halfAcross + widest + WEB_MM) break;
      const dy = Math.abs(q.middle[1] - p.middle[1]) - p.halfAlong - q.halfAlong;
      const mm = Math.hypot(Math.max(0, dx), Math.max(0, dy));
      for (const [a, b] of [
        [i, j],
        [j, i],
      ]) {
        gaps[a].mm = Math.min(gaps[a].mm, mm);
        if (mm > 0 && mm < WEB_MM && Math.min(dx, dy) < 0) gaps[a].near.push(b);
      }
    }
  });
  return gaps;
}

/** A row of places along the web between two openings' boxes, and how far it reaches across. */
function between(
  p: OpeningBox,
  q: OpeningBox,
): { readonly from: Point; readonly to: Point; readonly half: number; readonly side: Point } {
  const dx = Math.abs(q.middle[0] - p.middle[0]) - p.halfAcross - q.halfAcross;
  const alongX = dx >= 0;
  const [k, other] = alongX ? [0, 1] : [1, 0];
  const half = (place: OpeningBox, axis: number): number => (axis === 0 ? place.halfAcross : place.halfAlong);
  const sign = Math.sign(q.middle[k] - p.middle[k]);
  const low = Math.max(p.middle[other] - half(p, other), q.middle[other] - half(q, other));
  const high = Math.min(p.middle[other] + half(p, other), q.middle[other] + half(q, other));
  const at = (value: number): Point => (alongX ? [value, (low + high) / 2] : [(low + high) / 2, value]);
  return {
    from: at(p.middle[k] + sign * half(p, k)),
    to: at(q.middle[k] - sign * half(q, k)),
    half: (high - low) / 2,
    side: alongX ? [0, 1] : [1, 0],
  };
}

/** How open the film is at places of the picture: 0 film, 1 opening, the film's level taken nearby. */
function contrastOf({ map }: Recognised, openShare: number, places: readonly OpeningBox[]) {
  const filmAt = (place: OpeningBox, ruler: CouponRuler, i: number): number => {
    const around: number[] = [];
    for (let k = 0; k < 32; k += 1) {
      const angle = (2 * Math.PI * k) / 32;
      const point: Point = [
        place.middle[0] + (place.halfAcross + 0.14) * Math.SQRT2 * Math.cos(angle),
        place.middle[1] + (place.halfAlong + 0.14) * Math.SQRT2 * Math.sin(angle),
      ];
      const level = ruler.levelAt(point, i);
      if (!Number.isNaN(level)) around.push(level);
    }
    // Other openings nearby are on the side of the opening's level.
    const sorted = around.sort((a, b) => (openShare < 1 ? b - a : a - b));
    return medianOf(sorted.slice(0, Math.max(4, Math.floor(0.6 * sorted.length))));
  };
  const films = new Map<number, number>();
  const film = (i: number, ruler: CouponRuler): number => {
    const known = films.get(i) ?? filmAt(places[i], ruler, i);
    films.set(i, known);
    return known;
  };
  const openAt = (point: Point, i: number, ruler: CouponRuler): number => {
    const ground = film(i, ruler);
    return (ruler.levelAt(point, i) - ground) / (ground * (openShare - 1));
  };
  const step = 0.5 / Math.sqrt(Math.abs(map.a * map.d - map.b * map.c));
  return {
    area(place: OpeningBox, ruler: CouponRuler, i: number, { mm }: Gap): number | undefined {
      const room = Math.max(0.04, Math.min(0.12, mm / 2));
      const [hx, hy] = [place.halfAcross + room, place.halfAlong + room];
      const [nx, ny] = [Math.ceil((2 * hx) / step), Math.ceil((2 * hy) / step)];
      let sum = 0;
      for (let y = 0; y < ny; y += 1) {
        for (let x = 0; x < nx; x += 1) {
          const point: Point = [
            place.middle[0] - hx + ((x + 0.5) * 2 * hx) / nx,
            place.middle[1] - hy + ((y + 0.5) * 2 * hy) / ny,
          ];
          sum += Math.max(-0.2, Math.min(1.2, openAt(point, i, ruler)));
        }
      }
      return Number.isNaN(sum) ? undefined : (sum * 4 * hx * hy) / (nx * ny);
    },
    /** What sticks out of an opening, or into it, along its outline: little of the area of a large one. */
    alongRim(ring: readonly Point[], ruler: CouponRuler, i: number, { mm }: Gap, rimMm: number): SeenFault[] {
      const { halfAcross, halfAlong } = places[i];
      const turning = ring.reduce((sum, [x, y], k) => {
        const [p, q] = ring[(k + 1) % ring.length];
        return sum + x * q - p * y;
      }, 0);
      const longest = (off: number, wrong: (share: number) => boolean): number => {
        let [run, most] = [0, 0];
        ring.forEach(([ax, ay], k) => {
          const [bx, by] = ring[(k + 1) % ring.length];
          const length = Math.hypot(bx - ax, by - ay);
          const [nx, ny] = [(Math.sign(turning) * (by - ay)) / length, (-Math.sign(turning) * (bx - ax)) / length];
          const steps = Math.max(1, Math.ceil(length / RIM_STEP_MM));
          for (let s = 0; s < steps; s += 1) {
            const at = (s + 0.5) / steps;
            const point: Point = [ax + at * (bx - ax) + off * nx, ay + at * (by - ay) + off * ny];
            run = wrong(openAt(point, i, ruler)) ? run + length / steps : 0;
            most = Math.max(most, run);
          }
        });
        return most;
      };
      if (mm > 3 * rimMm && longest(rimMm, (share) => share > RIM_SHARE) > LEAST_TEAR_MM) return ['torn'];
      const inner = Math.min(halfAcross, halfAlong) > 3 * rimMm;
      // A corner is round after cutting.
      return inner && longest(-rimMm, (share) => share < 1 - RIM_SHARE) > LEAST_TEAR_MM ? ['partly closed'] : [];
    },
    /** Whether a way from one opening to the other leads through no film, anywhere along the web. */
    open({ from, to, half, side }: ReturnType<typeof between>, ruler: CouponRuler, i: number): boolean {
      const rows = Math.max(1, Math.round((2 * half) / 0.05));
      for (let r = 0; r < rows; r += 1) {
        const t = rows === 1 ? 0 : -0.9 * half + (1.8 * half * r) / (rows - 1);
        let least = Number.POSITIVE_INFINITY;
        for (let k = 1; k < 10; k += 1) {
          const point: Point = [
            from[0] + ((to[0] - from[0]) * k) / 10 + t * side[0],
            from[1] + ((to[1] - from[1]) * k) / 10 + t * side[1],
          ];
          least = Math.min(least, openAt(point, i, ruler));
        }
        if (least > 0.6) return true;
      }
      return false;
    },
  };
}
