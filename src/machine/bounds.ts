import type { Problem } from '../errors.js';
import { type MachineModel, PARAMETER_NAMES, type ParameterName } from './types.js';

/**
 * What a machine can be. Scales hold what a program makes of units and resolutions too (mm taken as inches: 25.4, mm as
 * pixels of 96 dpi: 0.26), so they may be far from 1; a shear of a fifth is a parallelogram of 11°; no cut in film is
 * wider than 2 mm (common practice: 0.08 to 0.3 mm).
 */
const SCALE_REACH = 60;
const SHEAR_REACH = 0.2;
const WIDEST_KERF_MM = 2;
/** Lines may lie some dots apart, and a program that knows nothing of that makes one scale so many times the other. */
const APART_REACH = 8;
/** Scales that far from 1 come from a program, and the kerf from the beam: both kerfs 0 are the mark of a slip. */
const SLIP_REACH = 2;

/** What is wrong with five numbers as a machine's; empty when nothing is. */
export function modelProblems(model: MachineModel): Problem[] {
  const problems = PARAMETER_NAMES.flatMap((name) => problemOf(name, model) ?? []);
  if (problems.length > 0) return problems;
  const { scaleX, scaleY, kerfXMm, kerfYMm } = model;
  if (Math.max(scaleX / scaleY, scaleY / scaleX) > APART_REACH) {
    return [
      {
        code: 'BAD_PROFILE',
        place: { key: 'scaleX' },
        message: `the scales are ${scaleX} along X and ${scaleY} along Y, more than ${APART_REACH} times apart: no machine does that, but a decimal point that slipped does.`,
        hint: 'Look at the readings of the longest spans along both axes, and fit again.',
      },
    ];
  }
  const far = [scaleX, scaleY].some((scale) => Math.abs(Math.log(scale)) > Math.log(SLIP_REACH));
  if (!far || kerfXMm > 0 || kerfYMm > 0) return [];
  return [
    {
      code: 'BAD_PROFILE',
      place: { key: 'scaleX' },
      message: `the scales are ${scaleX} and ${scaleY} and no cut has any width: no machine does that, but a decimal point that slipped in one reading does.`,
      hint: 'Look at the readings of the longest spans, and fit again.',
    },
  ];
}

function problemOf(name: ParameterName, model: MachineModel): Problem | undefined {
  const value = model[name];
  const found = Number.isFinite(value) ? String(Number(value.toPrecision(9))) : String(value);
  const problem = (wanted: string, hint: string): Problem => ({
    code: 'BAD_PROFILE',
    place: { key: name },
    message: `expected ${wanted}, found ${found}.`,
    hint,
  });
  const again = 'Fit the readings again, or look for a slip in the profile.';
  if (typeof value !== 'number') return problem('a number', `It is a ${typeof value}. ${again}`);
  if (name.startsWith('scale')) {
    if (value >= 1 / SCALE_REACH && value <= SCALE_REACH) return undefined;
    const percent =
      value > SCALE_REACH && value < 2 * 100
        ? ` It looks like percent: ${found} % is ${Number((value / 100).toPrecision(9))}.`
        : '';
    return problem(
      `a number > 0, a scale between 1/${SCALE_REACH} and ${SCALE_REACH}`,
      `A scale is film mm per commanded mm, near 1 as a rule.${percent} ${again}`,
    );
  }
  if (name === 'shear') {
    const most = SHEAR_REACH * Math.max(Math.abs(model.scaleX), 1e-9);
    if (Math.abs(value) <= most) return undefined;
    return problem(
      `a number within ± ${Number(most.toPrecision(3))} (a fifth of the scale)`,
      `Shear is film mm along X per commanded mm along Y. ${again}`,
    );
  }
  if (value >= 0 && value <= WIDEST_KERF_MM) return undefined;
  const micrometres = value > WIDEST_KERF_MM && value <= 1000 * WIDEST_KERF_MM ? ' It looks like micrometres.' : '';
  return problem(
    `a length >= 0 in mm, at most ${WIDEST_KERF_MM}`,
    `A kerf is the width of the cut.${micrometres} ${again}`,
  );
}
