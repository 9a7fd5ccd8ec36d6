import { availableParallelism } from 'node:os';
import { InputError } from '../../errors.js';
import { ENDINGS } from '../../export/export-formats.js';
import { collectArtwork, type Pending } from '../collect-artwork.js';
import { refuseDropOfMany } from '../dropped-openings.js';
import { exitOf } from '../each-artwork.js';
import type { ExitCode } from '../exit-codes.js';
import { problemsOf } from '../failure.js';
import { isGrave } from '../grave-warnings.js';
import type { Io } from '../io.js';
import { loadProfile } from '../load-profile.js';
import { madeBefore } from '../made-before.js';
import { readOptionsOf } from '../options/shared.js';
import type { CorrectOptionValues } from '../options/stencils.js';
import { freePaths, REPORT_ENDINGS, writeResults } from '../results.js';
import { roundedNumbers, sha256 } from '../sidecar.js';
import { refuseIdleStencilOptions, stencilSettings } from '../stencil-settings.js';
import { printJson, progressOf, sayCaution, sayProblems } from '../tell.js';
import { refuseIdleArtworkOptions, refuseUnusedOptions } from '../unused-options.js';
import type { CorrectInput, CorrectOutcome, CorrectSettings } from './types.js';
import { summaryText, tellCorrected } from './words.js';
import { eachOf, workersFor } from './workers.js';

export async function runCorrect(patterns: readonly string[], values: CorrectOptionValues, io: Io): Promise<ExitCode> {
  refuseIdleStencilOptions(values);
  refuseIdleOptions(values);
  const settings = await settingsOf(values, io);
  const { pending, failed } = await collectArtwork(patterns, io);
  refuseIdleArtworkOptions(values, pending, io);
  refuseDropOfMany(values.drop, pending.length);
  const outcomes: CorrectOutcome[] = [];
  let failures = failed;
  const total = pending.length + failed;
  const step = progressOf(io, 'correcting file', pending.length);
  io.progress?.('correcting');
  const workers = await workersFor(values.jobs ?? Math.max(1, Math.min(availableParallelism() - 1, 4)), pending.length);
  const handle = async (item: Pending, correct: (typeof workers.lanes)[number]): Promise<void> => {
    try {
      const { bytes } = await item.load();
      const input: CorrectInput = {
        file: item.file,
        stem: item.stem,
        bytes,
        read: readOptionsOf(values, item.file, item.jobFunction),
        warnings: await madeBefore(item.file, bytes, io),
      };
      await refuseResults(item, settings, values, io);
      const outcome = await correct(input, settings);
      await writeResults(outcome.files, values, io);
      outcomes.push(outcome);
      tellCorrected(outcome, settings, { folder: values.out, words: !values.json }, io);
    } catch (error) {
      failures += 1;
      sayProblems(problemsOf(error, item.file), io);
    }
    step();
  };
  try {
    await eachOf(pending, workers.lanes, handle);
  } finally {
    await workers.close();
  }
  const order = new Map(pending.map((item, i) => [item.file, i]));
  outcomes.sort((p, q) => (order.get(p.report.file) ?? 0) - (order.get(q.report.file) ?? 0));
  if (values.json) {
    printJson(
      outcomes.map(({ report, files }) => ({ ...report, outputs: files.map((f) => f.name) })),
      io,
      roundedNumbers,
    );
  } else if (total > 1) io.out(summaryText(outcomes, failures, values.out));
  if (outcomes.length > 0) sayCaution(io);
  const grave = outcomes.some(({ report }) => report.warnings.some((warning) => isGrave(warning, values)));
  return exitOf({ results: outcomes, failed: failures }, grave);
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
    throw new InputError({
      code: 'PITCH_UNKNOWN',
      place: { file: values.profile },
      message: 'neither the profile nor the options say the pitch of the dots.',
      hint: 'Give --pitch-mm (for example 0.0254) or --machine-dpi (for example 1000), the same as for the coupon.',
    });
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

/** All results of a file are refused before the first is written, and no result may ever replace an input. */
async function refuseResults(
  item: Pending,
  settings: CorrectSettings,
  values: CorrectOptionValues,
  io: Io,
): Promise<void> {
  const names = [...settings.laid.formats.map((format) => `${item.stem}${ENDINGS[format]}`), `${item.stem}.job.json`];
  if (settings.report) names.push(...REPORT_ENDINGS.map((ending) => `${item.stem}${ending}`));
  await freePaths(names, values, io);
}
