import { InputError } from '../errors.js';
import type { MachineModel } from './types.js';

/** Above this share of the beam's reach, walls along the rows' ends are no longer walls but teeth. */
const MOST_OF_KERF = 0.5;

/**
 * The machine as it burns an image of which only every n-th row is burnt. A row is burnt as wide as ever; what stands for
 * it is n rows high, so that less is left for the kerf to add.
 *
 * @param rows - how many rows stand for one that is burnt
 * @param pitchMm - distance between two rows of the image, commanded mm
 * @param across - the machine's axis across which the rows lie
 * @throws {InputError} ROWS_APART where film would stand between the rows
 */
export function withRowsApart(model: MachineModel, rows: number, pitchMm: number, across: 'x' | 'y'): MachineModel {
  if (rows === 1) return model;
  const [kerf, scale] = across === 'y' ? (['kerfYMm', 'scaleY'] as const) : (['kerfXMm', 'scaleX'] as const);
  const betweenMm = (rows - 1) * pitchMm * model[scale];
  if (betweenMm > MOST_OF_KERF * model[kerf]) throw rowsApart(rows, betweenMm, model[kerf]);
  return { ...model, [kerf]: model[kerf] - betweenMm };
}

function rowsApart(rows: number, betweenMm: number, kerfMm: number): InputError {
  return new InputError({
    code: 'ROWS_APART',
    message: `of every ${rows} rows one is burnt, which leaves ${betweenMm.toFixed(3)} mm between two of them, more than half of the kerf of ${kerfMm.toFixed(3)} mm: openings would fall into strips.`,
    hint: 'Burn more of the rows.',
  });
}
