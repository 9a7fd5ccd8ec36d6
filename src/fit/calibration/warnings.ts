import type { Warning } from '../../errors.js';
import type { ParameterName } from '../../machine/types.js';
import { type ModelComparison, surelyNeeded } from './compare-models.js';
import type { CalibrationModel } from './models.js';
import type { ParameterResult } from './types.js';

/** A scale less sure than this (95 %, share) spoils a board of 100 mm by more than 0.1 mm. */
const POOR_SCALE = 1e-3;
/** A kerf less sure than this (95 %, mm) spoils a fine opening. */
const POOR_KERF_MM = 0.02;
const POOR_SHEAR = 2e-3;

/** What would settle a parameter that these readings can't tell. */
const SETTLES: Record<string, string> = {
  scaleX: 'Measure long spans along X.',
  scaleY: 'Measure long spans along Y.',
  shear: 'Measure spans along both diagonals.',
  kerfXMm: 'Measure widths of openings and webs across X.',
  kerfYMm: 'Measure widths of openings and webs across Y.',
};

const TITLES: Record<ParameterName, string> = {
  scaleX: 'scale X',
  scaleY: 'scale Y',
  shear: 'shear',
  kerfXMm: 'kerf X',
  kerfYMm: 'kerf Y',
};

/** Which parameters the readings could not tell, and what was taken instead. */
export function untoldWarnings(model: CalibrationModel): Warning[] {
  const warnings: Warning[] = [];
  const add = (code: string, message: string, names: readonly string[]): void => {
    const hint = [...new Set(names.map((name) => SETTLES[name]))].join(' ');
    const instead = warnings.length === 0 ? ` Fitted instead: ${model.name}.` : '';
    warnings.push({ code, message: `${message}${instead}`, hint });
  };
  const { assumed, freeNames } = model;
  if (freeNames.includes('scale')) {
    add('SCALES_NOT_TOLD_APART', "the readings can't tell scale X and scale Y apart.", ['scaleX', 'scaleY']);
  }
  if (freeNames.includes('kerfMm')) {
    add('KERFS_NOT_TOLD_APART', "the readings can't tell kerf X and kerf Y apart.", ['kerfXMm', 'kerfYMm']);
  }
  if (assumed.includes('scaleX')) {
    add('SCALE_NOT_TOLD', "the readings can't tell scale and kerf apart: the scale is taken as 1.", [
      'scaleX',
      'scaleY',
    ]);
  }
  if (assumed.includes('kerfXMm')) {
    add(
      'KERF_NOT_TOLD',
      'the readings say nothing of the kerf: it is taken as 0, so openings are not corrected for it.',
      ['kerfXMm', 'kerfYMm'],
    );
  }
  if (assumed.includes('shear')) {
    add('SHEAR_NOT_TOLD', 'the readings say nothing of the shear: the axes are taken as square.', ['shear']);
  }
  return warnings;
}

/** Parameters that are known, but poorly or to impossible values. */
export function parameterWarnings(
  parameters: readonly ParameterResult[],
  estimates: readonly number[],
  correlations: readonly (readonly number[])[],
): Warning[] {
  const warnings: Warning[] = [];
  parameters.forEach(({ name, assumed, interval95, stdUncertainty }, k) => {
    if (assumed) return;
    const half = (interval95[1] - interval95[0]) / 2;
    const isKerf = name.startsWith('kerf');
    const poor = isKerf
      ? half > POOR_KERF_MM
      : name === 'shear'
        ? half > POOR_SHEAR * Math.abs(estimates[0])
        : half > POOR_SCALE * Math.abs(estimates[k]);
    if (poor) {
      const tied = correlations[k].findIndex((r, j) => j !== k && Math.abs(r) > 0.9 && Math.abs(r) < 0.9999999);
      const together = tied >= 0 ? `, because it can hardly be told from ${TITLES[parameters[tied].name]}` : '';
      const size = isKerf ? `± ${half.toFixed(3)} mm` : `± ${(100 * half).toPrecision(2)} mm over 100 mm`;
      warnings.push({
        code: 'POORLY_KNOWN',
        message: `${TITLES[name]} is known only to ${size} (95 %)${together}.`,
        hint: SETTLES[name],
      });
    }
    if (isKerf && estimates[k] < 0) {
      const sure = estimates[k] + 3 * stdUncertainty < 0;
      warnings.push({
        code: 'KERF_BELOW_ZERO',
        message: `${TITLES[name]} comes out as ${estimates[k].toFixed(4)} mm; it is taken as 0.`,
        hint: sure
          ? 'Webs and openings may be mixed up in the readings, or the artwork was burnt inverted.'
          : 'That is within its uncertainty.',
      });
    }
  });
  return warnings;
}

/** More than the five numbers hold. */
export function modelWarnings(models: readonly ModelComparison[]): Warning[] {
  return surelyNeeded(models).map(({ name, p }) => {
    const chance = p !== undefined && p < 0.0001 ? 'p < 0.0001' : `p = ${p?.toPrecision(2)}`;
    return name.includes('spans')
      ? {
          code: 'SPANS_OFF_BY_CONSTANT',
          message: `all spans are off by the same amount (${chance}): backlash, or a gauge that does not read zero when it should.`,
          hint: 'Check the zero of the gauge; read spans from left edge to left edge, never from a left to a right one.',
        }
      : {
          code: 'FIELD_NOT_STRAIGHT',
          message: `the scale changes over the bed (${chance}): a worn belt, a slipping drum, or film that was not flat.`,
          hint: 'Use the part of the bed where the coupon was good, or cut a coupon where the stencils will be cut.',
        };
  });
}
