import { InputError, type Problem } from '../../errors.js';

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
