import type { DimensionalFeature } from '../../coupon/features.js';
import { formatProblem } from '../../errors.js';
import { EYES } from '../../fit/calibration/by-eye.js';
import { foreseen } from '../../fit/calibration/foresee.js';
import { lengthsReadIn, spansGauge } from '../../fit/calibration/gauges.js';
import { expanded, openingUncertainty } from '../../fit/calibration/profile-fit.js';
import type { CalibrationOptions, CalibrationResult, ReadingResidual } from '../../fit/calibration/types.js';
import { whereRead } from '../../fit/calibration/zeros.js';
import { type BetweenDays, isDoubted } from '../../fit/drift/between-days.js';
import { openDoubts } from '../../fit/drift/session-days.js';
import { lengthsThere, planReadings } from '../../fit/plan/plan-readings.js';
import { gaugeSoFar, likelyWider, planSentences, type Reached, whatNext } from '../../fit/plan/plan-words.js';
import {
  byParameter,
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
    io.out(`\n${residualTable(result.residuals)}\n`);
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

/** Limit and zero of each gauge, where anything is known of them. */
export function gaugeLines({ gauges }: CalibrationResult): string[] {
  return gauges.flatMap(({ name, limitMm, limitBecause, zeroMm, zeroInterval95, zeroWithinMm, oneLengthMm }) => {
    const because = limitBecause === undefined ? '' : ` (${limitBecause})`;
    const limit = limitMm === undefined ? '' : `, limit of error ${limitMm} mm${because}`;
    if (zeroMm === undefined || zeroInterval95 === undefined) {
      return [`Gauge of ${name}${limit}: its zero could not be checked by these readings.`];
    }
    const half = (zeroInterval95[1] - zeroInterval95[0]) / 2;
    const reads = `reads ${signed(micrometres(zeroMm))} ± ${micrometres(half)} µm ${oneLengthMm ? whereRead(oneLengthMm) : 'at zero'} (95 %), taken out`;
    return [
      zeroWithinMm === undefined
        ? `Gauge of ${name}${limit}: ${reads}.`
        : `Gauge of ${name}: ${reads}; these readings hardly show it, so it was taken to lie within ± ${zeroWithinMm} mm, as with most calipers.`,
    ];
  });
}

export function scatterSentence({ fit, residuals, scatter, dropped }: CalibrationResult): string {
  const gauges = scatter
    // What eyes tell of webs is no gauge's, and has a sentence of its own.
    .filter(({ gauge, resolutionMm }) => resolutionMm > 0 && gauge !== EYES)
    .map(
      ({ gauge, resolutionMm, readings, sdMm }) =>
        `${gauge}: ${readings} at ${Number(resolutionMm.toFixed(4))} mm steps (${micrometres(sdMm)} µm beyond rounding)`,
    );
  const left = dropped.length > 0 ? `, ${dropped.length} left out as told` : '';
  const read = `${residuals.length} readings${left}`;
  if (fit.dof <= 0) return `${read}, none to spare: what they scatter by is not known, and is taken as 10 µm.`;
  const scatters = gauges.length > 0 ? `; ${gauges.join(', ')}` : '';
  return `${read}, ${fit.dof} degrees of freedom, standard deviation ${micrometres(fit.residualSdMm)} µm${scatters}.`;
}

export function limitLines({ limits }: CalibrationResult): string[] {
  if (!limits) return [];
  const { minOpeningMm, minWebMm, evidence = [] } = limits;
  const found = [
    ...(minOpeningMm === undefined ? [] : [`smallest opening ${minOpeningMm.toFixed(3)} mm`]),
    ...(minWebMm === undefined ? [] : [`smallest web ${minWebMm.toFixed(3)} mm`]),
  ];
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

const residualTable = (residuals: readonly ReadingResidual[]): string =>
  table(RESIDUAL_HEAD, residuals.map(residualRow));

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

/** Columns padded to their widest cell; words to the left, columns of numbers to the right, the last one folded. */
function table(head: readonly string[], cells: readonly (readonly string[])[]): string {
  const rows = cells.map((row) => row.map(visible));
  const all = [head, ...rows];
  const last = head.length - 1;
  const widths = columnWidths(all);
  const isNumber = head.map((_, j) => rows.every((row) => /^[+−-]?[\d.]*( mm)?$/.test(row[j])));
  const before = widths.slice(0, last).reduce((sum, width) => sum + width + 2, 0);
  const fronts = alignedLines(
    all.map((row) => row.slice(0, last)),
    (j) => isNumber[j],
  );
  const lines = all.map((row, i) =>
    folded(fronts[i].padEnd(before), isNumber[last] ? row[last].padStart(widths[last]) : row[last]).trimEnd(),
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

type Held = Partial<Record<ParameterName, string>>;

/** What a witness piece or a vernier lacks: spans as long as those of a ruler, as many widths as on a ladder. */
const LONG_MM = 30;
const MANY_WIDTHS = 20;

/** Standard uncertainties in half of a 95 % interval of many degrees of freedom. */
const COVERS_95 = 1.96;

/** What the readings reach, which to read next on the coupons at hand, and what that would bring. */
export function nextReadings(
  result: CalibrationResult,
  sessions: readonly ReadingSession[],
  options: CalibrationOptions = {},
  days: BetweenDays['components'] = [],
): string[] {
  const { fit } = result;
  const own = sessions.filter(({ refused }) => !refused);
  const lengths = own.map(lengthsThere);
  const already = own.flatMap(({ readings }, i) => {
    const byId = new Map(lengths[i].map((feature) => [feature.id, feature]));
    return readings.flatMap(({ feature, readingMm, dropped }) => {
      const found = readingMm === undefined || dropped ? undefined : byId.get(feature);
      return found ? [found] : [];
    });
  });
  const { order, sure: count, needs } = planReadings(lengths.flat(), { gauge: gaugeSoFar(fit, already), already });
  // Without what differs from place to place, which no reading narrows: it is told of with its fault.
  const ofPlaces = (k: number): number => (COVERS_95 * (result.placeDoubt[k] ?? 0)) ** 2 / 3;
  const wider = likelyWider(result, own);
  const widened = (reach: Reached): Reached => byParameter((name) => reach[name] && reach[name] * wider[name]);
  const reached = widened(
    byParameter((name, k) => {
      const half = expanded(fit[name], fit.dof);
      return fit[name].assumed ? undefined : Math.sqrt(Math.max(0, half * half - ofPlaces(k)));
    }),
  );
  const sessionOf = new Map(lengths.flatMap((of, session) => of.map((feature) => [feature, session] as const)));
  const after = (next: readonly DimensionalFeature[]) =>
    widened(foreseen(own, result, next.map((feature) => ({ session: sessionOf.get(feature) ?? 0, feature })), options)); // biome-ignore format: one call
  const found = whatNext(order.slice(0, count).map(({ feature }) => feature), reached, after); // biome-ignore format: one call
  const held = {
    ...heldByPlaces(result, reached),
    ...heldByLimit(result.gauges, own, reached),
    ...heldByDays(days, reached),
    ...heldByDoubt(own),
  };
  const [spans, widths] = [true, false].map((is) => lengths.flat().filter(({ kind }) => (kind === 'span') === is));
  const left = {
    any: count > 0,
    spans: spans.some(({ nominalMm }) => nominalMm >= LONG_MM),
    widths: widths.length >= MANY_WIDTHS,
    reaches: needs !== undefined,
  };
  const sentences = planSentences(reached, found, held, left, wider);
  if (result.placeDoubt.every((size) => size === 0)) return sentences;
  return [...sentences, 'That is without what differs over the bed, which no further reading narrows.'];
}

const STAYS = ', and no further reading makes that smaller';

/** What bends the bed scatters the readings too. */
function heldByPlaces({ placeDoubt }: CalibrationResult, reached: Reached): Held {
  const names = (['scaleX', 'scaleY', 'shear'] as const).filter((name) => reached[name] !== undefined);
  return placeDoubt.some((size) => size > 0)
    ? Object.fromEntries(names.map((name) => [name, `the readings lie off by what differs over the bed${STAYS}`]))
    : {};
}

/** A stencil is cut on one day: what days differ by stays, however often it is read. */
function heldByDays(days: BetweenDays['components'], reached: Reached): Held {
  const held = days.filter(({ parameter, sd }) => COVERS_95 * sd > DECIDES * (reached[parameter] ?? Number.POSITIVE_INFINITY)); // biome-ignore format: one thought
  return Object.fromEntries(
    held.map(({ parameter, sure }) => [
      parameter,
      sure
        ? `it differs from day to day${STAYS}`
        : 'it may differ from day to day, which readings of more days would tell',
    ]),
  );
}

/** What settles a doubt makes the interval smaller, and nothing else does. */
function heldByDoubt(sessions: readonly ReadingSession[]): Held {
  const doubts = openDoubts(sessions);
  const names = PARAMETER_NAMES.filter((name) => isDoubted(name, doubts));
  const why = `in doubt until the readings of ${doubts?.days.join(', ')} are settled`;
  return Object.fromEntries(names.map((name) => [name, why]));
}

/** A limit of error that alone makes so much of an interval decides it. */
const DECIDES = 0.6;

const DIRECTIONS = { scaleX: 'X', scaleY: 'Y', shear: 'slanted' } as const;

/** Numbers that the limit of error of the gauge for long lengths holds where they are, with the words for it. */
export function heldByLimit(
  gauges: CalibrationResult['gauges'],
  sessions: readonly ReadingSession[],
  reached: Reached,
): Held {
  const far = gauges
    .map((gauge) => ({ ...gauge, longest: longestRead(gauge.name, sessions) }))
    .sort((a, b) => b.longest - a.longest);
  return Object.fromEntries(
    (['scaleX', 'scaleY', 'shear'] as const).flatMap((number) => {
      const own = far.find(({ name }) => name.endsWith(spansGauge('', DIRECTIONS[number])));
      const { name, limitMm, longest } = own ?? far[0] ?? {};
      if (limitMm === undefined || !longest) return [];
      // A slanted span of 45 degrees holds half of the shear.
      const alone = ((own && number === 'shear' ? 2 : 1) * COVERS_95 * limitMm) / Math.sqrt(3) / longest;
      if (!(alone > DECIDES * (reached[number] ?? Number.POSITIVE_INFINITY))) return [];
      const turned = own ? ' until the same film is scanned turned by 90 degrees as well' : '';
      return [[number, `the limit of error of ${name} (${limitMm} mm) decides${STAYS}${turned}`]];
    }),
  );
}

function longestRead(gauge: string, sessions: readonly ReadingSession[]): number {
  const own = sessions.flatMap(lengthsReadIn).filter((one) => one.gauge === gauge && !one.dropped);
  return Math.max(0, ...own.map(({ readingMm }) => readingMm));
}
