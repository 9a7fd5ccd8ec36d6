import { InputError } from '../errors.js';
import { packageJson } from '../package-file.js';
import { didYouMean } from '../schema/nearest.js';
import { parseShipped } from '../schema/shipped.js';

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

/**
 * Reads a limits file.
 *
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE with file, line and key
 */
export async function readLimits(text: string, file: string): Promise<Limits> {
  return parseShipped<Limits>('limits', text, file);
}

/** A paste as it comes from the jar. */
export interface Paste {
  readonly type: string;
  readonly alloy: string;
  /** Metal by weight, percent. */
  readonly metalPercent: number;
  readonly densityGPerCm3: number;
  readonly largestGrainMm: number;
  readonly grainSource: string;
}

/**
 * Density of a paste of metal and flux, g/cm3: 100 / (m / metal + (100 - m) / flux).
 * Source: Indium Corporation, "Calculating Solder Paste Usage": SAC305 with 87.75 % metal gives 4.14.
 *
 * @param metalPercent - metal by weight, 0 < m <= 100
 */
export function pasteDensity(metalPercent: number, metalGPerCm3: number, fluxGPerCm3 = 1): number {
  return 100 / (metalPercent / metalGPerCm3 + (100 - metalPercent) / fluxGPerCm3);
}

/**
 * Looks a paste up in the limits.
 *
 * @throws {InputError} PASTE_UNKNOWN, ALLOY_UNKNOWN, METAL_PERCENT
 */
export function choosePaste(
  limits: Limits,
  { type = 'type4', alloy = 'SAC305', metalPercent = limits.metalPercent.value },
): Paste {
  const paste = limits.pastes[type] ?? unknown('PASTE_UNKNOWN', 'paste', type, Object.keys(limits.pastes));
  const metal = limits.alloys[alloy] ?? unknown('ALLOY_UNKNOWN', 'alloy', alloy, Object.keys(limits.alloys));
  if (!(metalPercent > 0 && metalPercent <= 100)) {
    throw new InputError({
      code: 'METAL_PERCENT',
      message: `expected the metal by weight in percent, above 0 and up to 100, found ${metalPercent}.`,
      hint: 'It is on the jar, for example 88.5.',
    });
  }
  return {
    type,
    alloy,
    metalPercent,
    densityGPerCm3: pasteDensity(metalPercent, metal.densityGPerCm3, limits.fluxDensityGPerCm3.value),
    largestGrainMm: paste.largestGrainMm,
    grainSource: paste.source,
  };
}

function unknown(code: string, what: string, name: string, known: readonly string[]): never {
  throw new InputError({
    code,
    message: `the ${what} "${name}" is not in the limits.`,
    hint: didYouMean(name, known, `Known: ${known.join(', ')}. Others can be added to a limits file.`),
  });
}
