import type { Warning } from '../../errors.js';
import { PARAMETER_TITLES, type ParameterName } from '../../machine/types.js';
import type { Determined } from './determined.js';
import type { OutlierSearch } from './outliers.js';
import type { Answer, ParameterResult } from './profile-fit.js';

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

/** Which of the five the readings could not tell, and what was taken instead. */
export function undeterminedWarnings({ assumed, scaleTaken }: Determined, values: readonly number[]): Warning[] {
  const [scaleX, scaleY, shear, kerfX, kerfY] = assumed;
  const warnings: Warning[] = [];
  const add = (code: string, message: string, names: readonly ParameterName[]): void => {
    const hint = `${names.map((name) => SETTLES[name]).join(' ')} Until then nothing can be said of what depends on it.`;
    warnings.push({ code, message, hint });
  };
  if (scaleTaken) {
    const untold = kerfX && kerfY ? 'the scale of one axis from that of the other' : 'scale and kerf apart';
    const [x, y] = values.map((value) => value.toPrecision(5));
    const instead = values[0] === 1 && values[1] === 1 ? 'the scale is taken as 1' : `${x} and ${y} are guesses`;
    add('SCALE_NOT_TOLD', `the readings can't tell ${untold}: ${instead}.`, ['scaleX', 'scaleY']);
  } else {
    const taken = (own: string, other: string, k: number): string =>
      Math.abs(values[0] - values[1]) < 1e-6 * values[0]
        ? `the readings can't tell ${own}: it is taken like ${other}.`
        : `the readings can't tell ${own} on its own: ${values[k].toPrecision(6)} is a guess.`;
    if (scaleX) add('SCALE_X_NOT_TOLD', taken('scale X', 'scale Y', 0), ['scaleX']);
    if (scaleY) add('SCALE_Y_NOT_TOLD', taken('scale Y', 'scale X', 1), ['scaleY']);
  }
  if (kerfX && kerfY) {
    add(
      'KERF_NOT_TOLD',
      'the readings say nothing of the kerf: it is taken as 0, so openings are not corrected for it.',
      ['kerfXMm', 'kerfYMm'],
    );
  } else if (kerfX || kerfY) {
    const [own, other] = kerfX ? ['X', 'Y'] : ['Y', 'X'];
    add(`KERF_${own}_NOT_TOLD`, `the readings can't tell kerf ${own}: it is taken like kerf ${other}.`, [
      kerfX ? 'kerfXMm' : 'kerfYMm',
    ]);
  }
  if (shear) {
    const taken = values[2] === 0 ? 'the axes are taken as square' : `${values[2].toPrecision(3)} is a guess`;
    add('SHEAR_NOT_TOLD', `the readings can't tell the shear: ${taken}.`, ['shear']);
  }
  return warnings;
}

/** What was fitted, in plain words. */
export function modelName({ assumed, scaleTaken }: Determined): string {
  const [scaleX, scaleY, shear, kerfX, kerfY] = assumed;
  const scale = scaleTaken
    ? 'scale taken as 1'
    : scaleX && scaleY
      ? 'scales assumed'
      : scaleX || scaleY
        ? `scale ${scaleX ? 'Y' : 'X'} measured, scale ${scaleX ? 'X' : 'Y'} assumed`
        : 'a scale for each axis';
  const kerf =
    kerfX && kerfY
      ? 'no kerf'
      : kerfX || kerfY
        ? `kerf ${kerfX ? 'Y' : 'X'} measured, kerf ${kerfX ? 'X' : 'Y'} assumed`
        : 'a kerf for each axis';
  return [scale, shear ? 'shear assumed' : 'shear', kerf].join(', ');
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
      const together =
        tied >= 0 ? `, because it can hardly be told from ${PARAMETER_TITLES[parameters[tied].name]}` : '';
      const size = isKerf ? `± ${half.toFixed(3)} mm` : `± ${(100 * half).toPrecision(2)} mm over 100 mm`;
      warnings.push({
        code: 'POORLY_KNOWN',
        message: `${PARAMETER_TITLES[name]} is known only to ${size} (95 %)${together}.`,
        hint: SETTLES[name],
      });
    }
    if (isKerf && estimates[k] < 0) {
      const sure = estimates[k] + 3 * stdUncertainty < 0;
      warnings.push({
        code: 'KERF_BELOW_ZERO',
        message: `${PARAMETER_TITLES[name]} comes out as ${estimates[k].toFixed(4)} mm; it is taken as 0.`,
        hint: sure
          ? 'Webs and openings may be mixed up in the readings, or the artwork was burnt inverted.'
          : 'That is within its uncertainty.',
      });
    }
  });
  return warnings;
}

/** What too few readings, or readings that stand out, do to the answer. */
export function scatterWarnings(answer: Answer, search: OutlierSearch, robust: boolean): Warning[] {
  const warnings: Warning[] = [];
  const { dof, residualSdMm } = answer;
  if (dof <= 0) {
    warnings.push({
      code: 'NOTHING_LEFT_OVER',
      message:
        'there are only as many readings as fitted numbers: uncertainties rest on a scatter of 0.01 mm, as a careful reader has.',
      hint: 'Read more features; a wrong reading can not be seen like this.',
    });
  } else if (dof < 5) {
    warnings.push({
      code: 'FEW_READINGS',
      message: `there ${dof === 1 ? 'is only 1 reading' : `are only ${dof} readings`} more than fitted numbers: a wrong one can hardly be seen.`,
      hint: 'Read more features.',
    });
  }
  if (search.undecided) {
    warnings.push({
      code: 'READINGS_CONTRADICT',
      message: `at least one reading is wrong (scatter ${(1000 * residualSdMm).toFixed(0)} µm), and there are too few to tell which.`,
      hint: 'Read all of them again, or more features.',
    });
  }
  const count = search.outliers.length;
  if (count > 0 && !robust) {
    const words = count === 1 ? '1 reading stands out, and it counts' : `${count} readings stand out, and they count`;
    warnings.push({
      code: 'READINGS_STAND_OUT',
      message: `${words} in this answer (scatter ${(1000 * residualSdMm).toFixed(1)} µm).`,
      hint: 'Correct the readings, leave them out by name (drop), or take the robust answer.',
    });
  }
  return warnings;
}
