import { readArtwork } from '../../artwork/read.js';
import { InputError, type Warning } from '../../errors.js';
import { ENDINGS, markedTitle } from '../../export/export-formats.js';
import type { Written } from '../../export/types.js';
import { coarseDots } from '../../export/write.js';
import type { NarrowPart } from '../../machine/correct-openings.js';
import { machineModel } from '../../machine/machine-model.js';
import { writeStencil } from '../../stencil/make-stencil.js';
import { oneOrMany } from '../../text.js';
import { refuseFaults, reportedCanvas } from '../machine-words.js';
import { machineOf, type OutputFile, recordOf, roundedNumbers, sha256 } from '../results.js';
import { type NumberedStencil, stencilOf } from '../stencil-settings.js';
import { eachOnce } from '../tell.js';
import type { CorrectInput, CorrectOutcome, CorrectReport, CorrectSettings } from './types.js';

/**
 * One stencil from artwork to files, in memory: nothing is written before everything is there.
 *
 * @throws {InputError} what the readers throw; NARROWER_THAN_KERF and NOT_AS_ASKED under `strict`; CANVAS_TOO_SMALL
 */
export async function correctJob(input: CorrectInput, settings: CorrectSettings): Promise<CorrectOutcome> {
  const { file, bytes } = input;
  const drawn = await readArtwork(bytes, input.read);
  const numbered = await stencilOf({ file, bytes, artwork: drawn }, settings, input.warnings);
  const { artwork, stencil, numberAt, faults, narrow } = numbered;
  if (settings.strict && narrow.length > 0) throw narrowError(narrow, input.file);
  if (settings.strict) refuseFaults(faults, ({ opening }) => `opening ${opening}`);
  const written: Written[] = [];
  const files: OutputFile[] = [];
  for (const format of settings.laid.formats) {
    const { negative, grey } = settings;
    const title = markedTitle(input.stem, 'corrected');
    const result = await writeStencil(stencil, { format, negative, title, grey });
    written.push(result);
    files.push({ name: `${input.stem}${ENDINGS[format]}`, bytes: result.bytes });
  }
  const report = reportOf(file, settings, numbered, written);
  if (settings.report) {
    const { correctReport } = await import('./report.js');
    files.push(...(await correctReport(input, settings, artwork.openings, stencil, { report, numberAt }, files)));
  }
  files.push({ name: `${input.stem}.job.json`, bytes: sidecar(input, settings, report, files) });
  return { files, report };
}

function narrowError(narrow: readonly NarrowPart[], file: string): InputError {
  const list = narrow.map((part) => `${part.opening}`).slice(0, 12);
  return new InputError({
    code: 'NARROWER_THAN_KERF',
    place: { file },
    message: `${oneOrMany(narrow.length, 'part', 'parts')} of opening${list.length === 1 ? '' : 's'} ${list.join(', ')}${narrow.length > 12 ? ', …' : ''} ${narrow.length === 1 ? 'is' : 'are'} narrower than the kerf, and --strict was given.`,
    hint: 'Widen them in the artwork, or leave out --strict to keep them as the thinnest line.',
  });
}

function reportOf(
  file: string,
  { profile, laid, grey }: CorrectSettings,
  { stencil: { asked, commanded, check }, faults, narrow, warnings }: NumberedStencil,
  written: readonly Written[],
): CorrectReport {
  const { side, mirrored, rules } = asked;
  const inDots = written.find((w) => w.widthPx !== undefined);
  return {
    file,
    openings: asked.openings.length,
    rules,
    side,
    mirrored,
    canvas: reportedCanvas(written, commanded.frame, machineModel(profile), laid),
    cut: check.figures,
    faults,
    narrow,
    warnings: eachOnce([
      ...warnings,
      ...written.flatMap((w) => w.warnings),
      ...coarseDots(inDots, laid.pitchMm),
      ...greyWarnings(grey),
    ]),
  };
}

/** Coupons are cut black, so of openings that are grey nobody has measured anything. */
function greyWarnings(grey = 0): Warning[] {
  if (grey === 0) return [];
  return [
    {
      code: 'GREY_NOT_CALIBRATED',
      message: `the openings have grey level ${grey}, and coupons are black: where grey sets the power, the kerf is another, and the film may not open.`,
      hint: 'Set the power in the program of the machine as for the coupons, and leave out --grey.',
    },
  ];
}

/** Contract 4. Holds no clock and no folder, so that the same inputs give the same bytes. */
function sidecar(
  input: CorrectInput,
  settings: CorrectSettings,
  report: CorrectReport,
  files: readonly OutputFile[],
): string {
  const { profile, negative, strict } = settings;
  const { marginMm, canvas, atMm, mirror, rotateDeg, scanDirection, burnEveryNthRow } = settings.laid;
  const job = {
    format: 'apertrue-job',
    version: 1,
    source: { file: input.file.split(/[\\/]/).at(-1), sha256: sha256(input.bytes) },
    profile: { name: profile.name, sha256: settings.profileSha256 },
    parameters: {
      ...machineOf(profile),
      marginMm,
      canvasMm: canvas,
      atMm,
      mirror,
      rotateDeg,
      negative,
      strict,
      drop: settings.drop,
      scanDirection,
      burnEveryNthRow,
      read: { ...input.read, name: undefined },
    },
    canvas: report.canvas,
    counts: {
      openings: report.openings,
      notAsAsked: report.faults.length,
      narrowParts: report.narrow.length,
      warnings: report.warnings.length,
    },
    rules: report.rules,
    side: report.side,
    mirrored: report.mirrored,
    cut: report.cut,
    faults: report.faults,
    narrow: report.narrow,
    warnings: report.warnings.map((w) => ({ ...w, place: w.place ? { ...w.place, file: undefined } : undefined })),
    outputs: recordOf(files),
  };
  return `${JSON.stringify(job, roundedNumbers, 2)}\n`;
}
