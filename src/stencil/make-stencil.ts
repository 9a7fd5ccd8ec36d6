import { InputError, type Warning } from '../errors.js';
import type { ExportFormat } from '../export/types.js';
import { boundsOf } from '../geometry/bounds.js';
import type { Opening } from '../geometry/types.js';
import { extentWarnings } from '../machine/calibrated-extent.js';
import type { ModelSource } from '../machine/machine-model.js';
import type { Profile } from '../machine/types.js';
import { type Asked, type AskedOptions, askFor, type StencilArtwork } from './asked.js';
import { type Commanded, commandFor, type SweepOptions } from './command.js';
import { faultWarnings } from './faults.js';
import { type FrameOptions, frameAround, type Pitch } from './frame.js';
import { type CutCheck, checkCut } from './guard.js';

/** How to make a stencil. Everything is optional where the profile says the pitch. */
export interface StencilOptions extends AskedOptions, FrameOptions, Omit<SweepOptions, 'pitchMm'> {
  /** Distance between two neighbouring dots across the machine's X and Y, mm; default the profile's. */
  readonly pitchMm?: Pitch;
  /** What it will be written as; default both an image and paths. */
  readonly formats?: readonly ExportFormat[];
}

/** The model of a machine and its film: a profile, or the five numbers alone. */
export type StencilProfile = ModelSource & Partial<Pick<Profile, 'pitchMm' | 'film' | 'limits' | 'sessions'>>;

/** One stencil, ready to be written. */
export interface Stencil {
  readonly asked: Asked;
  readonly commanded: Commanded;
  /** How what is commanded comes out against what was asked: look at it before anything is written. */
  readonly check: CutCheck;
  readonly warnings: readonly Warning[];
}

/**
 * A stencil from artwork: treats the openings where rules are given, mirrors and turns them, corrects them for paths
 * and for dots, finds the canvas and chooses the dots. The commands make theirs here, so that all give the same dots.
 *
 * @param artwork - openings, film mm, and the side if it is known
 * @param profile - a profile, or whatever holds the five numbers
 * @returns what was asked, what to command, and warnings
 * @throws {InputError} PITCH_UNKNOWN; CANVAS_TOO_SMALL; THICKNESS_UNKNOWN; what the correction, the rules and the writers throw
 * @example
 * const stencil = makeStencil(await readArtwork(bytes), profile);
 * const { bytes } = await writeStencil(stencil, { format: 'png' });
 */
export function makeStencil(artwork: StencilArtwork, profile: StencilProfile, options: StencilOptions = {}): Stencil {
  const { formats = ['png', 'svg'], scanDirection, lineIntervalMm, burnEveryNthRow } = options;
  const pitchMm = options.pitchMm ?? profile.pitchMm;
  if (!pitchMm) throw pitchUnknown();
  const asked = askFor(artwork, profile, options);
  const commanded = commandFor(asked.openings, profile, {
    ...{ pitchMm, scanDirection, lineIntervalMm, burnEveryNthRow, formats },
    frameFor: ({ openings }) => frameAround(openings, pitchMm, options),
  });
  const check = checkCommanded(asked.openings, commanded, profile);
  const warnings = [
    ...asked.warnings,
    ...extentWarnings(profile, boundsOf(asked.openings)),
    ...commanded.corrected.warnings,
    ...faultWarnings(check.faults),
  ];
  return { asked, commanded, check, warnings };
}

/** Looks at the dots, or at the paths where there are none. */
export function checkCommanded(
  asked: readonly Opening[],
  { dots, corrected, sweep }: Commanded,
  profile: ModelSource,
): CutCheck {
  return checkCut(asked, dots ?? { corrected }, profile, sweep.pitchMm);
}

function pitchUnknown(): InputError {
  return new InputError({
    code: 'PITCH_UNKNOWN',
    message: 'neither the profile nor the options say the pitch of the dots.',
    hint: 'Give the pitch, for example 0.0254 mm for 1000 dpi, the same as for the coupon.',
  });
}
