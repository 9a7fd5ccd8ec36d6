import { packageJson } from '../package-file.js';

/** A number to keep, and who says so. Everything in a limits file can be edited. */
export interface Limit {
  readonly value: number;
  readonly source: string;
}

/** Powder sizes of a paste type, mm. */
export interface PasteType {
  /** Largest grain of the main range. */
  readonly largestGrainMm: number;
  readonly source: string;
}

export interface Alloy {
  readonly densityGPerCm3: number;
  readonly source: string;
}

/** What openings are held against. */
export interface Limits {
  readonly format: 'apertrue-limits';
  readonly version: 1;
  /** Open area over wall area, at least. */
  readonly areaRatio: Limit;
  /** Narrowest width over film thickness, at least; for openings longer than `longFromWidths` widths. */
  readonly aspectRatio: Limit;
  readonly longFromWidths: Limit;
  /** Narrowest width in largest powder grains, at least. */
  readonly grainsAcross: Limit;
  /** Web over film thickness, at least. */
  readonly webPerThickness: Limit;
  /** A figure within this much above its limit is marked as near it, percent. */
  readonly nearPercent: Limit;
  readonly pastes: Readonly<Record<string, PasteType>>;
  readonly alloys: Readonly<Record<string, Alloy>>;
  readonly fluxDensityGPerCm3: Limit;
  /** Metal by weight when nothing else is said, percent. */
  readonly metalPercent: Limit;
}

const { $schema: _, ...limits } = packageJson<Limits & { readonly $schema: string }>('patterns/limits.json');

/**
 * The limits that hold when no file is given, and what users start from. Ratios: IPC-7525, as quoted in the
 * STMicroelectronics data sheets ESDALC6V1-1M2 and ESDALC5-1BM2. All of it was found on metal foil.
 */
export const DEFAULT_LIMITS: Limits = limits;
