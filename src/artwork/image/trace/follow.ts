import { InputError } from '../../../errors.js';
import type { Point, Ring } from '../../../geometry/types.js';
import type { CoverageMap } from './coverage-map.js';

/** A closed boundary along pixel edges, padded pixel coordinates (y down), the opening on the left hand. */
export interface PixelRing {
  /** Corner points; step i runs from point i to point i + 1 (cyclic) and is one pixel long. */
  readonly xs: Int32Array;
  readonly ys: Int32Array;
  /** Enclosed area, pixels, always positive. */
  readonly area: number;
  /** True for the boundary of film inside an opening. */
  readonly hole: boolean;
}

/** The pixel edges themselves as a ring. */
export const stairs = ({ xs, ys }: Pick<PixelRing, 'xs' | 'ys'>): Ring => Array.from(xs, (x, i): Point => [x, ys[i]]);

/** Most rings that one image may hold; noise, not artwork, has more. */
const MAX_RINGS = 300_000;
/** Most boundary steps over all rings, pixels. */
const MAX_STEPS = 20_000_000;
/** Where edges make up more of an image than this share of its pixels it is noise, unless it is small. */
const NOISY_SHARE = 0.45;
const FEW_RINGS = 4000;

/** East, south, west, north. */
const DX = [1, 0, -1, 0];

/**
 * Finds every boundary between covered and uncovered pixels, in the order of their highest, then leftmost pixel.
 * Openings that touch at a corner only stay two, unless the grey levels join them or both are lines one pixel wide.
 *
 * @throws {InputError} IMAGE_TOO_BUSY when there are more boundaries than any stencil has
 */
export function followRings(map: CoverageMap): PixelRing[] {
  const { rows, height, length } = map;
  const visited = new Uint8Array(Math.ceil((length * (height + 2)) / 8));
  const walk = walker(map, visited);
  const rings: PixelRing[] = [];
  let steps = 0;
  for (let y = 1; y <= height; y += 1) {
    const row = rows[y];
    // Left edges in a row like the one above run on from there.
    if (row === rows[y - 1]) continue;
    const words = new Int32Array(row.buffer, row.byteOffset, length >> 2);
    for (let w = 0; w < words.length; w += 1) {
      const word = words[w];
      if (word === 0 || (word === -1 && row[4 * w - 1] > 127)) continue;
      for (let x = 4 * w; x < 4 * w + 4; x += 1) {
        if (row[x] < 128 || row[x - 1] > 127 || isMarked(visited, y * length + x)) continue;
        const ring = walk(x, y);
        rings.push(ring);
        steps += ring.xs.length;
        if (rings.length > MAX_RINGS || steps > MAX_STEPS) throw tooBusy();
      }
    }
  }
  if (rings.length > FEW_RINGS && steps > NOISY_SHARE * map.width * height) throw tooBusy();
  return rings;
}

function tooBusy(): InputError {
  return new InputError({
    code: 'IMAGE_TOO_BUSY',
    message: 'the image falls into very many spots and ragged edges; that is noise or a photograph, not a paste layer.',
    hint: 'Give a plain black and white image of the openings.',
  });
}

const isMarked = (bits: Uint8Array, at: number): boolean => ((bits[at >> 3] >> (at & 7)) & 1) === 1;

/** A function that walks the boundary that runs down the left edge of pixel (x, y) and marks it as seen. */
function walker(map: CoverageMap, visited: Uint8Array): (x: number, y: number) => PixelRing {
  const { rows, length } = map;
  const inside = (x: number, y: number): number => rows[y][x] >> 7;
  let xs = new Int32Array(4096);
  let ys = new Int32Array(4096);
  return (x0, y0) => {
    let n = 0;
    let x = x0;
    let y = y0;
    let d = 1;
    let enclosed = 0;
    do {
      if (n === xs.length) {
        xs = grown(xs);
        ys = grown(ys);
      }
      xs[n] = x;
      ys[n] = y;
      n += 1;
      if (d === 1) {
        const at = y * length + x;
        visited[at >> 3] |= 1 << (at & 7);
        y += 1;
        enclosed -= x;
      } else if (d === 3) {
        y -= 1;
        enclosed += x;
      } else x += DX[d];
      if (n > MAX_STEPS) throw tooBusy();
      // The two pixels ahead, left and right of the walk.
      const left =
        d === 0 ? inside(x, y - 1) : d === 1 ? inside(x, y) : d === 2 ? inside(x - 1, y) : inside(x - 1, y - 1);
      const right =
        d === 0 ? inside(x, y) : d === 1 ? inside(x - 1, y) : d === 2 ? inside(x - 1, y - 1) : inside(x, y - 1);
      // Left hand of east is north (y down): turning left is d - 1.
      if (left === 0) d = right === 1 && joined(map, x, y) ? (d + 1) & 3 : (d + 3) & 3;
      else if (right === 1) d = (d + 1) & 3;
    } while (x !== x0 || y !== y0 || d !== 1);
    return { xs: xs.slice(0, n), ys: ys.slice(0, n), area: Math.abs(enclosed), hole: enclosed < 0 };
  };
}

function grown(list: Int32Array): Int32Array<ArrayBuffer> {
  const more = new Int32Array(list.length * 2);
  more.set(list);
  return more;
}

/** Whether the two covered pixels that meet at point (x, y) belong together. */
function joined(map: CoverageMap, x: number, y: number): boolean {
  const [above, below] = [map.rows[y - 1], map.rows[y]];
  const [nw, ne, sw, se] = [above[x - 1], above[x], below[x - 1], below[x]];
  const excess = nw + ne + sw + se - 510;
  if (excess !== 0) return excess > 0;
  // Exactly balanced, as in a 1-bit image: only lines one pixel wide are taken as running on over a corner.
  const down = nw > ne;
  return down ? !thick(map, x - 1, y - 1) && !thick(map, x, y) : !thick(map, x, y - 1) && !thick(map, x - 1, y);
}

/** Whether pixel (x, y) belongs to a fully covered square of two by two. */
function thick(map: CoverageMap, x: number, y: number): boolean {
  for (const [dx, dy] of [
    [-1, -1],
    [1, -1],
    [-1, 1],
    [1, 1],
  ]) {
    if (map.isOpen(x + dx, y) && map.isOpen(x, y + dy) && map.isOpen(x + dx, y + dy)) return true;
  }
  return false;
}
