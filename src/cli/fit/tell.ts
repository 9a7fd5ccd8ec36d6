import { formatProblem } from '../../errors.js';
import { EYES } from '../../fit/calibration/by-eye.js';
import { expanded, openingUncertainty } from '../../fit/calibration/profile-fit.js';
import { roundingVariance } from '../../fit/calibration/scatter.js';
import type { CalibrationResult, ReadingResidual } from '../../fit/calibration/types.js';
import { whereRead } from '../../fit/calibration/zeros.js';
import { type OutlookOptions, outlookOf } from '../../fit/plan/outlook.js';
import { planSentences } from '../../fit/plan/plan-words.js';
import { present } from '../../kept.js';
import {
  type Measured,
  PARAMETER_NAMES,
  PARAMETER_TITLES,
  type ParameterName,
  type ProfileFit,
  type ReadingSession,
} from '../../machine/types.js';
import { count, micrometres, signed, visible } from '../../text.js';
import type { Io } from '../io.js';
import type { FitOptionValues } from '../options/calibration.js';
import { alignedLines, columnWidths, folded, LINE_LETTERS } from '../tell.js';

/** The result in words and tables: data to one stream, what to look at to the other. */
export function tellFit(result: CalibrationResult, values: FitOptionValues, io: Io): void {
  const { fit } = result;
  const both = result.flagged.length > 0 && !values.robust && result.robust !== undefined;
  const head = both ? ['', 'value', '95 %', 'robust', '95 %'] : ['', 'value', '95 %', 'on the film'];
  const rows = parameterRows(fit);
  const robustRows = both && result.robust ? parameterRows(result.robust.fit) : rows;
  const shown = both ? rows.map((row, k) => [...row.slice(0, 3), ...robustRows[k].slice(1, 3)]) : rows;
  io.out(`${table(head, shown)}\n\n`);
  io.out(`Model: ${fit.model}.\n`);
  io.out(`${scatterSentence(result)}\n`);
  for (const line of gaugeLines(result)) io.out(`${line}\n`);
  const sentence = openingSentence(result);
  if (sentence) io.out(`${sentence}\n`);
  // Among the warnings where it counts.
  if (result.lackOfFit && !result.warnings.some(({ code }) => code === 'LACK_OF_FIT'))
    io.out(`${result.lackOfFit.sentence}\n`);
  for (const line of limitLines(result)) io.out(`${visible(line)}\n`);
  for (const sentence of rowShiftSentences(result)) io.out(`${sentence}\n`);
  if (values.residuals) {
    io.out(`\n${table(RESIDUAL_HEAD, result.residuals.map(residualRow))}\n`);
    if (result.faults.length > 0) {
      io.out(`\nFaults looked for:\n${result.faults.map(({ sentence }) => `  ${sentence}`).join('\n')}\n`);
    }
  }
  tellFindings(result, values, io);
}

export function rowShiftSentences({ rowShifts }: CalibrationResult): string[] {
  return rowShifts.map(
    ({ axis, shiftMm, withinMm, readings }) =>
      `Alternate rows are shifted by ${shiftMm.toFixed(3)} ± ${withinMm.toFixed(3)} mm along ${axis.toUpperCase()} (${count(readings, 'vernier reading')}).`,
  );
}

/** Limit and zero of each gauge, where anything is known of them; why a limit holds that nobody stated, once. */
export function gaugeLines({ gauges }: CalibrationResult): string[] {
  const first = gauges.find((one) => one.limitBecause && (one.zeroMm === undefined || one.zeroWithinMm === undefined));
  return gauges.map((gauge) => {
    const { name, limitMm, limitBecause, zeroMm, zeroInterval95, zeroWithinMm, oneLengthMm } = gauge;
    const because = gauge === first ? ` (${limitBecause})` : '';
    const limit = limitMm === undefined ? '' : `, limit of error ${limitMm} mm${because}`;
    if (zeroMm === undefined || zeroInterval95 === undefined)
      return `Gauge of ${name}${limit}: its zero could not be checked by these readings.`;
    const half = (zeroInterval95[1] - zeroInterval95[0]) / 2;
    const reads = `reads ${signed(micrometres(zeroMm))} ± ${micrometres(half)} µm ${oneLengthMm ? whereRead(oneLengthMm) : 'at zero'} (95 %), taken out`;
    return zeroWithinMm === undefined
      ? `Gauge of ${name}${limit}: ${reads}.`
      : `Gauge of ${name}: ${reads}; these readings hardly show it, so it was taken to lie within ± ${zeroWithinMm} mm, as with most calipers.`;
  });
}

