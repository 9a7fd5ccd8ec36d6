import { basename } from 'node:path';
import { CAUTION } from '../../coupon/cautions.js';
import { formatProblem } from '../../errors.js';
import type { CalibrationResult } from '../../fit/calibration/types.js';
import { doubtIn, openDoubts } from '../../fit/drift/session-days.js';
import type { FieldFit } from '../../fit/field/fit-field.js';
import type { Size } from '../../geometry/types.js';
import { grouped, present } from '../../kept.js';
import type { Profile, ReadingSession } from '../../machine/types.js';
import { type Block, heading, table, words } from '../../report/document/blocks.js';
import type { Chart } from '../../report/plots/chart.js';
import type { PlottedReading } from '../../report/plots/readings-plots.js';
import { capital, count } from '../../text.js';
import { type OutputFile, REPORT_ENDINGS, reportFiles } from '../results.js';
import { shellQuoted } from '../tell.js';
import {
  gaugeLines,
  limitLines,
  openingSentence,
  parameterRows,
  RESIDUAL_HEAD,
  residualRow,
  robustSentence,
  rowShiftSentences,
  scatterSentence,
} from './tell.js';

/** What the report on a fit tells besides its result. */
export interface FitToReport {
  /** Path of the profile. */
  readonly out: string;
  readonly profile: Profile;
  /** Whether the profile was written; with why not. */
  readonly withheld?: string;
  /** The numbers are those of a machine that has changed since. */
  readonly ofBefore?: boolean;
  readonly sessions: readonly ReadingSession[];
  /** What to read next, what days differ by, what changed. */
  readonly sentences: readonly string[];
  /** What these readings can't show. */
  readonly unchecked?: readonly string[];
  /** Whether the project file names the profile: then nobody types it. */
  readonly answered?: boolean;
  /** What settles a doubt of the profile, which comes before any stencil. */
  readonly settling?: readonly string[];
  /** How the bed bends, where places were read. */
  readonly bends?: FieldFit;
}

const stemOf = (out: string): string => out.replace(/(\.profile)?\.json$/i, '');

/** Where the report on a profile goes. */
export function fitReportPaths(out: string): string[] {
  return REPORT_ENDINGS.map((ending) => `${stemOf(out)}${ending}`);
}

/** The page and the PDF on a fit. */
export async function fitReport(result: CalibrationResult, fit: FitToReport): Promise<OutputFile[]> {
  const { out, profile, sessions } = fit;
  const blocks: Block[] = [
    ...verdict(result, fit),
    heading('What to do next'),
    ...nextSteps(result, fit),
    ...fit.sentences.map((sentence) => words(sentence)),
    heading(fit.ofBefore ? 'The machine before it changed' : 'The machine'),
    ...table(
      fit.ofBefore ? 'What the readings of before say of it' : 'What the readings say of it',
      ['', 'value', '95 %', 'on the film'],
      parameterRows(result.fit),
    ),
    ...gaugeLines(result).map((line) => words(line)),
    ...limitLines(result).map((line) => words(line)),
    ...rowShiftSentences(result).map((line) => words(line)),
    heading('Plots'),
    ...(await fitPlots(result, sessions, fit.bends)),
    heading('Readings'),
    words(scatterSentence(result)),
    ...(result.lackOfFit ? [words(result.lackOfFit.sentence)] : []),
    ...faultBlocks(result),
    ...(fit.unchecked ?? []).map((sentence) => words(sentence)),
    ...table('Every reading, and what the fit leaves of it', RESIDUAL_HEAD, result.residuals.map(residualRow)),
    heading('What it was made from'),
    ...table('Record', ['what', 'value'], recordOf(profile, sessions)),
  ];
  return reportFiles(stemOf(out), { title: `${profile.name}: calibration`, blocks });
}

function verdict(result: CalibrationResult, { withheld, ofBefore, profile }: FitToReport): Block[] {
  const { flagged, robust, warnings, faults } = result;
  const found = faults.filter((fault) => fault.found);
  const doubts = ofBefore ? undefined : openDoubts(profile.sessions);
  const fine = flagged.length === 0 && found.length === 0 && !withheld && !doubts;
  const sentence = ofBefore ? undefined : openingSentence(result);
  return [
    fine
      ? words('The readings agree with each other, and no fault of the machine shows.', 'good')
      : words(
          present(
            withheld,
            doubts && `${capital(doubtIn(doubts))}: the machine may have changed.`,
            flagged.length > 0 && `${count(flagged.length, 'reading stands', 'readings stand')} out.`,
            ...found.map((fault) => fault.sentence),
          ).join(' '),
          'warning',
        ),
    ...(sentence ? [words(sentence)] : []),
    ...flagged.map((reading) => words(reading.sentence, 'warning')),
    ...(robust && flagged.length > 0 ? [words(robustSentence(result))] : []),
    ...warnings.map((warning) => words(capital(formatProblem({ ...warning, place: undefined })), 'warning')),
  ];
}

