import { around, composeMaps, mapPoint, rotation, translation } from '../../geometry/affine.js';
import { boxOf, smallest } from '../../geometry/bounds.js';
import type { Affine, Opening, Point } from '../../geometry/types.js';
import { distance, distanceToWalls, insideRegion, wallsOf } from '../../geometry/walls.js';
import { type GreyPicture, levelAt } from '../picture/picture.js';
import { type FoundCoupon, hypotheses, laidOnBlob, type Star } from './constellation.js';
import type { Openings } from './places.js';

/** The overview, its levels how much each pixel stands out; 1 is what an opening does. */
export interface Contrast extends GreyPicture {
  readonly pxPerMm: number;
}

/** Film that is looked at around each opening, mm, and between how many samples. */
const ROOM_MM = 0.25;
const STEP_MM = 0.05;
const MOST_SAMPLES = 28;
/** Edges are about this soft in the overview, as a share of its dot. */
const SOFT = 0.45;
/** A place whose openings are so much of what is asked is theirs; one that is nearly as good is as likely. */
const ENOUGH = 0.5;
const NEARLY = 0.8;
/** Of a lone opening no other one tells that it is no dust. */
const ENOUGH_ALONE = 0.6;
const TURNS = 72;
/** Places that are looked at more closely. */
const MOST_PLACES = 24;
/** One sample of so many tells whether a place is worth that. */
const ROUGHLY = 11;
const NEAR_MM = 0.5;

/** A sample beside an opening, mm, and how open it should be. */
interface Sample {
  readonly at: Point;
  readonly open: number;
}

/**
 * Finds fewer openings than tell a constellation, by the outlines of each: where two of them lie on blobs of their size, or
 * for a single one each blob of its size and all turns, the picture must be as open as they are, and film around them.
 *
 * @returns the best place, and whether another one is about as good
 */
export function findFew(
  { all, stars }: Openings,
  blobs: readonly Star[],
  sky: Contrast,
): { readonly found: FoundCoupon; readonly twice: boolean } | undefined {
  const samples = all.map((_, i) => samplesOf(all, i, sky.pxPerMm));
  const shareBy = (some: readonly (readonly Sample[])[]) => (map: Affine) =>
    some.reduce((sum, own) => sum + Math.max(0, shareOf(own, map, sky)), 0) / all.length;
  const roughly = shareBy(samples.map((own) => own.filter((_, k) => k % ROUGHLY === 0)));
  const shareAt = shareBy(samples);
  const best = placesFor(stars, blobs, sky)
    .map((map) => ({ map, share: roughly(map) }))
    .sort((p, q) => q.share - p.share)
    .slice(0, MOST_PLACES)
    .map(({ map }) => refined(map, stars, shareAt, sky.pxPerMm))
    .sort((p, q) => q.share - p.share);
  const [first] = best;
  if (!first || first.share < (all.length === 1 ? ENOUGH_ALONE : ENOUGH)) return undefined;
  const elsewhere = best.some(
    ({ map, share: other }) =>
      other > NEARLY * first.share &&
      stars.every(({ at }) =>
        stars.every((own) => distance(mapPoint(map, at), mapPoint(first.map, own.at)) > NEAR_MM * sky.pxPerMm),
      ),
  );
  const blobOf = stars.map(({ at }, i) => {
    if (shareOf(samples[i], first.map, sky) < ENOUGH) return undefined;
    const far = blobs.map((blob) => distance(blob.at, mapPoint(first.map, at)));
    const nearest = far.indexOf(smallest(far));
    return far[nearest] < NEAR_MM * sky.pxPerMm ? nearest : undefined;
  });
  const seen = blobOf.filter((blob) => blob !== undefined).length;
  return { found: { map: first.map, blobOf, expected: stars.length, seen, close: seen }, twice: elsewhere };
}

