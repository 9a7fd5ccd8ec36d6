import { InputError, type Problem } from '../../errors.js';
import { dot, weightedQr } from '../linear/weighted-qr.js';

/** Refuses data that no logistic fit can use; see {@link logistic} for the codes. */
export function requireGoodData(
  rows: readonly (readonly number[])[],
  y: readonly number[],
  trials: readonly number[],
  names: readonly string[],
): void {
  const problem = (code: string, message: string, hint: string): Problem => ({ code, message, hint });
  const width = rows[0]?.length ?? 0;
  if (rows.length !== y.length || rows.length !== trials.length || rows.some((row) => row.length !== width)) {
    throw new InputError(
      problem(
        'LENGTH_MISMATCH',
        `expected as many results and trials as rows, and rows of one length; found ${rows.length} rows, ${y.length} results, ${trials.length} trials.`,
        'Give one result (and one number of trials) for every row.',
      ),
    );
  }
  if (names.length !== width) {
    throw new InputError(
      problem('LENGTH_MISMATCH', `expected ${width} names, found ${names.length}.`, 'Give one name for every column.'),
    );
  }
  if (width === 0 || rows.length < width) {
    throw new InputError(
      problem(
        'TOO_FEW_ROWS',
        `expected at least as many rows as columns, found ${rows.length} rows of ${width}.`,
        'Add readings or leave columns out.',
      ),
    );
  }
  rows.forEach((row, i) => {
    if (!row.every(Number.isFinite)) {
      throw new InputError(
        problem('NOT_FINITE', `expected finite numbers, row ${i + 1} holds ${row.join(', ')}.`, 'Correct the row.'),
      );
    }
    const good = Number.isFinite(trials[i]) && trials[i] > 0 && y[i] >= 0 && y[i] <= trials[i];
    if (!good) {
      throw new InputError(
        problem(
          'NOT_A_RESULT',
          `expected a result from 0 to the number of trials, row ${i + 1} has ${y[i]} of ${trials[i]}.`,
          'Give 0 or 1, or the successes and the trials.',
        ),
      );
    }
  });
}

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
