import type { ReadOptions } from '../../artwork/types.js';
import type { Warning } from '../../errors.js';
import type { ExportFormat } from '../../export/export-formats.js';
import type { NarrowPart } from '../../machine/correct-openings.js';
import type { Profile } from '../../machine/types.js';
import type { CutFigures, Fault } from '../../stencil/faults.js';
import type { Turn } from '../../stencil/laying.js';
import type { RulesToApply } from '../film-and-rules.js';
import type { OutputFile } from '../results.js';

/** Everything that decides what one corrected stencil looks like. Plain data: it also goes to worker threads. */
export interface CorrectSettings {
  readonly profile: Profile;
  readonly profileSha256: string;
  readonly formats: readonly ExportFormat[];
  readonly pitchMm: { readonly x: number; readonly y: number };
  readonly marginMm: number;
  /** A fixed canvas, commanded mm. Not given: the openings and the margin. */
  readonly canvas?: { readonly widthMm: number; readonly heightMm: number };
  /** Where the lower left corner of the openings goes on a fixed canvas, commanded mm. Not given: in the middle. */
  readonly atMm?: { readonly x: number; readonly y: number };
  readonly mirror: 'auto' | 'yes' | 'no';
  readonly rotateDeg: Turn;
  readonly negative: boolean;
  readonly scanDirection?: 'x' | 'y';
  readonly burnEveryNthRow?: number;
  readonly strict: boolean;
  readonly grey?: number;
  /** Rules that the openings go through before they are corrected. */
  readonly rules?: RulesToApply;
  /** Whether a report is written beside it. */
  readonly report: boolean;
  /** Openings to leave out, by number. */
  readonly drop?: readonly number[];
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
export interface CorrectReport {
  readonly file: string;
  readonly openings: number;
  /** The rule set that the openings went through, how many there were before, and how many changes it made. */
  readonly rules?: { readonly mark: string; readonly before: number; readonly changes: number };
  readonly side?: 'top' | 'bottom';
  readonly mirrored: boolean;
  readonly canvas: {
    readonly widthMm: number;
    readonly heightMm: number;
    readonly widthPx?: number;
    readonly heightPx?: number;
    readonly pitchXMm: number;
    readonly pitchYMm: number;
    /** Where the canvas's lower left corner lies in the corrected artwork's own coordinates, mm. */
    readonly originMm: readonly [number, number];
    /** What the canvas will measure on the film. */
    readonly filmWidthMm: number;
    readonly filmHeightMm: number;
  };
  /** How near what is cut comes to what was asked; of images. */
  readonly cut?: CutFigures;
  /** Openings that will not come out as asked. */
  readonly faults: readonly Fault[];
  readonly narrow: readonly NarrowPart[];
  readonly warnings: readonly Warning[];
}

export interface CorrectOutcome {
  readonly files: readonly OutputFile[];
  readonly report: CorrectReport;
}
