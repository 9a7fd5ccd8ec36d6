import { InputError } from '../errors.js';
import { nearestName } from '../schema/nearest.js';
import type { Limits } from './limits.js';

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
  const nearest = nearestName(name, known);
  throw new InputError({
    code,
    message: `the ${what} "${name}" is not in the limits.`,
    hint: nearest ? `Did you mean "${nearest}"?` : `Known: ${known.join(', ')}. Others can be added to a limits file.`,
  });
}
