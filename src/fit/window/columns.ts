import { InputError } from '../../errors.js';
import { dot } from '../linear/dot.js';
import { weightedQr } from '../linear/weighted-qr.js';

/** Columns moved and stretched to mean 0 and size 1, and the way back for coefficients. */
export interface ScaledColumns {
  readonly rows: number[][];
  /** original coefficients = back · scaled coefficients. */
  readonly back: number[][];
}

/** A column whose part independent of the columns before it is smaller than this is taken for a combination of them. */
const RANK_TOLERANCE = 1e-10;

/**
 * Centres (when there is a constant column) and scales the columns, so that powers and products stay well conditioned.
 *
 * @throws {InputError} RANK_DEFICIENT naming the column that is a combination of the columns before it
 */
export function scaleColumns(rows: readonly (readonly number[])[], names: readonly string[]): ScaledColumns {
  const columnCount = rows[0].length;
  const columns = Array.from({ length: columnCount }, (_, j) => rows.map((row) => row[j]));
  const constant = columns.findIndex((column) => column[0] !== 0 && column.every((value) => value === column[0]));
  const back = columns.map(() => new Array<number>(columnCount).fill(0));
  const scaled = columns.map((column, j) => {
    const mean = constant < 0 || j === constant ? 0 : column.reduce((sum, value) => sum + value, 0) / column.length;
    const centred = column.map((value) => value - mean);
    const size = Math.sqrt(dot(centred, centred) / column.length);
    const largest = Math.max(...column.map(Math.abs));
    if (!(size > RANK_TOLERANCE * largest)) throw rankProblem(names[j], largest > 0);
    back[j][j] = 1 / size;
    if (mean !== 0) back[constant][j] -= mean / size / columns[constant][0];
    return centred.map((value) => value / size);
  });
  // Columns one by one, so that the first that depends on those before it is named.
  scaled.forEach((_, j) => {
    const before = scaled.slice(0, j + 1).map((column) => Float64Array.from(column));
    const ones = new Float64Array(rows.length).fill(1);
    if (!(weightedQr(before, ones, ones).leastLeft > RANK_TOLERANCE)) throw rankProblem(names[j], true);
  });
  return { rows: rows.map((_, i) => scaled.map((column) => column[i])), back };
}

function rankProblem(name: string, hasValues: boolean): InputError {
  return new InputError({
    code: 'RANK_DEFICIENT',
    place: { key: name },
    message: hasValues
      ? `"${name}" is a combination of the columns before it; its coefficient can't be found.`
      : `"${name}" holds only zeros; its coefficient can't be found.`,
    hint: 'Leave the column out, or add readings in which it varies by itself.',
  });
}
