import type { Warning } from '../../errors.js';
import { present } from '../../kept.js';
import { PARAMETER_NAMES, PARAMETER_TITLES, type ParameterName, type ReadingSession } from '../../machine/types.js';
import type { Determined } from './determined.js';
import { canvasSentence } from './gross-errors.js';
import type { Observation } from './observations.js';
import type { OutlierSearch } from './outliers.js';
import { type Answer, correlationsOf, type ParameterResult, parameterResults } from './profile-fit.js';
import type { WeightedFit } from './weighted-fit.js';

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
  const noKerf = 'the readings say nothing of the kerf: it is taken as 0, so openings are not corrected for it.';
  if (kerfX && kerfY) add('KERF_NOT_TOLD', noKerf, ['kerfXMm', 'kerfYMm']);
  else if (kerfX) add('KERF_X_NOT_TOLD', "the readings can't tell kerf X: it is taken like kerf Y.", ['kerfXMm']);
  else if (kerfY) add('KERF_Y_NOT_TOLD', "the readings can't tell kerf Y: it is taken like kerf X.", ['kerfYMm']);
  if (shear) {
    const taken = values[2] === 0 ? 'the axes are taken as square' : `${values[2].toPrecision(3)} is a guess`;
    add('SHEAR_NOT_TOLD', `the readings can't tell the shear: ${taken}.`, ['shear']);
  }
  return warnings;
}

/** What was fitted, in plain words. */
export function modelName({ assumed, scaleTaken }: Determined): string {
  const [scaleX, scaleY, shear, kerfX, kerfY] = assumed;
  const pair = (what: string, x: boolean, y: boolean, neither: string): string => {
    if (x && y) return neither;
    const [told, other] = x ? ['Y', 'X'] : ['X', 'Y'];
    return x || y ? `${what} ${told} measured, ${what} ${other} assumed` : `a ${what} for each axis`;
  };
  const scale = scaleTaken ? 'scale taken as 1' : pair('scale', scaleX, scaleY, 'scales assumed');
  return [scale, shear ? 'shear assumed' : 'shear', pair('kerf', kerfX, kerfY, 'no kerf')].join(', ');
}

/**
 * Parameters that are known, but poorly or to impossible values.
 *
 * @param told - the same with all that the answer says of their doubt, as the table has it
 */
