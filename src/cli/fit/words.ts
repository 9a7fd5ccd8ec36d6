import type { CalibrationResult } from '../../fit/calibration/index.js';
import { expanded, openingUncertainty } from '../../fit/calibration/opening-uncertainty.js';
import {
  type Measured,
  PARAMETER_NAMES,
  PARAMETER_TITLES,
  type ParameterName,
  type ProfileFit,
} from '../../machine/types.js';

/** The rows of the table: parameter, value, 95 % uncertainty, and what it means on the film. */
export function parameterRows(fit: ProfileFit): string[][] {
  return PARAMETER_NAMES.map((name) => {
    const measured = fit[name];
    const isKerf = name.startsWith('kerf');
    const u = expanded(measured, fit.dof);
    const value = isKerf ? `${measured.value.toFixed(4)} mm` : measured.value.toFixed(6);
    const uncertainty = measured.assumed ? 'not known' : `± ${isKerf ? `${u.toFixed(4)} mm` : u.toFixed(6)}`;
    return [PARAMETER_TITLES[name], value, uncertainty, meaning(name, measured, u)];
  });
}

function meaning(name: ParameterName, measured: Measured, u: number): string {
  const { value, assumed } = measured;
  // In one piece, so that no line ends between a number and its doubt.
  const sure = (mm: number): string => `${mm.toFixed(3)}${assumed ? '' : ` ± ${(name.startsWith('kerf') ? u : 100 * u).toFixed(3)}`} mm`; // biome-ignore format: one line
  const taken = assumed ? ' (assumed, not measured)' : '';
  if (name === 'shear') {
    const degrees = (Math.atan(value) * 180) / Math.PI;
    if (assumed) return value === 0 ? 'taken as square, not measured' : 'a guess, not measured';
    return `a 100 mm vertical leans ${sure(Math.abs(100 * value))} ${value < 0 ? 'left' : 'right'} (${degrees.toFixed(3)}°)`;
  }
  if (name.startsWith('scale')) return `100 mm drawn come out ${sure(100 * value)}${taken}`;
  return `openings ${sure(value)} wider across ${name === 'kerfXMm' ? 'X' : 'Y'}${taken}`;
}

const EXAMPLE_WIDTH_MM = 0.3;

/** What a corrected opening will come out as; undefined when the kerf wasn't fitted. */
export function openingSentence({ fit, faults }: CalibrationResult): string | undefined {
  const across = (['x', 'y'] as const).map((axis) => {
    const { expandedUncertaintyMm } = openingUncertainty(fit, EXAMPLE_WIDTH_MM, axis);
    const name = axis.toUpperCase();
    if (Number.isFinite(expandedUncertaintyMm))
      return { known: true, words: `± ${expandedUncertaintyMm.toFixed(4)} mm across ${name}` };
    const needs = axis === 'x' ? (['scaleX', 'kerfXMm'] as const) : (['scaleY', 'kerfYMm'] as const);
    const untold = needs.filter((one) => fit[one].assumed).map((one) => PARAMETER_TITLES[one]);
    return { known: false, words: `an unknown width across ${name} (${untold.join(' and ')} not measured)` };
  });
  if (!across.some(({ known }) => known)) return undefined;
  const differs = faults.some(({ found, code }) => found && /^(KERF|SHAPES)_/.test(code));
  const unlike = differs ? ' Not so where its kerf differs, as the warning says: there that comes on top.' : '';
  const words = `An opening designed ${EXAMPLE_WIDTH_MM.toFixed(3)} mm wide and corrected with this comes out`;
  return `${words} ${EXAMPLE_WIDTH_MM.toFixed(3)} ${across.map(({ words: own }) => own).join(', ')} (95 %, mean of many cuts).${unlike}`;
}
