import type { Placed, Stamp } from './stamp.js';
import { stampFromRows } from './stamp.js';

/** Dots of a stamp as bytes, row by row. */
export function maskOf({ width, height, rowStart, runs }: Stamp): Uint8Array {
  const mask = new Uint8Array(width * height);
  for (let row = 0; row < height; row += 1) {
    for (let k = rowStart[row]; k < rowStart[row + 1]; k += 2)
      mask.fill(1, row * width + runs[k], row * width + runs[k + 1]);
  }
  return mask;
}

/** Runs of the ones in a mask. */
export function stampFromMask(mask: Uint8Array, columns: number, rows: number): ReturnType<typeof stampFromRows> {
  const list: number[][] = [];
  for (let row = 0; row < rows; row += 1) {
    const runs: number[] = [];
    const base = row * columns;
    for (let column = 0; column < columns; column += 1) {
      if (mask[base + column] === 0) continue;
      const start = column;
      while (column < columns && mask[base + column] === 1) column += 1;
      runs.push(start, column);
    }
    list.push(runs);
  }
  return stampFromRows(list);
}

/** A stamp without the dots that lie beside another one's, corners included; unchanged if none would be left. */
export function trimmedFrom(placed: Placed, other: Placed): Placed {
  const { stamp, column, row } = placed;
  const { width, height } = stamp;
  const mask = maskOf(stamp);
  const foreign = maskOf(other.stamp);
  const [dx, dy] = [column - other.column, row - other.row];
  const taken = (x: number, y: number): boolean =>
    x >= 0 && y >= 0 && x < other.stamp.width && y < other.stamp.height && foreign[y * other.stamp.width + x] === 1;
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      if (mask[y * width + x] === 0) continue;
      for (let k = 0; k < 9; k += 1) {
        if (taken(x + dx + (k % 3) - 1, y + dy + Math.floor(k / 3) - 1)) mask[y * width + x] = 0;
      }
    }
  }
  const trimmed = stampFromMask(mask, width, height);
  if (trimmed.stamp.count === 0) return placed;
  return { stamp: trimmed.stamp, column: column + trimmed.column, row: row + trimmed.row };
}

/** Whether all dots are one part, corners counting. */
export function hangsTogether({ height, rowStart, runs }: Stamp): boolean {
  const parent = Int32Array.from({ length: runs.length / 2 }, (_, i) => i);
  const find = (run: number): number => {
    let root = run;
    while (parent[root] !== root) root = parent[root];
    return root;
  };
  let parts = parent.length;
  for (let row = 1; row < height; row += 1) {
    let above = rowStart[row - 1];
    for (let k = rowStart[row]; k < rowStart[row + 1]; k += 2) {
      while (above < rowStart[row] && runs[above + 1] < runs[k]) above += 2;
      for (let a = above; a < rowStart[row] && runs[a] <= runs[k + 1]; a += 2) {
        const [p, q] = [find(k / 2), find(a / 2)];
        if (p === q) continue;
        parent[p] = q;
        parts -= 1;
      }
    }
  }
  return parts <= 1;
}

/**
 * Adds dots until all of them hang together, corners counting: a line one dot thin must not fall apart.
 *
 * @param mask - 1 for dots that are burnt; changed in place
 * @param spare - grid positions that may be added, best first
 */
export function joinParts(mask: Uint8Array, columns: number, spare: readonly number[]): void {
  const rows = mask.length / columns;
  const parent = new Int32Array(mask.length).fill(-1);
  const find = (dot: number): number => {
    let root = dot;
    while (parent[root] !== root) root = parent[root];
    while (parent[dot] !== root) [parent[dot], dot] = [root, parent[dot]];
    return root;
  };
  let parts = 0;
  const neighbours = (dot: number): number[] => {
    const [row, column] = [Math.floor(dot / columns), dot % columns];
    const roots = new Set<number>();
    for (let y = Math.max(0, row - 1); y <= Math.min(rows - 1, row + 1); y += 1) {
      for (let x = Math.max(0, column - 1); x <= Math.min(columns - 1, column + 1); x += 1) {
        const other = y * columns + x;
        if (other !== dot && parent[other] >= 0) roots.add(find(other));
      }
    }
    return [...roots];
  };
  const add = (dot: number, roots: readonly number[]): void => {
    parent[dot] = dot;
    parts += 1 - roots.length;
    for (const root of roots) parent[root] = dot;
  };
  for (let dot = 0; dot < mask.length; dot += 1) if (mask[dot] === 1) add(dot, neighbours(dot));
  // First only dots that join two parts; where a gap is wider, any dot, best first.
  for (const onlyJoining of [true, false]) {
    for (const dot of spare) {
      if (parts <= 1) return;
      if (mask[dot] === 1) continue;
      const roots = neighbours(dot);
      if (onlyJoining && roots.length < 2) continue;
      mask[dot] = 1;
      add(dot, roots);
    }
  }
}
