import type { Artwork } from '../artwork/types.js';
import { type ExportFormat, isRaster } from '../export/export-formats.js';
import type { NarrowPart } from '../machine/correct-openings.js';
import type { Profile } from '../machine/types.js';
import type { Fault } from '../stencil/faults.js';
import type { Pitch } from '../stencil/frame.js';
import type { Turn } from '../stencil/laying.js';
import { fieldOf, makeStencil, type Stencil } from '../stencil/make-stencil.js';
import type { Kept } from './dropped-openings.js';
import { type RulesToApply, ruled, rulesText } from './film-and-rules.js';
import type { Io } from './io.js';
import { pitchOfDpi } from './machine-words.js';
import type { CutOptionValues } from './options/stencils.js';
import { refuseUnusedOptions } from './unused-options.js';

/** Everything that decides what is cut of an artwork. Plain data: it also goes to worker threads. */
export interface StencilSettings {
  readonly profile: Profile;
  readonly formats: readonly ExportFormat[];
  readonly pitchMm: Pitch;
  readonly marginMm: number;
  /** A fixed canvas, commanded mm. Not given: the openings and the margin. */
  readonly canvas?: { readonly widthMm: number; readonly heightMm: number };
  /** Where the lower left corner of the openings goes on a fixed canvas, commanded mm. Not given: in the middle. */
  readonly atMm?: { readonly x: number; readonly y: number };
  readonly mirror: 'auto' | 'yes' | 'no';
  readonly rotateDeg: Turn;
  readonly scanDirection?: 'x' | 'y';
  readonly burnEveryNthRow?: number;
  /** Rules that the openings go through before they are corrected. */
  readonly rules?: RulesToApply;
  /** Openings to leave out, by number. */
  readonly drop?: readonly number[];
}

export function refuseIdleStencilOptions(values: CutOptionValues): void {
  const { format = ['png'], canvasMm, marginMm, rules } = values;
  refuseUnusedOptions([
    [marginMm !== undefined && canvasMm !== undefined, '--margin-mm', '--canvas-mm says how large the canvas is'],
    [
      values.thicknessMm !== undefined && rules === undefined,
      '--thickness-mm',
      'it is for the rules, and there are none',
      'Give --rules too.',
    ],
    [values.burnEveryNthRow !== undefined && !format.some(isRaster), '--burn-every-nth-row', 'paths have no rows'],
  ]);
}

/** What the options of a command say, and the profile where they don't; no pitch where neither says it. */
export async function stencilSettings(
  values: CutOptionValues,
  profile: Profile,
  io: Io,
): Promise<Omit<StencilSettings, 'pitchMm'> & Partial<Pick<StencilSettings, 'pitchMm'>>> {
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
  return {
    profile,
    formats: values.format ?? ['png'],
    ...(pitchMm ? { pitchMm: { x: pitchMm.x, y: pitchMm.y } } : {}),
    marginMm: values.marginMm ?? 5,
    canvas,
    atMm: values.atMm,
    mirror: values.mirror ?? 'auto',
    rotateDeg: Number(values.rotate ?? 0) as Turn,
    scanDirection: values.sweep,
    burnEveryNthRow: values.burnEveryNthRow,
    drop: values.drop,
    rules:
      values.rules === undefined
        ? undefined
        : { ...(await rulesText(values.rules, io)), thicknessMm: values.thicknessMm },
  };
}

/** The stencil of an artwork. @param bytes - of its file: rules that it has been through leave its openings alone */
export async function stencilOf(artwork: Artwork, bytes: Uint8Array, settings: StencilSettings): Promise<Stencil> {
  const { rules, profile, formats, pitchMm, marginMm, canvas, atMm, mirror, rotateDeg } = settings;
  const { scanDirection, burnEveryNthRow } = settings;
  const { openings, ...applied } = await ruled(artwork.openings, bytes, rules);
  return makeStencil({ openings, side: artwork.side }, profile, {
    ...{ formats, pitchMm, marginMm, canvas, atMm, mirror, rotateDeg, scanDirection, burnEveryNthRow },
    ...applied,
  });
}

/** What is wrong, with the openings' own numbers. */
export function numberedFindings(
  { check, commanded }: Stencil,
  numberAt: Kept['numberAt'],
): { readonly faults: readonly Fault[]; readonly narrow: readonly NarrowPart[] } {
  return {
    faults: check.faults.map(({ with: others, ...fault }) => ({
      ...fault,
      opening: numberAt(fault.opening),
      with: others?.map(numberAt),
    })),
    narrow: commanded.corrected.narrow.map((part) => ({ ...part, opening: numberAt(part.opening) })),
  };
}
