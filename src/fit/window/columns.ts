import { InputError } from '../../errors.js';
import { dot } from './symmetric.js';

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
  requireFullRank(scaled, names);
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

/** Modified Gram–Schmidt, twice for safety. */
function requireFullRank(columns: readonly (readonly number[])[], names: readonly string[]): void {
  const basis: number[][] = [];
  columns.forEach((column, j) => {
    let rest = [...column];
    for (let pass = 0; pass < 2; pass++) {
      for (const direction of basis) {
        const along = dot(direction, rest);
        rest = rest.map((value, i) => value - along * direction[i]);
      }
    }
    const norm = Math.sqrt(dot(rest, rest));
    if (!(norm > RANK_TOLERANCE * Math.sqrt(dot(column, column)))) throw rankProblem(names[j], true);
    basis.push(rest.map((value) => value / norm));
  });
}
