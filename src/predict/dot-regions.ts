import type { Region, Ring } from '../geometry/types.js';

/** Packed black-and-white dots: bit 7 of the first byte is the leftmost dot of the top row; 1 is burnt. */
export interface Dots {
  readonly width: number;
  readonly height: number;
  readonly rowBytes: number;
  readonly data: Uint8Array;
}

interface Run {
  readonly row: number;
  readonly from: number;
  readonly to: number;
  group: number;
}

/**
 * The burnt dots as regions with walls along the dots' edges, one for each group of dots that share an edge.
 *
 * @param dots - the image as it goes to the machine
 * @param pitchMm - size of a dot, mm
 * @param originMm - where the image's lower left corner lies, mm
 * @returns regions in mm, y up; outer rings counter-clockwise
 */
export function dotRegions(
  dots: Dots,
  pitchMm: { readonly x: number; readonly y: number },
  originMm: readonly [number, number],
): Region[] {
  const groups = groupRuns(runsOf(dots));
  const toMm = ([column, line]: readonly [number, number]): [number, number] => [
    originMm[0] + column * pitchMm.x,
    originMm[1] + (dots.height - line) * pitchMm.y,
  ];
  return groups.map((runs) => {
    const rings = outline(runs).map((ring) => ring.map(toMm));
    // Walking with the dots on the left gives counter-clockwise outer rings; the one that reaches furthest is the outer.
    const outer = rings.reduce((best, ring) => (lowest(ring) < lowest(best) ? ring : best));
    return { outer, islands: rings.filter((ring) => ring !== outer) };
  });
}

const lowest = (ring: Ring): number => ring.reduce((least, [x]) => Math.min(least, x), Infinity);

function runsOf({ width, height, rowBytes, data }: Dots): Run[][] {
  const rows: Run[][] = [];
  for (let row = 0; row < height; row += 1) {
    const runs: Run[] = [];
    const base = row * rowBytes;
    let from = -1;
    for (let byte = 0; byte < rowBytes; byte += 1) {
      const bits = data[base + byte];
      if ((bits === 0 && from < 0) || (bits === 0xff && from >= 0)) continue;
      for (let bit = 0; bit < 8; bit += 1) {
        const column = byte * 8 + bit;
        const dark = column < width && ((bits >> (7 - bit)) & 1) === 1;
        if (dark && from < 0) from = column;
        if (!dark && from >= 0) {
          runs.push({ row, from, to: column, group: -1 });
          from = -1;
        }
      }
    }
    if (from >= 0) runs.push({ row, from, to: width, group: -1 });
    rows.push(runs);
  }
  return rows;
}

/** Joins runs of neighbouring rows that share an edge (not a mere corner), by union-find. */
function groupRuns(rows: readonly (readonly Run[])[]): Run[][] {
  const all = rows.flat();
  all.forEach((run, i) => {
    run.group = i;
  });
  const parent = all.map((_, i) => i);
  const root = (i: number): number => {
    let at = i;
    while (parent[at] !== at) at = parent[at] = parent[parent[at]];
    return at;
  };
  for (let row = 1; row < rows.length; row += 1) {
    let above = 0;
    for (const run of rows[row]) {
      const upper = rows[row - 1];
      while (above < upper.length && upper[above].to <= run.from) above += 1;
      for (let i = above; i < upper.length && upper[i].from < run.to; i += 1) {
        const p = root(run.group);
        const q = root(upper[i].group);
        if (p !== q) parent[Math.max(p, q)] = Math.min(p, q);
      }
    }
  }
  const groups = new Map<number, Run[]>();
  for (const run of all) {
    const key = root(run.group);
    const group = groups.get(key);
    if (group) group.push(run);
    else groups.set(key, [run]);
  }
  return [...groups.values()];
}

/** The boundary of a group of runs as rings of dot corners (column, line), the dots on the left when y points up. */
function outline(runs: readonly Run[]): [number, number][][] {
  const dark = new Map<number, Run[]>();
  for (const run of runs) dark.set(run.row, [...(dark.get(run.row) ?? []), run]);
  const isDark = (column: number, row: number): boolean =>
    dark.get(row)?.some((run) => column >= run.from && column < run.to) ?? false;
  // Unit edges by their start corner; with y up, dots on the left: bottom edges run right, right edges up, and so on.
  const next = new Map<string, [number, number][]>();
  const edge = (x0: number, y0: number, x1: number, y1: number): void => {
    const key = `${x0},${y0}`;
    next.set(key, [...(next.get(key) ?? []), [x1, y1]]);
  };
  for (const { row, from, to } of runs) {
    edge(from, row, from, row + 1);
    edge(to, row + 1, to, row);
    for (let column = from; column < to; column += 1) {
      if (!isDark(column, row + 1)) edge(column, row + 1, column + 1, row + 1);
      if (!isDark(column, row - 1)) edge(column + 1, row, column, row);
    }
  }
  const rings: [number, number][][] = [];
  for (const [start] of next) {
    while ((next.get(start)?.length ?? 0) > 0) rings.push(walk(start, next));
  }
  return rings;
}

function walk(start: string, next: Map<string, [number, number][]>): [number, number][] {
  const ring: [number, number][] = [];
  let [x, y] = start.split(',').map(Number);
  let heading: [number, number] = [0, 0];
  do {
    const choices = next.get(`${x},${y}`) ?? [];
    // At a corner where two dots meet, turn left (y up), which keeps the dots of one side together.
    const pick =
      choices.length > 1 ? choices.findIndex(([cx, cy]) => heading[0] * (cy - y) - heading[1] * (cx - x) < 0) : 0;
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
