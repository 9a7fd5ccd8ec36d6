import { Matrix, solve } from 'ml-matrix';
import { betweenTiles, findLevels } from '../../artwork/image/levels.js';
import type { GreyPicture } from '../picture/picture.js';
import { connectedParts } from '../picture/raster.js';
import { medianOf, spreadOf } from '../picture/robust.js';
import type { Star } from './constellation.js';

/** How openings may look beside the film. */
export type Polarity = 'darker' | 'lighter';

/** How much each pixel stands out from the film around it: 1 is what an opening does. */
export function standingOut(picture: GreyPicture, polarity: Polarity, light: 'local' | 'even'): Float32Array {
  const { levels } = picture;
  const sign = polarity === 'darker' ? 1 : -1;
  const out = new Float32Array(levels.length);
  if (light === 'even') {
    const counts = new Float64Array(256);
    for (let i = 0; i < levels.length; i += 1) counts[Math.min(255, Math.max(0, Math.round(levels[i])))] += 1;
    const { dark, light: bright } = findLevels(counts) ?? { dark: 0, light: 255 };
    const [film, open] = polarity === 'darker' ? [bright, dark] : [dark, bright];
    for (let i = 0; i < out.length; i += 1) out[i] = (film - levels[i]) / (film - open);
    return out;
  }
  const filmAlong = filmLevels(picture);
  const film = new Float32Array(picture.widthPx);
  for (let y = 0, at = 0; y < picture.heightPx; y += 1) {
    filmAlong(y, film);
    for (let x = 0; x < film.length; x += 1, at += 1) out[at] = (sign * (film[x] - levels[at])) / Math.max(20, film[x]);
  }
  const step = Math.max(1, Math.floor(out.length / 200_000));
  const some = Float32Array.from({ length: Math.ceil(out.length / step) }, (_, i) => out[i * step]);
  const noise = Math.max(0.004, spreadOf(some, medianOf(some)));
  // Openings are few, and dust is fewer; what stands out clearly tells how deep an opening is.
  const deep = some.filter((value) => value > Math.max(0.05, 8 * noise)).sort((a, b) => a - b);
  const depth = Math.max(0.08, 10 * noise, deep.length > 20 ? deep[Math.floor(0.7 * deep.length)] : 0.3);
  for (let i = 0; i < out.length; i += 1) out[i] *= 1 / depth;
  return out;
}

/** Tiles over which the film's own level is taken, pixels of the overview, and how many of them are looked at together. */
const TILE_PX = 32;
const REACH = 4;

/**
 * Level of the film from place to place, taken as the commonest thing around: openings are the small part.
 *
 * @returns writes the film's levels along one row of the picture
 */
function filmLevels(picture: GreyPicture): (y: number, row: Float32Array) => void {
  const { widthPx, heightPx, levels } = picture;
  const [nx, ny] = [Math.max(1, Math.round(widthPx / TILE_PX)), Math.max(1, Math.round(heightPx / TILE_PX))];
  const [tx, ty] = [widthPx / nx, heightPx / ny];
  const tiles = (levelOf: (i: number, j: number) => number): Float32Array =>
    Float32Array.from({ length: nx * ny }, (_, k) => levelOf(k % nx, Math.floor(k / nx)));
  const own = tiles((i, j) => {
    const found: number[] = [];
    for (let y = Math.floor(j * ty); y < Math.floor((j + 1) * ty); y += 3) {
      for (let x = Math.floor(i * tx); x < Math.floor((i + 1) * tx); x += 3) found.push(levels[y * widthPx + x]);
    }
    return medianOf(found);
  });
  const fallOff = smoothSurface(own, nx, ny);
  const calm = tiles((i, j) => {
    const near: number[] = [];
    for (let b = Math.max(0, j - REACH); b <= Math.min(ny - 1, j + REACH); b += 1) {
      for (let a = Math.max(0, i - REACH); a <= Math.min(nx - 1, i + REACH); a += 1)
        near.push(own[b * nx + a] - fallOff[b * nx + a]);
    }
    return fallOff[j * nx + i] + medianOf(near);
  });
  return betweenTiles(calm, { columns: nx, rows: ny, width: widthPx, height: heightPx });
}

/** How light falls off over the picture: a parabola through the tiles, those that openings darken left out by and by. */
function smoothSurface(own: Float32Array, nx: number, ny: number): Float32Array {
  const out = new Float32Array(own.length);
  if (nx < 4 || ny < 4) return out;
  const terms = Array.from(own, (_, k) => {
    const [x, y] = [(2 * (k % nx)) / (nx - 1) - 1, (2 * Math.floor(k / nx)) / (ny - 1) - 1];
    return [1, x, y, x * x, x * y, y * y];
  });
  let kept = terms.map((_, k) => k);
  for (let round = 0; round < 6; round += 1) {
    const found = solve(new Matrix(kept.map((k) => terms[k])), Matrix.columnVector(kept.map((k) => own[k])));
    out.set(new Matrix(terms).mmul(found).to1DArray());
    const left = own.map((value, k) => value - out[k]);
    const middle = medianOf(left);
    const room = Math.max(2, 2.5 * spreadOf(left, middle));
    const next = Array.from(left.keys()).filter((k) => Math.abs(left[k] - middle) < room);
    if (next.length < 12) break;
    kept = next;
  }
  return out;
}

/** Something that stands out from the film, and how many pixels it covers. */
export interface Blob extends Star {
  readonly areaPx: number;
}

/**
 * Parts that stand out by more than half of what an opening does, joined over sides and corners; middles are weighted by how much they
 * stand out, so they are finer than a pixel.
 *
 * @param contrast - how much each pixel stands out; 1 is as much as an opening
 */
export function blobsOf(
  { widthPx, heightPx }: Pick<GreyPicture, 'widthPx' | 'heightPx'>,
  contrast: Float32Array,
): Blob[] {
  const blobs: Blob[] = [];
  for (const part of connectedParts({ columns: widthPx, rows: heightPx }, (at) => contrast[at] > 0.5)) {
    let [sum, sx, sy, square] = [0, 0, 0, 0];
    let isCutOff = false;
    for (const at of part) {
      const [column, row] = [at % widthPx, Math.floor(at / widthPx)];
      const weight = Math.min(1.2, contrast[at]);
      const [x, y] = [column + 0.5, row + 0.5];
      sum += weight;
      sx += weight * x;
      sy += weight * y;
      square += weight * (x * x + y * y);
      if (column === 0 || row === 0 || column === widthPx - 1 || row === heightPx - 1) isCutOff = true;
    }
    // What is cut off at the side of the picture has its middle elsewhere.
    if (isCutOff) continue;
    const [x, y] = [sx / sum, sy / sum];
    const radius = Math.sqrt(Math.max(0, square / sum - x * x - y * y));
    blobs.push({ at: [x, y], radius, areaPx: part.length });
  }
  return blobs;
}
