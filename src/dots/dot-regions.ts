import { smallest } from '../geometry/bounds.js';
import { markClean } from '../geometry/copies.js';
import type { Point, Region } from '../geometry/types.js';
import { listIn } from '../kept.js';
import { type DotRows, eachRun } from './stamp.js';

/**
 * Burnt dots as one region with walls along the dots' edges.
 *
 * @param rows - dots that hang together by their edges or corners; at least one
 * @param toMm - from dot corners (column, line from the top) to mm, y up
 * @returns outer ring counter-clockwise, islands clockwise
 */
export function dotRegion(rows: DotRows, toMm: (corner: readonly [number, number]) => Point): Region {
  const rings = outline(rows).map((ring) => ring.map(toMm));
  // The one that reaches furthest to the left is the outer one.
  const leftmost = rings.map((ring) => ring.reduce((least, [x]) => Math.min(least, x), Infinity));
  const outer = leftmost.indexOf(smallest(leftmost));
  return markClean({ outer: rings[outer], islands: rings.filter((_, i) => i !== outer) });
}

/** The boundary of burnt dots as rings of dot corners (column, line), the dots on the left when y points up. */
function outline(rows: DotRows): [number, number][][] {
  const isDark = (column: number, row: number): boolean =>
    rows[row]?.some((from, k) => k % 2 === 0 && column >= from && column < rows[row][k + 1]) ?? false;
  // Unit edges by their start corner; with y up, dots on the left: bottom edges run right, right edges up, and so on.
  const next = new Map<string, [number, number][]>();
  const edge = (x0: number, y0: number, x1: number, y1: number): void =>
    void listIn(next, `${x0},${y0}`).push([x1, y1]);
  eachRun(rows, (from, to, row) => {
    edge(from, row, from, row + 1);
    edge(to, row + 1, to, row);
    for (let column = from; column < to; column += 1) {
      if (!isDark(column, row + 1)) edge(column, row + 1, column + 1, row + 1);
      if (!isDark(column, row - 1)) edge(column + 1, row, column, row);
    }
  });
  const rings: [number, number][][] = [];
  // A ring that begins where two dots meet would end there too early.
  const single = [...next].filter(([, ends]) => ends.length === 1);
  for (const [start] of [...single, ...next]) {
    while (listIn(next, start).length > 0) rings.push(walk(start, next));
  }
  return rings;
}

function walk(start: string, next: Map<string, [number, number][]>): [number, number][] {
  const ring: [number, number][] = [];
  let [x, y] = start.split(',').map(Number);
  let heading: [number, number] = [0, 0];
  do {
    const choices = listIn(next, `${x},${y}`);
    // At a corner where two dots meet, turn right (y up), onto the other dot: stairs one dot wide are one ring.
    const pick =
      choices.length > 1 ? choices.findIndex(([cx, cy]) => heading[0] * (cy - y) - heading[1] * (cx - x) > 0) : 0;
    const [to] = choices.splice(Math.max(0, pick), 1);
    const turned: [number, number] = [to[0] - x, to[1] - y];
    if (turned[0] !== heading[0] || turned[1] !== heading[1]) ring.push([x, y]);
    heading = turned;
    [x, y] = to;
  } while (`${x},${y}` !== start);
  // The first corner is no corner when the last edge runs straight through it.
  const [first, second] = ring;
  const last = ring[ring.length - 1];
  if (
    ring.length > 2 &&
    (last[0] - first[0]) * (second[1] - first[1]) === (last[1] - first[1]) * (second[0] - first[0])
  )
    ring.shift();
  return ring;
}
