import { sideUnknown } from '../artwork/side.js';
import { InputError, type Warning } from '../errors.js';
import { ENDINGS, type ExportFormat, isRaster, markedTitle } from '../export/export-formats.js';
import type { Written } from '../export/types.js';
import type { DotLooks } from '../export/write.js';
import { boundsOf } from '../geometry/bounds.js';
import type { Opening } from '../geometry/types.js';
import { present } from '../kept.js';
import { machineModel } from '../machine/machine-model.js';
import type { Bends, MachineModel, Profile } from '../machine/types.js';
import { packageFile } from '../package-file.js';
import { laserLimits } from '../rules/film.js';
import { withFileMarks } from '../rules/treat/mark.js';
import { readRules } from '../rules/treat/read-rules.js';
import type { RuleSet } from '../rules/treat/rule-types.js';
import { didYouMean } from '../schema/nearest.js';
import { DEFAULT_MARGIN_MM } from '../stencil/frame.js';
import { fieldOf, makeStencil, type StencilOptions, type Turn, writeStencil } from '../stencil/make-stencil.js';
import { numbered, type ReadLayer, withoutDropped } from './each-artwork.js';
import type { Io } from './io.js';
import { pitchOfDpi } from './machine-words.js';
import { refuseUnusedOptions } from './options/option.js';
import type { CutOptionValues } from './options/stencils.js';
import { profileWarnings } from './profile-doubts.js';
import { findProject, loadProfile } from './project-file.js';
import type { OutputFile } from './results.js';

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

/** @param options - that say it */
export const pitchUnknown = (file: string, options: string): InputError =>
  new InputError({
    code: 'PITCH_UNKNOWN',
    place: { file },
    message: 'neither the profile nor the options say the pitch of the dots.',
    hint: `Give ${options}, the same as for the coupon.`,
  });

/** A stencil, and what is told of it, with the openings' own numbers. */
export type NumberedStencil = Awaited<ReturnType<typeof stencilOf>>;

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
) {
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
      ...profileWarnings(profile, boundsOf(stencil.asked.openings)),
    ],
  };
}

/** A stencil or a sheet in every format that is asked for. @param ending - between its name and that of the format */
export async function stencilFiles(
  stem: string,
  stencil: Parameters<typeof writeStencil>[0],
  formats: readonly ExportFormat[],
  looks: Pick<DotLooks, 'negative' | 'grey'> = {},
  ending = '',
): Promise<{ readonly files: OutputFile[]; readonly written: readonly Written[] }> {
  const title = markedTitle(stem, 'corrected');
  const written: Written[] = [];
  for (const format of formats) written.push(await writeStencil(stencil, { ...looks, format, title }));
  const files = written.map(({ bytes }, i) => ({ name: `${stem}${ending}${ENDINGS[formats[i]]}`, bytes }));
  return { files, written };
}

/** The machine that a stencil was corrected for: its five numbers, and how its bed is bent. */
export function machineOf(profile: Profile): { machine: MachineModel; bends?: Bends } {
  const field = fieldOf(profile);
  if (!field) return { machine: machineModel(profile) };
  const { canvasMm, areaMm, terms } = field;
  return { machine: machineModel(profile), bends: { canvasMm, areaMm, terms } };
}

const SHIPPED = packageFile('patterns/rules/');

/**
 * The text of a rule set: a file by its path, or one that ships with the package by its name. Text, because a rule set
 * itself holds functions, which can't go to another thread.
 *
 * @throws {InputError} RULES_UNKNOWN
 */
export async function rulesText(nameOrFile: string, io: Io): Promise<{ text: string; file: string }> {
  const shipped = /^[\w-]+$/.test(nameOrFile) && `${SHIPPED}${nameOrFile}.json`;
  for (const file of present(nameOrFile, shipped))
    if (await io.exists(file)) return { text: new TextDecoder().decode(await io.readFile(file)), file };
  const names = (await io.expand(`${SHIPPED.replaceAll('\\', '/')}*.json`)).map((path) =>
    path.replace(/^.*[\\/]/, '').replace(/\.json$/, ''),
  );
  throw new InputError({
    code: 'RULES_UNKNOWN',
    message: `there is no rule set or file "${nameOrFile}".`,
    hint: didYouMean(nameOrFile, names, `Rule sets by name: ${names.join(', ')}; or give a file.`),
  });
}

/** The rules that the options name, if they name any. */
export async function rulesOf(
  { rules, thicknessMm }: { readonly rules?: string; readonly thicknessMm?: number },
  io: Io,
): Promise<RulesToApply | undefined> {
  return rules === undefined ? undefined : { ...(await rulesText(rules, io)), thicknessMm };
}

/** A thickness for rules that nobody asks for. */
export const idleThickness = ({ rules, thicknessMm }: { readonly rules?: string; readonly thicknessMm?: number }) =>
  [
    thicknessMm !== undefined && rules === undefined,
    '--thickness-mm',
    'it is for the rules, and there are none',
    'Give --rules too.',
  ] as const;

/** A rule set on its way into a job: plain data, so that it can go to another thread. */
export interface RulesToApply {
  readonly text: string;
  readonly file: string;
  /** Film thickness, mm; not given: the profile's. */
  readonly thicknessMm?: number;
}

/**
 * Openings on their way through rules, if there are any.
 *
 * @param bytes - the file that the openings were read from: rules that it has been through leave them alone
 */
export async function ruled(
  openings: readonly Opening[],
  bytes: Uint8Array,
  rules: RulesToApply | undefined,
): Promise<{ readonly openings: readonly Opening[]; readonly rules?: RuleSet; readonly thicknessMm?: number }> {
  if (!rules) return { openings };
  const { text, file, thicknessMm } = rules;
  return { openings: withFileMarks(openings, bytes), rules: await readRules(text, file), thicknessMm };
}

/**
 * Film thickness and the laser's limits from the options, else from the profile.
 *
 * @throws {InputError} THICKNESS_UNKNOWN when neither says how thick the film is
 */
export async function filmFacts(values: { readonly profile?: string; readonly thicknessMm?: number }, io: Io) {
  const profile = values.profile === undefined ? undefined : (await loadProfile(values.profile, io)).profile;
  const thicknessMm = values.thicknessMm ?? profile?.film?.thicknessMm;
  if (thicknessMm === undefined) {
    throw new InputError({
      code: 'THICKNESS_UNKNOWN',
      place: values.profile === undefined ? undefined : { file: values.profile, key: 'film.thicknessMm' },
      message: 'the thickness of the film is not known.',
      hint: 'Give --thickness-mm, for example 0.1, or a profile that says it.',
    });
  }
  return { thicknessMm, profile, profileLimits: laserLimits(profile?.limits) };
}
