import { InputError, type Warning } from '../errors.js';
import { EXPORT_FORMATS, type ExportFormat, isRaster } from '../export/export-formats.js';
import type { WriteOptions, Written } from '../export/types.js';
import { checkOptions, type DotLooks, writeArtwork, writeDots } from '../export/write.js';
import { composeMaps, IDENTITY, mapOpenings, rotation, scaling } from '../geometry/affine.js';
import { openingArea } from '../geometry/area.js';
import { boundsOf, regionBounds } from '../geometry/bounds.js';
import { requireOpenings } from '../geometry/clean.js';
import { ownSize } from '../geometry/oriented-box.js';
import type { Affine, Opening, PerAxis, Point, Size } from '../geometry/types.js';
import {
  aboveZero,
  checkGiven,
  listOf,
  needed,
  objectOf,
  oneOf,
  someList,
  someNumber,
  type Want,
  zeroOrMore,
} from '../given.js';
import { present } from '../kept.js';
import { extentWarnings, type ModelSource, machineModel, pitchWarnings } from '../machine/machine-model.js';
import type { PlaceField, Profile } from '../machine/types.js';
import type { RuleSet } from '../rules/treat/rule-types.js';
import { type TreatResult, treatOpenings } from '../rules/treat/treat.js';
import { bedWarnings, type Commanded, commandFor, type SweepOptions } from './command.js';
import { type Fault, faultWarnings } from './faults.js';
import { beyondBed, type FrameOptions, frameAround } from './frame.js';
import { type CutCheck, checkCut, type ToBeCut } from './guard.js';

/** How to make a stencil. Everything is optional where the profile says the pitch. */
export interface StencilOptions extends AskedOptions, FrameOptions, Omit<SweepOptions, 'pitchMm'> {
  /** Distance between two neighbouring dots across the machine's X and Y, mm; default the profile's. */
  readonly pitchMm?: PerAxis;
  /** What the machine reaches, film mm: a larger canvas is told of. */
  readonly bed?: Size;
  /** What it will be written as; default both an image and paths. */
  readonly formats?: readonly ExportFormat[];
}

const STENCIL_OPTIONS: { readonly [key in keyof StencilOptions]-?: Want } = {
  mirror: oneOf('auto', 'yes', 'no'),
  rotateDeg: oneOf(0, 90, 180, 270),
  rules: objectOf({ rules: someList }),
  thicknessMm: someNumber,
  marginMm: zeroOrMore,
  canvas: objectOf({ widthMm: aboveZero, heightMm: aboveZero }),
  atMm: objectOf({ x: someNumber, y: someNumber }),
  scanDirection: oneOf('x', 'y'),
  burnEveryNthRow: aboveZero,
  pitchMm: objectOf({ x: aboveZero, y: aboveZero }),
  bed: objectOf({ widthMm: aboveZero, heightMm: aboveZero }),
  formats: listOf(oneOf(...EXPORT_FORMATS), 1),
};

/** The model of a machine and its film: a profile, or the five numbers alone. */
export type StencilProfile = ModelSource & Partial<Pick<Profile, 'pitchMm' | 'film' | 'limits' | 'sessions' | 'field'>>;

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
 * @throws {InputError} BAD_VALUE for options that are none; NOTHING_TO_CUT; PITCH_UNKNOWN; CANVAS_TOO_SMALL; THICKNESS_UNKNOWN; what the correction, the rules and the writers throw
 * @example makeStencil(await readArtwork(paste), profile).asked.openings.length // 108
 */
export function makeStencil(artwork: StencilArtwork, profile: StencilProfile, options: StencilOptions = {}): Stencil {
  checkGiven('artwork', artwork, { openings: needed(someList), side: oneOf('top', 'bottom') });
  checkGiven('profile', profile, {});
  checkGiven('options', options, STENCIL_OPTIONS);
  requireOpenings(artwork.openings);
  const { formats = ['png', 'svg'], scanDirection, burnEveryNthRow } = options;
  const pitchMm = options.pitchMm ?? profile.pitchMm;
  if (!pitchMm) throw pitchUnknown();
  const asked = askFor(artwork, profile, options);
  if (asked.openings.length === 0) throw nothingToCut();
  const field = fieldOf(profile);
  const commanded = commandFor(asked.openings, profile, {
    ...{ pitchMm, scanDirection, burnEveryNthRow, formats },
    ...(field ? { field } : {}),
    // Bends belong to places of the bed, and only on the coupons' canvas are these known.
    frameFor: ({ openings }, grid) =>
      frameAround(openings, grid, field ? { ...options, canvas: options.canvas ?? field.canvasMm } : options),
  });
  const check = checkCommanded(asked.openings, commanded, profile);
  const warnings = [
    ...asked.warnings,
    ...extentWarnings(profile, boundsOf(asked.openings)),
    ...(commanded.dots ? pitchWarnings(profile, commanded.sweep) : []),
    ...commanded.corrected.warnings,
    ...beyondBed(commanded.frame, machineModel(profile), options.bed, options.rotateDeg),
    ...bedWarnings(commanded.corrected.openings, commanded.frame, commanded.bed),
    ...faultWarnings(check.faults),
  ];
  return { asked, commanded, check, warnings };
}

