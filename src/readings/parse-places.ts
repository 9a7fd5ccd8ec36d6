import { InputError, type Problem } from '../errors.js';
import { capProblems, refuseTooManyRows, tableIn } from './csv-rows.js';
import { parseLength } from './length.js';

/** A row of a places file: where a mark was commanded, and where it was seen, in any axes of the gauge's own. mm. */
export interface PlaceRow {
  readonly at: readonly [number, number];
  readonly seen: readonly [number, number];
  /** Standard uncertainty along one axis, mm. */
  readonly uMm?: number;
}

export const PLACE_COLUMNS = ['x_mm', 'y_mm', 'seen_x_mm', 'seen_y_mm', 'uncertainty_mm'] as const;
const NEEDED: readonly string[] = PLACE_COLUMNS.slice(0, 4);

/** Whether a CSV holds places of marks, and not readings of features. */
export const isPlaces = (text: string): boolean =>
  tableIn(text, NEEDED).names.some((name) => name.startsWith('seen_') && NEEDED.includes(name));

/**
 * Reads a places file: header `x_mm,y_mm,seen_x_mm,seen_y_mm,uncertainty_mm`, columns and rows in any order, `,` `;` or tab
 * between cells, decimal point or comma, units as typed. A scan writes it; so may a person with a measuring microscope.
 *
 * @throws {InputError} COLUMN_MISSING, BAD_LENGTH, TOO_MANY_ROWS; all problems together
 */
export function parsePlaces(text: string, file: string): PlaceRow[] {
  const { rows, names } = tableIn(text, NEEDED);
  const missing = NEEDED.filter((name) => !names.includes(name));
  if (missing.length > 0) {
    throw new InputError({
      code: 'COLUMN_MISSING',
      place: { file, line: rows[0]?.line },
      message: `the column${missing.length === 1 ? '' : 's'} ${missing.join(', ')} are not in the header of this places file.`,
      hint: `Its header is ${PLACE_COLUMNS.join(',')}.`,
    });
  }
  refuseTooManyRows(rows, file, 'Check that this is the right file.');
  const problems: Problem[] = [];
  const places = rows.slice(1).map(({ line, cells }): PlaceRow => {
    const cell = (name: string): string => cells[names.indexOf(name)] ?? '';
    const [x, y, seenX, seenY, uMm] = PLACE_COLUMNS.map((key) => {
      const isUncertainty = key === 'uncertainty_mm';
      const found = parseLength(cell(key));
      if ((isUncertainty && cell(key) === '') || (found && (!isUncertainty || found.valueMm > 0)))
        return found?.valueMm ?? 0;
      const message = `expected a length in mm; found "${cell(key)}".`;
      const hint = 'Write a number, or delete the row.';
      problems.push({ code: 'BAD_LENGTH', place: { file, line, key }, message, hint });
      return 0;
    });
    return { at: [x, y], seen: [seenX, seenY], ...(uMm > 0 ? { uMm } : {}) };
  });
  if (problems.length > 0) throw new InputError(capProblems(problems));
  return places;
}
