import { availableParallelism } from 'node:os';
import { InputError } from '../../errors.js';
import { ENDINGS, isRaster } from '../../export/export-formats.js';
import type { Turn } from '../../stencil/laying.js';
import { fieldOf } from '../../stencil/make-stencil.js';
import { collectArtwork, type Pending } from '../collect-artwork.js';
import { refuseDropOfMany } from '../dropped-openings.js';
import { exitOf } from '../each-artwork.js';
import type { ExitCode } from '../exit-codes.js';
import { problemsOf } from '../failure.js';
import { rulesText } from '../film-and-rules.js';
import { isGrave } from '../grave-warnings.js';
import type { Io } from '../io.js';
import { loadProfile } from '../load-profile.js';
import { pitchOfDpi } from '../machine-words.js';
import { madeBefore } from '../made-before.js';
import { readOptionsOf } from '../options/shared.js';
import type { CorrectOptionValues } from '../options/stencils.js';
import { freePaths, REPORT_ENDINGS, writeResults } from '../results.js';
import { roundedNumbers, sha256 } from '../sidecar.js';
import { printJson, progressOf, sayCaution, sayProblems } from '../tell.js';
import { refuseIdleArtworkOptions, refuseUnusedOptions } from '../unused-options.js';
import type { CorrectInput, CorrectOutcome, CorrectSettings } from './types.js';
import { summaryText, tellCorrected } from './words.js';
import { eachOf, workersFor } from './workers.js';

export async function runCorrect(patterns: readonly string[], values: CorrectOptionValues, io: Io): Promise<ExitCode> {
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
  const { format = ['png'], canvasMm, marginMm, rules } = values;
  const inDots = format.some(isRaster);
  refuseUnusedOptions([
    [marginMm !== undefined && canvasMm !== undefined, '--margin-mm', '--canvas-mm says how large the canvas is'],
    [
      values.grey !== undefined && !format.includes('grey-png'),
      '--grey',
      'no grey image is asked for',
      'Give --format grey-png too.',
    ],
    [
      values.thicknessMm !== undefined && rules === undefined,
      '--thickness-mm',
      'it is for the rules, and there are none',
      'Give --rules too.',
    ],
    [values.burnEveryNthRow !== undefined && !inDots, '--burn-every-nth-row', 'paths have no rows'],
    [
      values.negative === true && format.every((one) => one === 'dxf'),
      '--negative',
      'outlines in a DXF have no dark and light side',
    ],
  ]);
}

async function settingsOf(values: CorrectOptionValues, io: Io): Promise<CorrectSettings> {
  const { profile, bytes } = await loadProfile(values.profile, io);
  const dpi = values.machineDpi;
  const pitchMm = values.pitchMm ?? (dpi ? pitchOfDpi(dpi) : profile.pitchMm);
  const formats = values.format ?? (['png'] as const);
  if (!pitchMm) {
    throw new InputError({
      code: 'PITCH_UNKNOWN',
      place: { file: values.profile },
      message: 'neither the profile nor the options say the pitch of the dots.',
      hint: 'Give --pitch-mm (for example 0.0254) or --machine-dpi (for example 1000), the same as for the coupon.',
    });
  }
  const canvas = values.canvasMm ?? fieldOf(profile)?.canvasMm;
  refuseUnusedOptions([
    [
      values.atMm !== undefined && !canvas,
      '--at-mm',
      'there is no fixed canvas to place the openings on',
      'Give --canvas-mm too.',
    ],
    [
      values.marginMm !== undefined && canvas !== undefined && !values.canvasMm,
      '--margin-mm',
      'the profile knows the bends of the bed, so the canvas is that of the coupons',
      'Leave it out, or say with --at-mm where on the bed the openings go.',
    ],
  ]);
  return {
    profile,
    profileSha256: sha256(bytes),
    formats,
    pitchMm: { x: pitchMm.x, y: pitchMm.y },
    marginMm: values.marginMm ?? 5,
    canvas,
    atMm: values.atMm,
    mirror: values.mirror ?? 'auto',
    rotateDeg: Number(values.rotate ?? 0) as Turn,
    negative: values.negative === true,
    scanDirection: values.sweep,
    burnEveryNthRow: values.burnEveryNthRow,
    strict: values.strict === true,
    report: values.report === true,
    drop: values.drop,
    grey: values.grey,
    rules:
      values.rules === undefined
        ? undefined
        : { ...(await rulesText(values.rules, io)), thicknessMm: values.thicknessMm },
  };
}

/** All results of a file are refused before the first is written, and no result may ever replace an input. */
async function refuseResults(
  item: Pending,
  settings: CorrectSettings,
  values: CorrectOptionValues,
  io: Io,
): Promise<void> {
  const names = [...settings.formats.map((format) => `${item.stem}${ENDINGS[format]}`), `${item.stem}.job.json`];
  if (settings.report) names.push(...REPORT_ENDINGS.map((ending) => `${item.stem}${ending}`));
  await freePaths(names, values, io);
}
