import type { Ring } from '../../../../src/geometry/types.js';

export interface TestImage {
  readonly width: number;
  readonly height: number;
  readonly data: Uint8Array;
}

/**
 * Exact area coverage of polygons (pixels, y down), by accumulating each edge's signed area cell by cell. Outer rings
 * and islands must run in opposite directions; overlapping rings add up.
 */
export function coverageOf(rings: readonly Ring[], width: number, height: number): Float64Array {
  const cells = new Float64Array((width + 2) * height);
  for (const ring of rings)
    for (let i = 0; i < ring.length; i += 1) addEdge(cells, width + 2, height, ring[i], ring[(i + 1) % ring.length]);
  const out = new Float64Array(width * height);
  for (let y = 0; y < height; y += 1) {
    let sum = 0;
    for (let x = 0; x < width; x += 1) {
      sum += cells[y * (width + 2) + x];
      out[y * width + x] = Math.min(1, Math.abs(sum));
    }
  }
  return out;
}

function addEdge(
  cells: Float64Array,
  stride: number,
  height: number,
  p: readonly [number, number],
  q: readonly [number, number],
): void {
  if (p[1] === q[1]) return;
  const sign = p[1] < q[1] ? 1 : -1;
  const [a, b] = sign > 0 ? [p, q] : [q, p];
  const slope = (b[0] - a[0]) / (b[1] - a[1]);
  for (let row = Math.max(0, Math.floor(a[1])); row < Math.min(height, Math.ceil(b[1])); row += 1) {
    const y0 = Math.max(a[1], row);
    const y1 = Math.min(b[1], row + 1);
    if (y1 <= y0) continue;
    const xa = a[0] + (y0 - a[1]) * slope;
    const xb = a[0] + (y1 - a[1]) * slope;
    addPiece(cells, stride, row, Math.min(xa, xb), Math.max(xa, xb), sign * (y1 - y0));
  }
}

/** Spreads an edge piece within one row: to its right everything is covered by its height. */
function addPiece(cells: Float64Array, stride: number, row: number, x0: number, x1: number, tall: number): void {
  let before = 0;
  for (let column = Math.floor(x0); ; column += 1) {
    // Mean share of the cell that lies right of the edge.
    const share = covered(column + 1, x0, x1) - covered(column, x0, x1);
    const now = share * tall;
    cells[row * stride + column] += now - before;
    before = now;
    if (column >= x1) {
      cells[row * stride + column + 1] += tall - now;
      return;
    }
  }
}

/** Integral up to x of the share of the edge piece that lies left of a point. */
function covered(x: number, x0: number, x1: number): number {
  if (x <= x0) return 0;
  if (x >= x1) return x - (x0 + x1) / 2;
  return ((x - x0) * (x - x0)) / (2 * (x1 - x0));
}

/** An 8-bit antialiased picture, 255 open. */
export function greyImage(rings: readonly Ring[], width: number, height: number): TestImage {
  return { width, height, data: Uint8Array.from(coverageOf(rings, width, height), (v) => Math.round(v * 255)) };
}

/** A two-level picture: a pixel is open when its centre is inside, by the even-odd rule. */
export function bitImage(rings: readonly Ring[], width: number, height: number): TestImage {
  const data = new Uint8Array(width * height);
  for (let y = 0; y < height; y += 1) {
    const crossings: number[] = [];
    for (const ring of rings)
      for (let i = 0; i < ring.length; i += 1) {
        const p = ring[i];
        const q = ring[(i + 1) % ring.length];
        if (p[1] <= y + 0.5 !== q[1] <= y + 0.5)
          crossings.push(p[0] + ((y + 0.5 - p[1]) / (q[1] - p[1])) * (q[0] - p[0]));
      }
    crossings.sort((a, b) => a - b);
    for (let k = 0; k + 1 < crossings.length; k += 2)
      data.fill(
        255,
        y * width + Math.max(0, Math.ceil(crossings[k] - 0.5)),
        y * width + Math.max(0, Math.ceil(crossings[k + 1] - 0.5)),
      );
  }
  return { width, height, data };
}

/** A disc as a fine polygon of its exact area. */
export function disc(cx: number, cy: number, radius: number, steps = 1440): Ring {
  const step = (2 * Math.PI) / steps;
  const r = radius * Math.sqrt(step / Math.sin(step));
  return Array.from({ length: steps }, (_, i): [number, number] => [
    cx + r * Math.cos(i * step),
    cy + r * Math.sin(i * step),
  ]);
}

/** A rectangle turned about its centre. */
export function slanted(cx: number, cy: number, wide: number, tall: number, angleDeg: number): Ring {
  const c = Math.cos((angleDeg * Math.PI) / 180);
  const s = Math.sin((angleDeg * Math.PI) / 180);
  return [
    [-1, -1],
    [1, -1],
    [1, 1],
    [-1, 1],
  ].map(([u, v]): [number, number] => [cx + (u * wide * c - v * tall * s) / 2, cy + (u * wide * s + v * tall * c) / 2]);
}
