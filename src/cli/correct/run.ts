import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { fileURLToPath } from 'node:url';
import { InputError } from '../../errors.js';
import { ENDINGS } from '../../export/export-formats.js';
import type { NarrowPart } from '../../machine/correct-openings.js';
import { count, visible } from '../../text.js';
import { eachFile, exitOf, type Lanes, type Pending } from '../each-artwork.js';
import type { ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import { faultRows, figuresRow, firstRows, fixedMm, laidWords, machineRows, narrowText } from '../machine-words.js';
import { refuseUnusedOptions } from '../options/option.js';
import { readOptionsOf } from '../options/shared.js';
import type { CorrectOptionValues } from '../options/stencils.js';
import { loadProfile } from '../project-file.js';
import { madeBefore, REPORT_ENDINGS, refuseResults, roundedNumbers, sha256, writeResults } from '../results.js';
import { pitchUnknown, refuseIdleStencilOptions, stencilSettings } from '../stencil-settings.js';
import { listedIn, printJson, row, sayCaution, sayWarnings, sayWrote } from '../tell.js';
import { type CorrectInput, type CorrectOutcome, type CorrectReport, type CorrectSettings, correctJob } from './job.js';
import type { WorkerAnswer } from './worker.js';

/** What was corrected is no artwork: nobody is told to cut it. */
const NOT_ARTWORK = ['ALREADY_CORRECTED', 'IS_COUPON'];

export async function runCorrect(patterns: readonly string[], values: CorrectOptionValues, io: Io): Promise<ExitCode> {
  refuseIdleStencilOptions(values);
  refuseIdleOptions(values);
  const settings = await settingsOf(values, io);
  const jobs = values.jobs ?? Math.max(1, Math.min(availableParallelism() - 1, 4));
  const work = async ({ file, stem, jobFunction, load }: Pending, correct: CorrectLane): Promise<CorrectOutcome> => {
    const { bytes } = await load();
    const read = readOptionsOf(values, file, jobFunction);
    const input = { file, stem, bytes, read, warnings: await madeBefore(file, bytes, io) };
    // All results of a file are refused before the first is written.
    const endings = [...settings.laid.formats.map((format) => ENDINGS[format]), '.job.json'];
    if (settings.report) endings.push(...REPORT_ENDINGS);
    const names = endings.map((ending) => `${stem}${ending}`);
    await refuseResults(names, values, io);
    const outcome = await correct(input, settings);
    const paths = await writeResults(outcome.files, values, io);
    const { report } = outcome;
    if (!values.json) io.out(reportText(report, settings));
    sayWarnings(report.warnings, io, report.file, listedIn(values));
    sayWrote(paths, io);
    return outcome;
  };
  io.progress?.('correcting');
  const worked = await eachFile(patterns, values, io, 'correcting file', work, (files) => lanesFor(jobs, files));
  const { results, failed } = worked;
  if (values.json) {
    printJson(
      results.map(({ report, files }) => ({ ...report, outputs: files.map((f) => f.name) })),
      io,
      roundedNumbers,
    );
  } else if (results.length + failed > 1) io.out(summaryText(results, failed, values.out));
  if (results.length > 0) sayCaution(io);
  if (results.some(({ report }) => report.warnings.some(({ code }) => NOT_ARTWORK.includes(code)))) io.run.next = [];
  return exitOf(worked);
}

function refuseIdleOptions(values: CorrectOptionValues): void {
  const { format = ['png'] } = values;
  refuseUnusedOptions([
    [
      values.grey !== undefined && !format.includes('grey-png'),
      '--grey',
      'no grey image is asked for',
      'Give --format grey-png too.',
    ],
    [
      values.negative === true && format.every((one) => one === 'dxf'),
      '--negative',
      'outlines in a DXF have no dark and light side',
    ],
  ]);
}

async function settingsOf(values: CorrectOptionValues, io: Io): Promise<CorrectSettings> {
  const { profile, bytes } = await loadProfile(values.profile, io);
  const stencil = await stencilSettings(values, profile, io, () => {
    const options = '--pitch-mm (for example 0.0254) or --machine-dpi (for example 1000)';
    throw pitchUnknown(values.profile, options);
  });
  return {
    ...stencil,
    profileSha256: sha256(bytes),
    negative: values.negative === true,
    strict: values.strict === true,
    report: values.report === true,
    grey: values.grey,
  };
}

/** What was corrected, in words. */
function reportText(report: CorrectReport, settings: CorrectSettings): string {
  const head = `${visible(report.file)}: ${count(report.openings, 'opening')}, ${laidWords(report)}\n`;
  const { rules } = report;
  const ruled =
    rules && `${rules.mark.replace(/#.*/, '')}: ${count(rules.changes, 'change')}, ${rules.before} openings before`;
  return [
    head,
    ruled ? row('rules', ruled) : '',
    ...machineRows(
      { ...report.canvas, turned: settings.laid.scanDirection === 'y' },
      settings.profile,
      settings.laid.bed,
    ),
    figuresRow(report.cut),
    faultRows(report.faults, ({ opening }) => `opening ${opening}`),
    narrowRows(report.narrow),
  ].join('');
}

function narrowRows(narrow: readonly NarrowPart[]): string {
  if (narrow.length === 0) return '';
  const are = count(narrow.length, 'part is', 'parts are');
  const rowOf = (part: NarrowPart): string => {
    const what = part.extent === 'whole' ? '' : `a part near ${part.at.map(fixedMm).join(', ')}: `;
    return row('', `opening ${part.opening}: ${what}${narrowText(part)}`);
  };
  return row('narrow', `${are} narrower than the kerf and kept as the thinnest line:`) + firstRows(narrow, rowOf);
}

/** How a batch went. */
function summaryText(outcomes: readonly CorrectOutcome[], failures: number, folder: string): string {
  const openings = outcomes.reduce((sum, { report }) => sum + report.openings, 0);
  const narrow = outcomes.filter(({ report }) => report.narrow.length > 0).length;
  return (
    `\n${outcomes.length} of ${outcomes.length + failures} files corrected into ${folder}, ${count(openings, 'opening')}` +
    `${narrow > 0 ? `; ${narrow} with parts narrower than the kerf` : ''}${failures > 0 ? `; ${failures} failed (see the errors above)` : ''}.\n`
  );
}

/** Does jobs, in this thread or in another. */
export type CorrectLane = (input: CorrectInput, settings: CorrectSettings) => Promise<CorrectOutcome>;

/** One in work and one that waits there: while this thread is busy with its own job, it can't hand out more. */
const JOBS_A_THREAD = 3;

/** This thread, and a pool of others where there are several files and the compiled worker is there. */
async function lanesFor(jobs: number, files: number): Promise<Lanes<CorrectLane>> {
  const worker = fileURLToPath(new URL('./worker.js', import.meta.url));
  const others = Math.min(jobs, files) - 1;
  if (others < 1 || !existsSync(worker)) return { lanes: [correctJob], close: async () => undefined };
  const { Tinypool } = await import('tinypool');
  const pool = new Tinypool({
    filename: worker,
    minThreads: others,
    maxThreads: others,
    concurrentTasksPerWorker: JOBS_A_THREAD,
  });
  const elsewhere: CorrectLane = async (input, settings) => {
    const answer = (await pool.run({ input, settings })) as WorkerAnswer;
    if ('problems' in answer) throw new InputError(answer.problems);
    return answer.outcome;
  };
  const first = Array.from({ length: others }, () => elsewhere);
  const waiting = Array.from({ length: others * (JOBS_A_THREAD - 1) }, () => elsewhere);
  // A thread that must start and warm up costs as much as several files: this one, warm already, does its share.
  return { lanes: [...first, correctJob, ...waiting, correctJob], close: () => pool.destroy() };
}