function nextSteps(
  { flagged, hints }: CalibrationResult,
  { out, withheld, ofBefore, answered, settling = [] }: FitToReport,
): Block[] {
  const ids = [...new Set(flagged.map(({ feature }) => feature))].join(', ');
  const again = flagged.length > 0 ? [`Read ${ids} again, and correct the readings file where it is wrong.`] : [];
  const named = answered ? '' : ` --profile ${shellQuoted(basename(out))} --out stencils`;
  const correct = [
    `Correct a stencil, with your paste layer for board.gbr: apertrue correct board.gbr${named}`,
    `Cut it as the coupons were cut: same program, same typed-in size, same film laid the same way round, same power and speed. Caution: ${CAUTION}`,
  ];
  const before = settling.map(capital);
  const items = ofBefore ? [] : [...again, ...before, ...hints, ...(withheld || before.length > 0 ? [] : correct)];
  return items.length === 0 ? [] : [{ kind: 'list', ordered: true, items }];
}

function faultBlocks({ faults }: CalibrationResult): Block[] {
  if (faults.length === 0) return [];
  return [words('Faults looked for:'), { kind: 'list', items: faults.map(({ sentence }) => sentence) }];
}

function recordOf(profile: Profile, sessions: readonly ReadingSession[]): string[][] {
  const { film, settings, machine } = profile;
  const optional = (what: string, value: string | number | undefined, unit = ''): string[][] =>
    value === undefined ? [] : [[what, `${value}${unit}`]];
  return [
    ...optional('machine', machine),
    ...optional('film', film?.kind),
    ...optional('thickness', film?.thicknessMm, ' mm'),
    ...optional('power', settings?.powerPercent, ' %'),
    ...optional('speed', settings?.speedMmS, ' mm/s'),
    ...optional('passes', settings?.passes),
    ...sessions.map(({ coupon, date, readings, refused, doubtful }) => [
      `coupon ${coupon}`,
      `${count(readings.length, 'reading')}${date ? `, ${date}` : ''}${refused ? ', refused' : doubtful ? ', doubtful' : ''}`,
    ]),
  ];
}

/**
 * Draws what a fit leaves of its readings: against size, by place on the bed (one map for each size of coupon), and the
 * readings themselves with the fitted line.
 */
async function fitPlots(
  result: CalibrationResult,
  sessions: readonly ReadingSession[],
  bends?: FieldFit,
): Promise<Block[]> {
  const { placeArrows } = await import('../../report/plots/place-arrows.js');
  const { plottedReadings, readingsAndFit, residualMap, residualsBySize } = await import(
    '../../report/plots/readings-plots.js'
  );
  const odd = new Set(result.flagged.map(({ session, index }) => `${session} ${index}`));
  const drawn: Block[] = [];
  const draw = ({ svg }: Chart, shown: string): void => void drawn.push({ kind: 'picture', svg, words: shown });
  const plotted = (kept: readonly number[]): PlottedReading[] =>
    plottedReadings(
      result.residuals.filter(({ session }) => kept.includes(session)),
      sessions,
      ({ session, index }) => odd.has(`${session} ${index}`),
    );
  if (bends)
    draw(
      await placeArrows(bends.marks),
      'How far the marks lie off their places, before and after the bends are corrected.',
    );
  const all = plotted([...sessions.keys()]);
  if (all.length === 0) return drawn;
  const bySize = await residualsBySize(all, typicalSdMm(result));
  draw(bySize, 'What the fit leaves of every reading, against the size of what was read.');
  draw(await readingsAndFit(all, result.fit), 'The readings with the fitted line and its 95 % interval.');
  for (const bed of bedsOf(sessions)) {
    const own = bed.map(({ place }) => place);
    const here = plotted(own);
    if (here.length === 0) continue;
    const coupons = [...new Set(own.map((k) => sessions[k].coupon))].join(', ');
    const map = await residualMap(here, bed[0].canvas, `Residuals by place on the bed: ${coupons}`);
    draw(map, `What the fit leaves of every reading, by place on the bed: ${coupons}.`);
  }
  return drawn;
}

/** Root mean square of what the readings' weights stand for; wrong readings that count don't widen it. */
function typicalSdMm({ residuals }: CalibrationResult): number {
  const sum = residuals.reduce((total, { sdMm }) => total + sdMm ** 2, 0);
  return Math.sqrt(sum / Math.max(1, residuals.length));
}

/** Places of sessions with their canvas. Coupons of one size lie on the same bed; a small one in a margin gets a map of its own. */
function bedsOf(sessions: readonly ReadingSession[]) {
  const all = sessions.flatMap((session, place) => {
    const reach = reachOf(session);
    return reach ? [{ place, canvas: session.canvas ?? reach }] : [];
  });
  return grouped(all, ({ canvas }) => `${canvas.widthMm} x ${canvas.heightMm}`).values();
}

/** The corner that the lengths of a coupon reach to; undefined where there are none. */
function reachOf({ features }: ReadingSession): Size | undefined {
  const points = features.flatMap((feature) => ('from' in feature ? [feature.from, feature.to] : []));
  if (points.length === 0) return undefined;
  return {
    widthMm: Math.max(1, ...points.map(([x]) => x)),
    heightMm: Math.max(1, ...points.map(([, y]) => y)),
  };
}