/** The bends that a profile knows of. */
export function fieldOf({ field }: Pick<StencilProfile, 'field'>): PlaceField | undefined {
  return field && field.terms.length > 0 ? field : undefined;
}

/** Looks at the dots, or at the paths where there are none. */
export function checkCommanded(
  asked: readonly Opening[],
  { dots, corrected, sweep, bed, aimed }: Commanded,
  profile: ModelSource,
  filmOf?: ToBeCut['filmOf'],
): CutCheck {
  const check = checkCut(aimed, { ...(dots ?? { corrected }), filmOf }, profile, sweep.pitchMm);
  return bed ? { ...check, faults: check.faults.map((fault) => onAsked(fault, asked[fault.opening - 1])) } : check;
}

/** A fault found in what a machine without bends would cut, as one of the opening that was asked for. */
function onAsked(fault: Fault, asked: Opening): Fault {
  const { minX, minY, maxX, maxY } = regionBounds(asked);
  const at: Point = [(minX + maxX) / 2, (minY + maxY) / 2];
  const askedMm = ownSize(asked);
  const askedMm2 = openingArea(asked);
  const missing = fault.what.includes('missing');
  return {
    ...{ ...fault, at, askedMm, askedMm2 },
    gotMm: missing
      ? fault.gotMm
      : [askedMm[0] + fault.gotMm[0] - fault.askedMm[0], askedMm[1] + fault.gotMm[1] - fault.askedMm[1]],
    gotMm2: missing ? 0 : askedMm2 + fault.gotMm2 - fault.askedMm2,
    ...(fault.lost
      ? { lost: { ...fault.lost, at: [0, 1].map((k) => fault.lost!.at[k] + at[k] - fault.at[k]) as unknown as Point } }
      : {}),
  };
}

function nothingToCut(): InputError {
  return new InputError({
    code: 'NOTHING_TO_CUT',
    message: 'there are no openings, so there is no stencil to make.',
    hint: 'Check that this is the paste layer, and that rules and dropped openings leave something of it.',
  });
}

function pitchUnknown(): InputError {
  return new InputError({
    code: 'PITCH_UNKNOWN',
    message: 'neither the profile nor the options say the pitch of the dots.',
    hint: 'Give the pitch, for example 0.0254 mm for 1000 dpi, the same as for the coupon.',
  });
}

/**
 * Writes what the machine is commanded: dots as they were chosen, or paths.
 *
 * @param stencil - from {@link makeStencil}, made for this format
 * @throws {InputError} BAD_VALUE for what is no stencil or no format; NOT_MADE_FOR_FORMAT; what {@link writeArtwork} throws
 * @example (await writeStencil(makeStencil(artwork, profile), { format: 'png' })).rounding
 */
export async function writeStencil(stencil: { readonly commanded: Commanded }, looks: DotLooks): Promise<Written> {
  checkGiven('stencil', stencil, { commanded: needed(objectOf({ frame: objectOf({}), sweep: objectOf({}) })) });
  const { commanded } = stencil;
  const { paths, dots, frame, sweep, uncorrected } = commanded;
  const options: WriteOptions = { ...looks, ...frame, ...sweep };
  checkOptions(options, (dots?.image.placed ?? uncorrected).length);
  if (isRaster(looks.format) && dots) {
    return writeDots(dots.image, looks);
  }
  if (!isRaster(looks.format) && paths) return writeArtwork([...paths.openings, ...uncorrected], options);
  throw new InputError({
    code: 'NOT_MADE_FOR_FORMAT',
    place: { key: 'format' },
    message: `the stencil was made without ${isRaster(looks.format) ? 'dots' : 'paths'}, which ${looks.format} is written from.`,
    hint: 'Name the format in `formats` of makeStencil.',
  });
}