export function scatterSentence({ fit, residuals, scatter, dropped }: CalibrationResult): string {
  const gauges = scatter
    // What eyes tell of webs is no gauge's, and has a sentence of its own.
    .filter(({ gauge, resolutionMm }) => resolutionMm > 0 && gauge !== EYES)
    .map(({ gauge, resolutionMm, uncertain, readings, sdMm }) => {
      const steps = ` at ${Number(resolutionMm.toFixed(4))} mm steps (${micrometres(sdMm)} µm beyond rounding)`;
      const own = `, each as uncertain as it says, ${micrometres(Math.sqrt(roundingVariance(resolutionMm)))} µm at most (${micrometres(sdMm)} µm beyond that)`;
      return `${gauge}: ${readings}${uncertain ? own : steps}`;
    });
  const left = dropped.length > 0 ? `, ${dropped.length} left out as told` : '';
  const read = `${residuals.length} readings${left}`;
  if (fit.dof <= 0) return `${read}, none to spare: what they scatter by is not known, and is taken as 10 µm.`;
  const scatters = gauges.length > 0 ? `; ${gauges.join(', ')}` : '';
  return `${read}, ${fit.dof} degrees of freedom, standard deviation ${micrometres(fit.residualSdMm)} µm${scatters}.`;
}

export function limitLines({ limits }: CalibrationResult): string[] {
  if (!limits) return [];
  const { minOpeningMm, minWebMm, evidence = [] } = limits;
  const found = present(
    minOpeningMm !== undefined && `smallest opening ${minOpeningMm.toFixed(3)} mm`,
    minWebMm !== undefined && `smallest web ${minWebMm.toFixed(3)} mm`,
  );
  const why = evidence.join('. ');
  if (found.length === 0) return [`Limits: ${why || 'not found yet'}.`];
  return [`Limits: ${found.join(', ')}${why ? ` (${why})` : ''}.`];
}

function tellFindings(result: CalibrationResult, values: FitOptionValues, io: Io): void {
  const { flagged, robust } = result;
  if (flagged.length > 0) {
    io.say(`\n${flagged.length === 1 ? 'One reading stands' : `${flagged.length} readings stand`} out:\n`);
    for (const { sentence, file, line } of flagged) {
      io.say(`  ${formatProblem({ code: '', message: sentence, place: { file, line } })}\n`);
    }
    if (robust && !values.robust) io.say(`${robustSentence(result)}\n`);
    const ids = [...new Set(flagged.map(({ feature }) => feature))].join(',');
    if (!values.robust)
      io.say(
        `Correct the file, or say --drop ${visible(ids)}, or --robust. Until then ${flagged.length === 1 ? 'it counts' : 'they count'}.\n\n`,
      );
  }
  for (const warning of result.warnings) io.say(`warning: ${formatProblem(warning)}\n`);
  for (const hint of result.hints) io.say(`hint: ${visible(hint)}\n`);
}

export function robustSentence({ robust, flagged }: CalibrationResult): string {
  const moves = robust?.moves ?? [];
  const without = `The robust answer, without ${flagged.length === 1 ? 'it' : 'them'},`;
  const words = moves
    .filter(({ inUncertainties }) => Math.abs(inUncertainties) > 2)
    .map(({ name, by, inUncertainties }) => {
      const size = name.endsWith('Mm') ? `${signed(by.toFixed(4))} mm` : signed(by.toPrecision(2));
      return `${PARAMETER_TITLES[name]} ${size} (${Math.abs(inUncertainties).toFixed(0)} standard uncertainties)`;
    });
  return words.length > 0
    ? `${without} lies elsewhere: ${words.join(', ')}.`
    : `${without} is the same within its uncertainty.`;
}

export const RESIDUAL_HEAD = ['feature', 'kind', 'told mm', 'read mm', 'model mm', 'left µm', 't'];

export function residualRow(r: ReadingResidual): string[] {
  return [
    r.feature,
    r.kind,
    r.nominalMm.toFixed(4),
    r.readingMm.toFixed(4),
    r.predictedMm.toFixed(4),
    signed(micrometres(r.residualMm)),
    signed(r.studentised.toFixed(2)),
  ];
}

/** Columns padded to their widest cell; words to the left, columns of numbers to the right; the last one is folded. */
function table(head: readonly string[], cells: readonly (readonly string[])[]): string {
  const rows = cells.map((row) => row.map(visible));
  const all = [head, ...rows];
  const last = head.length - 1;
  const widths = columnWidths(all);
  const isNumber = head.map((_, j) => rows.every((row) => /^[+−-]?[\d.]*( mm)?$/.test(row[j])));
  const before = widths.slice(0, last).reduce((sum, width) => sum + width + 2, 0);
  const lines = alignedLines(all, (j) => j < last && isNumber[j]).map((line) =>
    folded(line.slice(0, before), line.slice(before)).trimEnd(),
  );
  const rule = widths.map((width, j) => '─'.repeat(j < last ? width : Math.min(width, LINE_LETTERS - before)));
  return [lines[0], rule.join('  '), ...lines.slice(1)].join('\n');
}

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

/** What the readings reach, which to read next on the coupons at hand, and what that would bring. */
export function nextReadings(
  result: CalibrationResult,
  sessions: readonly ReadingSession[],
  options: OutlookOptions = {},
): string[] {
  const { reached, found, held, left, wider } = outlookOf(result, sessions, options);
  const sentences = planSentences(reached, found, held, left, wider);
  if (result.placeDoubt.every((size) => size === 0)) return sentences;
  return [...sentences, 'That is without what differs over the bed, which no further reading narrows.'];
}
