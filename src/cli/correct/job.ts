import { basename } from 'node:path';
import { readArtwork } from '../../artwork/read.js';
import type { ReadOptions } from '../../artwork/types.js';
import { InputError, type Warning } from '../../errors.js';
import type { Written } from '../../export/types.js';
import { coarseDots } from '../../export/write.js';
import { mapOpenings } from '../../geometry/affine.js';
import type { Opening } from '../../geometry/types.js';
import { present } from '../../kept.js';
import type { NarrowPart } from '../../machine/correct-openings.js';
import { machineModel } from '../../machine/machine-model.js';
import type { StencilLayer } from '../../report/document/blocks.js';
import type { Stencil } from '../../stencil/make-stencil.js';
import { count, oneOrMany } from '../../text.js';
import { laidWords, refuseFaults, reportedCanvas } from '../machine-words.js';
import { jobRecord, type OutputFile, recordOf, reportFiles, sha256 } from '../results.js';
import { machineOf, type NumberedStencil, type StencilSettings, stencilFiles, stencilOf } from '../stencil-settings.js';
import { eachOnce } from '../tell.js';

/** What is cut, and how it is written and told of. */
export interface CorrectSettings extends StencilSettings {
  readonly profileSha256: string;
  readonly negative: boolean;
  readonly strict: boolean;
  readonly grey?: number;
  /** Whether a report is written beside it. */
  readonly report: boolean;
}

export interface CorrectInput {
  readonly file: string;
  /** Name of the results, without an ending. */
  readonly stem: string;
  readonly bytes: Uint8Array;
  readonly read: ReadOptions;
  /** What is known about the file besides what its reader says. */
  readonly warnings?: readonly Warning[];
}

/** What is told about one corrected stencil; also the heart of its sidecar. */
export type CorrectReport = ReturnType<typeof reportOf>;

export interface CorrectOutcome {
  readonly files: readonly OutputFile[];
  readonly report: CorrectReport;
}

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
  const { strict, negative, grey } = settings;
  if (strict && narrow.length > 0) throw narrowError(narrow, input.file);
  if (strict) refuseFaults(faults, ({ opening }) => `opening ${opening}`);
  const { files, written } = await stencilFiles(input.stem, stencil, settings.laid.formats, { negative, grey });
  const report = reportOf(file, settings, numbered, written);
  if (settings.report) {
    files.push(...(await correctReport(input, settings, artwork.openings, stencil, { report, numberAt }, files)));
  }
  files.push(sidecar(input, settings, report, files));
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
) {
  const { side, mirrored, rules } = asked;
  const inDots = written.find((w) => w.widthPx !== undefined);
  return {
    file,
    openings: asked.openings.length,
    /** The rule set that the openings went through, how many there were before, and how many changes it made. */
    rules,
    side,
    mirrored,
    canvas: reportedCanvas(written, commanded.frame, machineModel(profile), laid),
    /** How near what is cut comes to what was asked; of images. */
    cut: check.figures,
    /** Openings that will not come out as asked. */
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
const greyWarnings = (grey = 0): Warning[] =>
  present(
    grey !== 0 && {
      code: 'GREY_NOT_CALIBRATED',
      message: `the openings have grey level ${grey}, and coupons are black: where grey sets the power, the kerf is another, and the film may not open.`,
      hint: 'Set the power in the program of the machine as for the coupons, and leave out --grey.',
    },
  );

function sidecar(
  input: CorrectInput,
  settings: CorrectSettings,
  report: CorrectReport,
  files: readonly OutputFile[],
): OutputFile {
  const { profile, negative, strict } = settings;
  const { file: _, openings, canvas: written, warnings, ...told } = report;
  const { marginMm, canvas, atMm, mirror, rotateDeg, scanDirection, burnEveryNthRow } = settings.laid;
  return jobRecord(input.stem, {
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
    canvas: written,
    counts: {
      openings,
      notAsAsked: told.faults.length,
      narrowParts: told.narrow.length,
      warnings: warnings.length,
    },
    ...told,
    warnings: warnings.map((w) => ({ ...w, place: w.place ? { ...w.place, file: undefined } : undefined })),
    outputs: recordOf(files),
  });
}

/** The page and the PDF on one corrected stencil. @param drawn - the openings of the artwork, before any rules */
async function correctReport(
  { file, stem, bytes }: CorrectInput,
  { profile, profileSha256, laid: { scanDirection, bed } }: CorrectSettings,
  drawn: readonly Opening[],
  { asked, commanded, check }: Stencil,
  { report, numberAt }: { readonly report: CorrectReport; readonly numberAt: (place: number) => number },
  made: readonly OutputFile[],
): Promise<OutputFile[]> {
  const { rules, canvas, cut, warnings } = report;
  const { jobReport } = await import('../job-report.js');
  const source = basename(file);
  return reportFiles(
    stem,
    jobReport({
      title: `${stem}: a corrected stencil`,
      sentences: present(
        `${source}: ${count(asked.openings.length, 'opening')}, ${laidWords(report)}; corrected for ${profile.name}.`,
        rules &&
          `The rules ${rules.mark.replace(/#.*/, '')} made ${count(rules.changes, 'change')}; before them there were ${rules.before} openings.`,
      ),
      asked: asked.openings,
      called: (place) => ({ name: `${numberAt(place)}`, number: numberAt(place) }),
      commanded,
      canvas: { ...canvas, turned: scanDirection === 'y' },
      profile,
      bed,
      figures: cut,
      faults: check.faults,
      warnings,
      layers: rules && [beforeRules(mapOpenings(asked.map, drawn))],
      made,
      sources: [{ file: source, sha256: sha256(bytes) }],
      profileSha256,
    }),
  );
}

function beforeRules(openings: readonly Opening[]): StencilLayer {
  return {
    name: 'before the rules',
    outline: true,
    hidden: true,
    openings: openings.map((region) => ({ region })),
  };
}
