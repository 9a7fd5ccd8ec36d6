import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';

/**
 * Polygons by clipper2-wasm (Clipper2, the C++ original, by Angus Johnson; Boost licence): an outside check of every
 * offset and union. Its grid is 10 nm.
 */
export type Vec = readonly [number, number];
export type Paths = readonly (readonly Vec[])[];

interface Handle {
  delete(): void;
}
interface PathHandle extends Handle {
  size(): number;
  get(i: number): { x: number; y: number };
}
interface PathsHandle extends Handle {
  size(): number;
  get(i: number): PathHandle;
  push_back(path: PathHandle): void;
}
type Rule = { readonly EvenOdd: unknown; readonly NonZero: unknown };
interface Library {
  readonly PathsD: new () => PathsHandle;
  readonly FillRule: Rule;
  readonly JoinType: { readonly Round: unknown };
  readonly EndType: { readonly Polygon: unknown };
  MakePathD(flat: number[]): PathHandle;
  InflatePathsD(
    p: PathsHandle,
    by: number,
    join: unknown,
    end: unknown,
    miter: number,
    digits: number,
    arc: number,
  ): PathsHandle;
  UnionSelfD(p: PathsHandle, rule: unknown, digits: number): PathsHandle;
  IntersectD(p: PathsHandle, q: PathsHandle, rule: unknown, digits: number): PathsHandle;
  DifferenceD(p: PathsHandle, q: PathsHandle, rule: unknown, digits: number): PathsHandle;
}

const require = createRequire(import.meta.url);
const script = require.resolve('clipper2-wasm');
const wasmBinary = readFileSync(join(dirname(script), 'clipper2z.wasm'));
const lib: Library = await (require('clipper2-wasm') as (o: unknown) => Promise<Library>)({ wasmBinary });

const DIGITS = 8;
const ARC_MM = 1e-4;

function given<T>(paths: Paths, work: (handle: PathsHandle) => T): T {
  const all = new lib.PathsD();
  for (const path of paths) {
    const one = lib.MakePathD(path.flat());
    all.push_back(one);
    one.delete();
  }
  try {
    return work(all);
  } finally {
    all.delete();
  }
}

function taken(handle: PathsHandle): Vec[][] {
  const found = Array.from({ length: handle.size() }, (_, i) => {
    const path = handle.get(i);
    return Array.from({ length: path.size() }, (__, k): Vec => [path.get(k).x, path.get(k).y]);
  });
  handle.delete();
  return found;
}

export const union = (paths: Paths): Vec[][] =>
  given(paths, (all) => taken(lib.UnionSelfD(all, lib.FillRule.NonZero, DIGITS)));

export const minus = (paths: Paths, others: Paths): Vec[][] =>
  given(paths, (p) => given(others, (q) => taken(lib.DifferenceD(p, q, lib.FillRule.NonZero, DIGITS))));

export const common = (paths: Paths, others: Paths): Vec[][] =>
  given(paths, (p) => given(others, (q) => taken(lib.IntersectD(p, q, lib.FillRule.NonZero, DIGITS))));

/** Grows (or, below zero, shrinks) by an ellipse of these full widths, mm: scaled so that it becomes a circle. */
export function grown(paths: Paths, widthX: number, widthY: number, sign: 1 | -1 = 1): Vec[][] {
  const most = Math.max(widthX, widthY);
  const [sx, sy] = [most / widthX, most / widthY];
  const stretched = paths.map((path) => path.map(([x, y]): Vec => [x * sx, y * sy]));
  const { Round } = lib.JoinType;
  const moved = given(stretched, (all) =>
    taken(lib.InflatePathsD(all, (sign * most) / 2, Round, lib.EndType.Polygon, 2, DIGITS, ARC_MM)),
  );
  return moved.map((path) => path.map(([x, y]): Vec => [x / sx, y / sy]));
}

function ringArea(ring: readonly Vec[]): number {
  let twice = 0;
  ring.forEach(([x, y], i) => {
    const [u, v] = ring[(i + 1) % ring.length];
    twice += x * v - u * y;
  });
  return twice / 2;
}

export const area = (paths: Paths): number => paths.reduce((sum, ring) => sum + ringArea(ring), 0);

/** Parts that hang together: outer rings of more than dust. */
export const pieces = (paths: Paths): number => paths.filter((ring) => ringArea(ring) > 1e-7).length;

/** Extents along a direction and square to it. */
export function extents(paths: Paths, angleDeg: number): [number, number] {
  const [c, s] = [Math.cos((angleDeg * Math.PI) / 180), Math.sin((angleDeg * Math.PI) / 180)];
  let [u0, u1, v0, v1] = [Infinity, -Infinity, Infinity, -Infinity];
  for (const path of paths) {
    for (const [x, y] of path) {
      const [u, v] = [c * x + s * y, c * y - s * x];
      [u0, u1, v0, v1] = [Math.min(u0, u), Math.max(u1, u), Math.min(v0, v), Math.max(v1, v)];
    }
  }
  return [u1 - u0, v1 - v0];
}

/** Convex hull, counter-clockwise (monotone chain). */
export function hull(points: readonly Vec[]): Vec[] {
  const sorted = [...points].sort((p, q) => p[0] - q[0] || p[1] - q[1]);
  const half = (list: readonly Vec[]): Vec[] => {
    const chain: Vec[] = [];
    for (const p of list) {
      while (chain.length > 1) {
        const [a, b] = chain.slice(-2);
        if ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0) break;
        chain.pop();
      }
      chain.push(p);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.toReversed())];
}
