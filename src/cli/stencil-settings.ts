import { sideUnknown } from '../artwork/side.js';
import type { Warning } from '../errors.js';
import { isRaster } from '../export/export-formats.js';
import type { NarrowPart } from '../machine/correct-openings.js';
import type { Profile } from '../machine/types.js';
import type { Fault } from '../stencil/faults.js';
import { DEFAULT_MARGIN_MM } from '../stencil/frame.js';
import type { Turn } from '../stencil/laying.js';
import { fieldOf, makeStencil, type Stencil, type StencilOptions } from '../stencil/make-stencil.js';
import { type Kept, numbered, withoutDropped } from './dropped-openings.js';
import type { ReadLayer } from './each-artwork.js';
import { idleThickness, type RulesToApply, ruled, rulesOf } from './film-and-rules.js';
import { profileWarnings } from './grave-warnings.js';
import type { Io } from './io.js';
import { pitchOfDpi } from './machine-words.js';
import type { CutOptionValues } from './options/stencils.js';
import { findProject } from './project-file.js';
import { refuseUnusedOptions } from './unused-options.js';

/** Everything that decides what is cut of an artwork. Plain data: it also goes to worker threads. */
export interface StencilSettings {
  readonly profile: Profile;
  /** How it is laid and drawn. */
  readonly laid: StencilOptions &
    Required<Pick<StencilOptions, 'formats' | 'pitchMm' | 'marginMm' | 'mirror' | 'rotateDeg'>>;
  /** Rules that the openings go through before they are corrected. */
  readonly rules?: RulesToApply;
  /** Openings to leave out, by number. */
  readonly drop?: readonly number[];
}

export function refuseIdleStencilOptions(values: CutOptionValues): void {
  const { format = ['png'], canvasMm, marginMm } = values;
  refuseUnusedOptions([
    [marginMm !== undefined && canvasMm !== undefined, '--margin-mm', '--canvas-mm says how large the canvas is'],
    idleThickness(values),
    [values.burnEveryNthRow !== undefined && !format.some(isRaster), '--burn-every-nth-row', 'paths have no rows'],
  ]);
}

/**
 * What the options of a command say, and the profile where they don't.
 *
 * @param unpitched - what is to be done where neither says the pitch of the dots
 */
export async function stencilSettings(
  values: CutOptionValues,
  profile: Profile,
  io: Io,
  unpitched: () => Pick<StencilSettings['laid'], 'pitchMm' | 'formats'>,
): Promise<StencilSettings> {
  const dpi = values.machineDpi;
  const pitchMm = values.pitchMm ?? (dpi ? pitchOfDpi(dpi) : profile.pitchMm);
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
  const { format = ['png'] } = values;
  return {
    profile,
    laid: {
      ...(pitchMm ? { formats: format, pitchMm: { x: pitchMm.x, y: pitchMm.y } } : unpitched()),
      marginMm: values.marginMm ?? DEFAULT_MARGIN_MM,
      canvas,
      atMm: values.atMm,
      mirror: values.mirror ?? 'auto',
      rotateDeg: Number(values.rotate ?? 0) as Turn,
      scanDirection: values.sweep,
      burnEveryNthRow: values.burnEveryNthRow,
      bed: (await findProject(io))?.project.bed,
    },
    drop: values.drop,
    rules: await rulesOf(values, io),
  };
}

/** A stencil, and what is told of it, with the openings' own numbers. */
export interface NumberedStencil extends Kept {
  readonly stencil: Stencil;
  readonly faults: readonly Fault[];
  readonly narrow: readonly NarrowPart[];
  readonly warnings: readonly Warning[];
}

/**
 * The stencil of an artwork as read.
 *
 * @param bytes - of its file: rules that it has been through leave its openings alone
 * @param before - what is known of the file besides what its reader says
 */
export async function stencilOf(
  { file, bytes, artwork: drawn }: Pick<ReadLayer, 'file' | 'bytes' | 'artwork'>,
  { profile, rules, drop, laid }: StencilSettings,
  before: readonly Warning[] = [],
): Promise<NumberedStencil> {
  const { artwork, numberAt } = withoutDropped(drawn, { drop, rules }, file);
  const { openings, ...applied } = await ruled(artwork.openings, bytes, rules);
  const stencil = makeStencil({ openings, side: artwork.side }, profile, { ...laid, ...applied });
  const { check, commanded } = stencil;
  return {
    artwork,
    numberAt,
    stencil,
    faults: check.faults.map(({ with: others, ...fault }) => ({
      ...fault,
      opening: numberAt(fault.opening),
      with: others?.map(numberAt),
    })),
    narrow: commanded.corrected.narrow.map((part) => ({ ...part, opening: numberAt(part.opening) })),
    warnings: [
      ...before,
      ...sideUnknown(artwork, file, laid.mirror),
      ...artwork.warnings,
      ...stencil.warnings.map((warning) => numbered(warning, numberAt)),
      ...profileWarnings(profile),
    ],
  };
}
