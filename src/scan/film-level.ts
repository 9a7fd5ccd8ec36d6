import { Matrix, solve } from 'ml-matrix';
import type { GreyPicture } from './picture.js';
import { medianOf, spreadOf } from './robust.js';

/** Tiles over which the film's own level is taken, pixels of the overview, and how many of them are looked at together. */
const TILE_PX = 32;
const REACH = 4;

/**
 * Level of the film from place to place, taken as the commonest thing around: openings are the small part. Of tiles, put
 * back to pixels by straight lines between the tiles' middles.
 */
export function filmLevels(picture: GreyPicture): Float32Array {
  const { widthPx, heightPx, levels } = picture;
  const [nx, ny] = [Math.max(1, Math.round(widthPx / TILE_PX)), Math.max(1, Math.round(heightPx / TILE_PX))];
  const [tx, ty] = [widthPx / nx, heightPx / ny];
  const own = new Float32Array(nx * ny);
  for (let j = 0; j < ny; j += 1) {
    for (let i = 0; i < nx; i += 1) {
      const found: number[] = [];
      for (let y = Math.floor(j * ty); y < Math.floor((j + 1) * ty); y += 2) {
        for (let x = Math.floor(i * tx); x < Math.floor((i + 1) * tx); x += 2) found.push(levels[y * widthPx + x]);
      }
      own[j * nx + i] = medianOf(found);
    }
  }
  const fallOff = smoothSurface(own, nx, ny);
  const calm = new Float32Array(nx * ny);
  for (let j = 0; j < ny; j += 1) {
    for (let i = 0; i < nx; i += 1) {
      const near: number[] = [];
      for (let b = Math.max(0, j - REACH); b <= Math.min(ny - 1, j + REACH); b += 1) {
        for (let a = Math.max(0, i - REACH); a <= Math.min(nx - 1, i + REACH); a += 1)
          near.push(own[b * nx + a] - fallOff[b * nx + a]);
      }
      calm[j * nx + i] = fallOff[j * nx + i] + medianOf(near);
    }
  }
  const out = new Float32Array(widthPx * heightPx);
  for (let y = 0; y < heightPx; y += 1) {
    const v = Math.min(ny - 1, Math.max(0, (y + 0.5) / ty - 0.5));
    const j = Math.min(ny - 1, Math.floor(v));
    const j1 = Math.min(ny - 1, j + 1);
    for (let x = 0; x < widthPx; x += 1) {
      const u = Math.min(nx - 1, Math.max(0, (x + 0.5) / tx - 0.5));
      const i = Math.min(nx - 1, Math.floor(u));
      const i1 = Math.min(nx - 1, i + 1);
      const [p, q] = [u - i, v - j];
      out[y * widthPx + x] =
        (1 - q) * ((1 - p) * calm[j * nx + i] + p * calm[j * nx + i1]) +
        q * ((1 - p) * calm[j1 * nx + i] + p * calm[j1 * nx + i1]);
    }
  }
  return out;
}

/** How light falls off over the picture: a parabola through the tiles, those that openings darken left out by and by. */
function smoothSurface(own: Float32Array, nx: number, ny: number): Float32Array {
  const out = new Float32Array(own.length);
  const terms = (k: number): number[] => {
    const x = nx > 1 ? (2 * (k % nx)) / (nx - 1) - 1 : 0;
    const y = ny > 1 ? (2 * Math.floor(k / nx)) / (ny - 1) - 1 : 0;
    return [1, x, y, x * x, x * y, y * y];
  };
  if (nx < 4 || ny < 4) return out;
  let kept = Array.from(own, (_, k) => k);
  for (let round = 0; round < 6; round += 1) {
    const rows = new Matrix(kept.map(terms));
    const answer = solve(rows, Matrix.columnVector(kept.map((k) => own[k])), true).to1DArray();
    for (let k = 0; k < own.length; k += 1) out[k] = terms(k).reduce((sum, term, i) => sum + term * answer[i], 0);
    const left = Array.from(own, (value, k) => value - out[k]);
    const middle = medianOf(left);
    const room = Math.max(2, 2.5 * spreadOf(left, middle));
    const next = left.flatMap((value, k) => (Math.abs(value - middle) < room ? [k] : []));
    if (next.length < 12) break;
    kept = next;
  }
  return out;
}
