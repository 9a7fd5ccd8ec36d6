import { isWhole, type Laid } from './lay-on-grid.js';

/** Box of the dots that are burnt, in the grid. */
export interface Extent {
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
  readonly ragged: number;
}

/** Keeps count of dots in each row and column while dots are added. */
export class Tally {
  private readonly inColumn: Int32Array;
  private readonly inRow: Int32Array;
  private readonly mayColumn: Int32Array;
  private readonly mayRow: Int32Array;
  private done = 0;

  constructor(private readonly laid: Laid) {
    const { columns, rows, partial } = laid;
    this.inColumn = new Int32Array(columns);
    this.inRow = new Int32Array(rows);
    if (laid.whole > 0) {
      for (let row = 0; row < rows; row += 1) {
        for (let column = 0; column < columns; column += 1) {
          if (!isWhole(columns, row, column)) continue;
          this.inRow[row] += 1;
          this.inColumn[column] += 1;
        }
      }
    }
    this.mayColumn = this.inColumn.slice();
    this.mayRow = this.inRow.slice();
    for (const dot of partial) {
      const row = Math.floor(dot / columns);
      this.mayRow[row] += 1;
      this.mayColumn[dot - row * columns] += 1;
    }
  }

  /** Counts must come in ascending order. */
  at(count: number): Extent | undefined {
    const { partial, columns, whole } = this.laid;
    for (; this.done < count - whole; this.done += 1) {
      const dot = partial[this.done];
      const row = Math.floor(dot / columns);
      this.inRow[row] += 1;
      this.inColumn[dot - row * columns] += 1;
    }
    const [left, right] = ends(this.inColumn);
    const [top, bottom] = ends(this.inRow);
    if (right < 0 || bottom < 0) return undefined;
    const bump = (taken: Int32Array, may: Int32Array, i: number): number => Math.max(0, 0.5 - taken[i] / may[i]);
    const ragged = Math.max(
      bump(this.inColumn, this.mayColumn, left),
      bump(this.inColumn, this.mayColumn, right),
      bump(this.inRow, this.mayRow, top),
      bump(this.inRow, this.mayRow, bottom),
    );
    return { left, top, right: right + 1, bottom: bottom + 1, ragged: 2 * ragged };
  }
}

function ends(counts: Int32Array): [number, number] {
  let first = 0;
  while (first < counts.length && counts[first] === 0) first += 1;
  let last = counts.length - 1;
  while (last >= first && counts[last] === 0) last -= 1;
  return last < first ? [-1, -1] : [first, last];
}
