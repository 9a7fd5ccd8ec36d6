import { InputError } from '../errors.js';
import { modelProblems } from './bounds.js';
import { type MachineModel, PARAMETER_NAMES, type ParameterName } from './types.js';

type NumberOrMeasured = number | { readonly value: number };

/** The five numbers, each plain or as a measured value. */
export type FitLike = { readonly [name in ParameterName]: NumberOrMeasured };

/** Whatever holds the five numbers: a profile, the result of a calibration, its `fit`, or a plain model. */
export type ModelSource = FitLike | { readonly fit: FitLike };

/**
 * The machine's model out of a profile, the result of a calibration, or a plain model.
 *
 * @param source - numbers, or `{ value }`; directly or under `fit`
 * @returns q = A p with A = [[scaleX, shear], [0, scaleY]], and the kerf ellipse's full widths in mm
 * @throws {InputError} NOT_A_PROFILE when it holds no such numbers, BAD_PROFILE when no machine is like that, see `modelProblems`
 * @example machineModel(profile)
 */
export function machineModel(source: ModelSource): MachineModel {
  const holder = typeof source === 'object' && source !== null && 'fit' in source ? source.fit : source;
  if (typeof holder !== 'object' || holder === null) throw notAProfile(holder);
  const numbers = PARAMETER_NAMES.map((name) => {
    const given = (holder as Partial<FitLike>)[name];
    const value = typeof given === 'object' && given !== null ? given.value : given;
    if (value === undefined) throw notAProfile(holder);
    return value;
  });
  const [scaleX, scaleY, shear, kerfXMm, kerfYMm] = numbers;
  const model = { scaleX, scaleY, shear, kerfXMm, kerfYMm };
  const problems = modelProblems(model);
  if (problems.length > 0) throw new InputError(problems);
  return model;
}

function notAProfile(found: unknown): InputError {
  const keys = typeof found === 'object' && found !== null ? Object.keys(found).slice(0, 8).join(', ') : String(found);
  return new InputError({
    code: 'NOT_A_PROFILE',
    message: `expected a profile with ${PARAMETER_NAMES.join(', ')}; found ${keys || 'nothing'}.`,
    hint: 'Hand in a profile, the result of fitCalibration, or the five numbers.',
  });
}
