import type { ReadOptions } from '../../artwork/types.js';
import type { Warning } from '../../errors.js';
import type { NarrowPart } from '../../machine/correct-openings.js';
import type { CutFigures, Fault } from '../../stencil/faults.js';
import type { ReportedCanvas } from '../machine-words.js';
import type { OutputFile } from '../results.js';
import type { StencilSettings } from '../stencil-settings.js';

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
export interface CorrectReport {
  readonly file: string;
  readonly openings: number;
  /** The rule set that the openings went through, how many there were before, and how many changes it made. */
  readonly rules?: { readonly mark: string; readonly before: number; readonly changes: number };
  readonly side?: 'top' | 'bottom';
  readonly mirrored: boolean;
  readonly canvas: ReportedCanvas;
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
