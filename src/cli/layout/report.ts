import { basename } from 'node:path';
import type { Warning } from '../../errors.js';
import type { Written } from '../../export/types.js';
import type { Affine } from '../../geometry/types.js';
import type { FilmSheet } from '../../layout/types.js';
import type { MachineModel, Profile } from '../../machine/types.js';
import type { CutFigures } from '../../stencil/faults.js';
import type { Pitch } from '../../stencil/frame.js';
import type { CommandedCanvas } from '../machine-words.js';
import type { LayoutOptionValues } from '../options/stencils.js';
import type { OutputFile } from '../output-file.js';
import { machineOf, roundedNumbers, sha256 } from '../sidecar.js';
import { parametersOf } from './job-mark.js';
import type { CommandedSheet, FaultOnSheet, NarrowOnSheet } from './sheet.js';
import type { LaidArtwork } from './stencil.js';

/** What is told about a sheet; also the heart of its sidecar. */
export interface LayoutReport {
  readonly stencils: readonly {
    readonly name: string;
    readonly side?: 'top' | 'bottom';
    readonly mirrored: boolean;
    /** What is cut into its film. */
    readonly mark: string;
    /** Which of the sources it is made from, counting from 1, and how that lies on its piece of film. */
    readonly source: number;
    readonly fromArtwork: Affine;
    readonly atMm: readonly [number, number];
    readonly widthMm: number;
    readonly heightMm: number;
  }[];
  readonly sheetMm: { readonly widthMm: number; readonly heightMm: number };
  readonly canvas: CommandedCanvas & {
    readonly pitchXMm: number;
    readonly pitchYMm: number;
    readonly originMm: readonly [number, number];
  };
  /** How many openings of each kind are on the sheet. */
  readonly counts: Readonly<Record<string, number>>;
  /** How near what is cut comes to what was asked; of images. */
  readonly cut?: CutFigures;
  readonly faults: readonly FaultOnSheet[];
  readonly narrow: readonly NarrowOnSheet[];
  readonly warnings: readonly Warning[];
}

/** Gathers what is told about a sheet; `laid` in the order of the sheet's pieces. */
export function reportOf(
  sheet: FilmSheet,
  laid: readonly LaidArtwork[],
  { commanded, narrow, figures, faults }: CommandedSheet,
  written: readonly Written[],
  model: MachineModel,
  pitch: Pitch,
  warnings: readonly Warning[],
): LayoutReport {
  const inDots = written.find(({ widthPx }) => widthPx !== undefined);
  const { widthMm, heightMm } = inDots ?? commanded.frame.canvas;
  const counts: Record<string, number> = {};
  for (const { part } of sheet.openings) counts[part] = (counts[part] ?? 0) + 1;
  return {
    stencils: sheet.pieces.map((piece, i) => ({
      name: piece.name,
      ...(laid[i].side ? { side: laid[i].side } : {}),
      mirrored: laid[i].mirrored,
      mark: laid[i].source.mark,
      source: sourcesOf(laid).indexOf(laid[i]) + 1,
      fromArtwork: laid[i].fromArtwork,
      atMm: piece.at,
      widthMm: piece.widthMm,
      heightMm: piece.heightMm,
    })),
    sheetMm: { widthMm: sheet.widthMm, heightMm: sheet.heightMm },
    canvas: {
      widthMm,
      heightMm,
      ...(inDots ? { widthPx: inDots.widthPx, heightPx: inDots.heightPx } : {}),
      pitchXMm: pitch.x,
      pitchYMm: pitch.y,
      originMm: commanded.frame.originMm,
      filmWidthMm: widthMm * model.scaleX,
      filmHeightMm: heightMm * model.scaleY,
    },
    counts,
    ...(figures ? { cut: figures } : {}),
    faults,
    narrow,
    warnings,
  };
}

const sourcesOf = (laid: readonly LaidArtwork[]): LaidArtwork[] => [...new Set(laid)];

/** Each warning once: copies of a stencil have the same ones. */
export function eachOnce(warnings: readonly Warning[]): Warning[] {
  return [...new Map(warnings.map((warning) => [JSON.stringify(warning), warning])).values()];
}

/** Contract 4 for a sheet. Holds no clock and no folder, so that the same inputs give the same bytes. */
export function sheetSidecar(
  stem: string,
  report: LayoutReport,
  laid: readonly LaidArtwork[],
  { profile, bytes }: { readonly profile: Profile; readonly bytes: Uint8Array },
  values: LayoutOptionValues,
  files: readonly OutputFile[],
): OutputFile {
  const job = {
    format: 'apertrue-job',
    version: 1,
    sources: sourcesOf(laid).map((one) => ({
      ...one.source,
      stencils: laid.filter((other) => other === one).length,
    })),
    profile: { name: profile.name, sha256: sha256(bytes) },
    parameters: { ...parametersOf(values), ...machineOf(profile) },
    ...report,
    warnings: report.warnings.map((w) => ({
      ...w,
      place: w.place?.file ? { ...w.place, file: basename(w.place.file) } : w.place,
    })),
    outputs: files.map(({ name, bytes: content }) => ({ name, sha256: sha256(content) })),
  };
  const text = `${JSON.stringify(job, roundedNumbers, 2)}\n`;
  return { name: `${stem}.sheet.job.json`, bytes: new TextEncoder().encode(text) };
}
