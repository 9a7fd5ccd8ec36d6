import { availableParallelism } from 'node:os';
import { InputError } from '../../errors.js';
import { ENDINGS } from '../../export/export-formats.js';
import type { Pending } from '../collect-artwork.js';
import { eachFile, exitOf } from '../each-artwork.js';
import type { ExitCode } from '../exit-codes.js';
import { isGrave } from '../grave-warnings.js';
import type { Io } from '../io.js';
import { loadProfile } from '../load-profile.js';
import { madeBefore } from '../made-before.js';
import { noteSaidSo } from '../next-step.js';
import { readOptionsOf } from '../options/shared.js';
import type { CorrectOptionValues } from '../options/stencils.js';
import { REPORT_ENDINGS, refuseResults, writeResults } from '../results.js';
import { roundedNumbers, sha256 } from '../sidecar.js';
import { refuseIdleStencilOptions, stencilSettings } from '../stencil-settings.js';
import { printJson, sayCaution } from '../tell.js';
import { refuseUnusedOptions } from '../unused-options.js';
import type { CorrectOutcome, CorrectSettings } from './types.js';
import { summaryText, tellCorrected } from './words.js';
import { type CorrectLane, lanesFor } from './workers.js';

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
    await writeResults(outcome.files, values, io);
    tellCorrected(outcome, settings, { folder: values.out, words: !values.json }, io);
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
  if (results.some(({ report }) => report.warnings.some(({ code }) => NOT_ARTWORK.includes(code)))) noteSaidSo(values);
  const grave = results.some(({ report }) => report.warnings.some((warning) => isGrave(warning, values)));
  return exitOf(worked, grave);
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