function placesFor(stars: readonly Star[], blobs: readonly Star[], sky: Contrast): Affine[] {
  if (stars.length > 1)
    return stars.flatMap((a, i) => stars.slice(i + 1).flatMap((b) => [...hypotheses([a, b], blobs, sky)]));
  const [{ radius }] = stars;
  const likely = blobs
    .map((blob) => ({ blob, off: Math.abs(blob.radius / sky.pxPerMm - radius) }))
    .sort((p, q) => p.off - q.off)
    .slice(0, MOST_PLACES);
  return likely.flatMap(({ blob }) =>
    Array.from({ length: 2 * TURNS }, (_, k): Affine => {
      const { a, c } = rotation((360 * (k >> 1)) / TURNS);
      return laidOnBlob(stars[0], blob, a * sky.pxPerMm, c * sky.pxPerMm, k % 2 === 0 ? -1 : 1);
    }),
  );
}

/** Turned and moved by less and less to where it fits best. */
function refined(
  start: Affine,
  stars: readonly Star[],
  shareAt: (map: Affine) => number,
  pxPerMm: number,
): { map: Affine; share: number } {
  let best = { map: start, share: shareAt(start) };
  const [x, y] = [0, 1].map((k) => stars.reduce((sum, { at }) => sum + at[k], 0) / stars.length);
  for (let [turn, step] = [4, 1]; step > 0.02; turn /= 2, step /= 2) {
    for (let round = 0; round < 3; round += 1) {
      const before = best;
      const middle = mapPoint(before.map, [x, y]);
      const turned = (by: number): Affine => composeMaps(around(middle, rotation(by)), before.map);
      const moved = step * 0.05 * pxPerMm;
      const tries = [
        turned(turn),
        turned(-turn),
        ...[[1, 0], [-1, 0], [0, 1], [0, -1]].map(([p, q]) => composeMaps(translation(p * moved, q * moved), before.map)), // biome-ignore format: one line
      ];
      for (const map of tries) {
        const value = shareAt(map);
        if (value > best.share) best = { map, share: value };
      }
      if (best === before) break;
    }
  }
  return best;
}

/** How open each place around an opening should be, as soft as the overview is; what other openings cover is left out. */
function samplesOf(all: readonly Opening[], i: number, pxPerMm: number): Sample[] {
  const own = all[i];
  const walls = wallsOf(own);
  const { minX, minY, maxX, maxY } = boxOf(own);
  const [w, h] = [maxX - minX + 2 * ROOM_MM, maxY - minY + 2 * ROOM_MM];
  const step = Math.max(STEP_MM, Math.max(w, h) / MOST_SAMPLES);
  const out: Sample[] = [];
  for (let y = minY - ROOM_MM + step / 2; y < maxY + ROOM_MM; y += step) {
    for (let x = minX - ROOM_MM + step / 2; x < maxX + ROOM_MM; x += step) {
      const at: Point = [x, y];
      const far = distanceToWalls(at, walls);
      const inside = insideRegion(at, own);
      if (!inside && far > ROOM_MM) continue;
      if (!inside && all.some((other, j) => j !== i && (insideRegion(at, other) || distanceToWalls(at, wallsOf(other)) < far))) continue; // biome-ignore format: one condition
      out.push({ at, open: 1 / (1 + Math.exp((inside ? -1.7 : 1.7) * ((far * pxPerMm) / SOFT))) });
    }
  }
  return out;
}

/** 1 where all is as it should be, 0 where there is only film. */
function shareOf(samples: readonly Sample[], { a, b, c, d, e, f }: Affine, sky: Contrast): number {
  let [off, all] = [0, 0];
  for (const { at, open } of samples) {
    const seen = Math.min(1, Math.max(0, levelAt(sky, a * at[0] + b * at[1] + e, c * at[0] + d * at[1] + f) || 0));
    off += (seen - open) ** 2;
    all += open ** 2;
  }
  return 1 - off / all;
}