/** A layer, as far as its stencil depends on it. Artwork as it was read is one. */
export interface StencilArtwork {
  /** Film mm, numbered from 1 in this order. */
  readonly openings: readonly Opening[];
  readonly side?: 'top' | 'bottom';
}

/** What the film shall look like, before anything is corrected. */
export interface AskedOptions {
  /** Default `auto`: bottom layers are mirrored. */
  readonly mirror?: 'auto' | 'yes' | 'no';
  /** Turned counter-clockwise, after mirroring; default 0. */
  readonly rotateDeg?: Turn;
  /** Rules that the openings go through first; numbers count the openings that come back. */
  readonly rules?: RuleSet;
  /** Film thickness for the rules, mm; default the profile's. */
  readonly thicknessMm?: number;
}

/** What the film shall look like. */
export interface Asked {
  /** As they shall lie on the film, mm: treated, mirrored, turned. */
  readonly openings: readonly Opening[];
  /** Treated, in the artwork's own coordinates. */
  readonly treated: readonly Opening[];
  /** From the artwork's coordinates to the film's. */
  readonly map: Affine;
  readonly side?: 'top' | 'bottom';
  readonly mirrored: boolean;
  /** The rule set that the openings went through, how many there were before, and how many changes it made. */
  readonly rules?: { readonly mark: string; readonly before: number; readonly changes: number };
  readonly warnings: readonly Warning[];
}

/** The parts of a profile that rules need. */
export type FilmOfProfile = Partial<Pick<Profile, 'film' | 'limits'>>;

/**
 * Treats, mirrors and turns a layer's openings.
 *
 * @throws {InputError} THICKNESS_UNKNOWN for rules without the thickness of the film, and what {@link treatOpenings} throws
 */
export function askFor(artwork: StencilArtwork, profile: FilmOfProfile, options: AskedOptions): Asked {
  const { openings, side } = artwork;
  const result = options.rules && treated(openings, options.rules, profile, options.thicknessMm);
  const mirrored = isMirrored(options.mirror, side);
  const map = laying(mirrored, options.rotateDeg ?? 0);
  const kept = result?.openings ?? openings;
  return {
    openings: mapOpenings(map, kept),
    treated: kept,
    map,
    ...(side ? { side } : {}),
    mirrored,
    ...(result ? { rules: { mark: result.mark, before: openings.length, changes: result.changes.length } } : {}),
    warnings: [...(result?.warnings ?? []), ...looseFilm(kept)],
  };
}

/** What is cut round falls out, whatever it is: an annulus comes out as a disc. */
function looseFilm(openings: readonly Opening[]): Warning[] {
  const rings = openings.flatMap(({ islands }, i) => (islands.length > 0 ? [i + 1] : []));
  const [they, wide] =
    rings.length === 1 ? ['one opening holds', 'it comes'] : [`${rings.length} openings hold`, 'they come'];
  return present(
    rings.length > 0 && {
      code: 'FILM_FALLS_OUT',
      message: `${they} film that hangs on nothing and will fall out: ${wide} out as large as the outer edge, whatever the figures say.`,
      hint: 'Draw such an opening as parts with webs between them.',
      openings: rings,
    },
  );
}

function treated(
  openings: readonly Opening[],
  rules: RuleSet,
  { film, limits }: FilmOfProfile,
  givenMm: number | undefined,
): TreatResult {
  const thicknessMm = givenMm ?? film?.thicknessMm;
  if (thicknessMm === undefined) {
    throw new InputError({
      code: 'THICKNESS_UNKNOWN',
      message: 'the rules need the thickness of the film, and neither the options nor the profile say it.',
      hint: 'Give --thickness-mm, for example 0.1.',
    });
  }
  return treatOpenings(openings, rules, { thicknessMm, profileLimits: limits ?? {} });
}

export type Turn = 0 | 90 | 180 | 270;

/** Whether a layer is mirrored: bottom layers are, unless the user says otherwise. */
function isMirrored(choice: 'auto' | 'yes' | 'no' | undefined, side: 'top' | 'bottom' | undefined): boolean {
  return choice === 'yes' || (choice !== 'no' && side === 'bottom');
}

/** Mirroring and turning come before the correction: the machine's axes do not turn with the artwork. */
export function laying(mirrored: boolean, rotateDeg: Turn): Affine {
  if (!mirrored && rotateDeg === 0) return IDENTITY;
  return composeMaps(rotation(rotateDeg), mirrored ? scaling(-1, 1) : IDENTITY);
}