export function parameterWarnings(answer: Answer, told: readonly ParameterResult[]): Warning[] {
  const { parameters: estimates } = answer;
  const [parameters, correlations] = [parameterResults(answer), correlationsOf(answer)];
  const warnings: Warning[] = [];
  parameters.forEach(({ name, assumed, interval95, stdUncertainty }, k) => {
    if (assumed) return;
    const half = (interval95[1] - interval95[0]) / 2;
    const isKerf = name.startsWith('kerf');
    const most = isKerf ? POOR_KERF_MM : name === 'shear' ? POOR_SHEAR * Math.abs(estimates[0]) : POOR_SCALE * Math.abs(estimates[k]); // biome-ignore format: one choice
    if (half > most) {
      const tied = correlations[k].findIndex((r, j) => j !== k && Math.abs(r) > 0.9 && Math.abs(r) < 0.9999999);
      const together =
        tied >= 0 ? `, because it can hardly be told from ${PARAMETER_TITLES[parameters[tied].name]}` : '';
      const [low, high] = told[k].interval95;
      const toldHalf = (high - low) / 2;
      const size = isKerf ? `± ${toldHalf.toFixed(3)} mm` : `± ${(100 * toldHalf).toPrecision(2)} mm over 100 mm`;
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

/** A reading that decides this share of its own prediction hides nearly all of its own slip. */
const HIDES_ITS_SLIP = 0.95;
/** A number hangs on a reading without which its variance would be more than so many times as large. */
const HANGS_ON = 4;

/** Numbers that hang on one reading alone: were it wrong, no other would show it. */
export function loneWarnings({ design, columns, weights, qr }: WeightedFit, assumed: readonly boolean[]): Warning[] {
  return design.lengths.flatMap((length, i): Warning[] => {
    const { feature, reading } = length as Observation;
    // A scan says how sure it is of a reading; only who types slips.
    if (reading.uncertaintyMm !== undefined) return [];
    const left = Math.max(1e-6, 1 - qr.leverages[i]);
    if (1 - left < HIDES_ITS_SLIP) return [];
    const names = PARAMETER_NAMES.filter((_, k) => {
      const moves = qr.inverse[k].reduce((sum, value, j) => sum + value * columns[j][i], 0);
      return !assumed[k] && (moves * moves * weights[i]) / left > (HANGS_ON - 1) * qr.inverse[k][k];
    });
    if (names.length === 0) return [];
    const { id } = feature;
    return [
      {
        code: 'LONE_READING',
        message: `${names.map((name) => PARAMETER_TITLES[name]).join(', ')}: by ${id} alone, so a slip in it would not be seen.`,
        hint: `Read ${id} again, in a row of its own, or others like it.`,
      },
    ];
  });
}

/** What too few readings, or readings that stand out, do to the answer. */
export function scatterWarnings(answer: Answer, search: OutlierSearch, robust: boolean): Warning[] {
  const { dof, residualSdMm } = answer;
  const count = search.outliers.length;
  const words = count === 1 ? '1 reading stands out, and it counts' : `${count} readings stand out, and they count`;
  return present<Warning>(
    dof <= 0 && {
      code: 'NOTHING_LEFT_OVER',
      message:
        'there are only as many readings as fitted numbers: uncertainties rest on a scatter of 0.01 mm, as a careful reader has.',
      hint: 'Read more features; a wrong reading can not be seen like this.',
    },
    dof > 0 &&
      dof < 5 && {
        code: 'FEW_READINGS',
        message: `there ${dof === 1 ? 'is only 1 reading' : `are only ${dof} readings`} more than fitted numbers: a wrong one can hardly be seen.`,
        hint: 'Read more features.',
      },
    search.undecided && {
      code: 'READINGS_CONTRADICT',
      message: `at least one reading is wrong (scatter ${(1000 * residualSdMm).toFixed(0)} µm), and there are too few to tell which.`,
      hint: 'Read all of them again, or more features.',
    },
    count > 0 &&
      !robust && {
        code: 'READINGS_STAND_OUT',
        message: `${words} in this answer (scatter ${(1000 * residualSdMm).toFixed(1)} µm).`,
        hint: 'Correct the readings, leave them out by name (drop), or take the robust answer.',
      },
  );
}

/** A scale this near 1 needs no explanation. */
const USUAL_DEVIATION = 0.03;
/** A machine's own scale error may hide what a wrong resolution does, up to this share (belts, drums). */
const MATCH = 0.015;

const SCREEN_DPI = [72, 90, 96];
/** Usual ones only: with enough odd resolutions, some pair of them gives any scale. */
const IMAGE_DPI = [...SCREEN_DPI, 100, 150, 200, 254, 300, 400, 500, 508, 600, 1000, 1200, 1270, 2400, 2540];

/** Likely reasons for scales far from 1: a resolution that the program assumes, or a unit that it mistakes. */
export function scaleHints(
  [scaleX, scaleY]: readonly number[],
  sessions: readonly ReadingSession[],
  standOut: boolean,
): string[] {
  const sized = sessions.find((session) => session.canvas);
  const canvas = sized?.canvas;
  const without = standOut ? ' without the readings that stand out' : '';
  const far = (scale: number): boolean => Math.abs(scale - 1) > USUAL_DEVIATION;
  if (!far(scaleX) && !far(scaleY)) return [];
  const alike = Math.abs(scaleX / scaleY - 1) < USUAL_DEVIATION;
  return present(
    alike && sentence(`The scale${without}`, (scaleX + scaleY) / 2, canvas?.pitchXMm),
    !alike && far(scaleX) && sentence(`Scale X${without}`, scaleX, canvas?.pitchXMm),
    !alike && far(scaleY) && sentence(`Scale Y${without}`, scaleY, canvas?.pitchYMm),
    !alike && unlikeHint(scaleX / scaleY, canvas),
    sized && `Lengths of another size of the coupon look like that, too. ${canvasSentence(sized)}`,
  );
}

function sentence(what: string, scale: number, pitchMm: number | undefined): string {
  const reasons = reasonsFor(scale, pitchMm);
  const found =
    reasons.length > 0
      ? `likely ${reasons.join(', or ')}`
      : 'no usual mistake of units or resolution gives that; look for a scaling in the program or the printer settings';
  return `${what} is ${Number(scale.toPrecision(5))}, far from 1: ${found}. The profile is right for this way of working; keep to it, or set the resolution right and cut new coupons.`;
}

/** The nearest candidates first, at most two. */
function reasonsFor(scale: number, pitchMm: number | undefined): string[] {
  const off = (candidate: { readonly scale: number }): number => Math.abs(Math.log(scale / candidate.scale));
  const fitting = candidates(pitchMm).filter((candidate) => off(candidate) < MATCH);
  const [best, second] = fitting.sort((a, b) => off(a) - off(b));
  return present(best?.because, second?.because);
}

function candidates(pitchMm: number | undefined) {
  const either = (scale: number, a: string, b: string) => [
    { scale, because: `${a} were taken as ${b}` },
    { scale: 1 / scale, because: `${b} were taken as ${a}` },
  ];
  const ofScreens = SCREEN_DPI.flatMap((dpi) => [
    ...either(25.4 / dpi, 'mm', `pixels of ${dpi} dpi`),
    ...SCREEN_DPI.filter((other) => other !== dpi).map((other) => ({
      scale: dpi / other,
      because: `a drawing made for ${dpi} dpi was taken as ${other} dpi`,
    })),
  ]);
  const own = pitchMm === undefined ? undefined : 25.4 / pitchMm;
  const ofImages = IMAGE_DPI.flatMap((dpi) => {
    if (own === undefined || Math.abs(own / dpi - 1) < USUAL_DEVIATION) return [];
    const words = `${Number(own.toPrecision(4))} dpi`;
    return [
      { scale: own / dpi, because: `the program ignores the resolution in the file (${words}) and assumes ${dpi} dpi` },
      { scale: dpi / own, because: `the program resamples to its own ${words} what it takes as ${dpi} dpi` },
    ];
  });
  const ofUnits = [...either(25.4, 'mm', 'inches'), ...either(10, 'mm', 'cm'), ...either(0.0254, 'mm', 'mil')];
  return [...ofUnits, ...ofScreens, ...ofImages];
}

function unlikeHint(ratio: number, canvas: ReadingSession['canvas']): string {
  const near = (value: number): boolean => Math.abs(Math.log(ratio / value)) < MATCH;
  const pitchRatio = canvas ? canvas.pitchXMm / canvas.pitchYMm : 1;
  if (Math.abs(pitchRatio - 1) > USUAL_DEVIATION && near(1 / pitchRatio))
    return 'The ratio of the scales is that of the pitches: the program takes the dots as square.';
  const factor = [2, 3, 4, 0.5, 1 / 3, 0.25].find(near);
  if (factor === undefined)
    return 'The scales of X and Y differ by more than machines do: look for different settings of the two axes.';
  const words = factor > 1 ? `X is ${factor} times Y` : `Y is ${Math.round(1 / factor)} times X`;
  return `The scales differ by a whole factor (${words}): the line interval and the dot pitch are not set alike.`;
}
