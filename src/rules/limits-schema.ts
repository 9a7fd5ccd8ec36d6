import * as z from 'zod';
import type { Limits } from './limits.js';

const positive = z.number().positive();
const source = z.string().min(1);
const limit = (what: string) => z.strictObject({ value: positive, source }).describe(what);

/** Schema of a limits file. Import it lazily: zod is slow to load. */
export const limitsSchema: z.ZodType<Limits> = z
  .strictObject({
    $schema: z.string().optional(),
    format: z.literal('apertrue-limits'),
    version: z.literal(1),
    areaRatio: limit('Open area over wall area (perimeter x thickness), at least.'),
    aspectRatio: limit('Narrowest width over film thickness, at least; for long openings.'),
    longFromWidths: limit('An opening is long when its length exceeds this many widths.'),
    grainsAcross: limit('Narrowest width in largest powder grains, at least.'),
    webPerThickness: limit('Web over film thickness, at least.'),
    nearPercent: limit('A figure within this much above its limit is marked as near it, percent.'),
    pastes: z.record(z.string(), z.strictObject({ largestGrainMm: positive, source })).describe('Powder types.'),
    alloys: z.record(z.string(), z.strictObject({ densityGPerCm3: positive, source })).describe('Alloys.'),
    fluxDensityGPerCm3: limit('Density of the flux, g/cm3.'),
    metalPercent: limit('Metal by weight when nothing else is said, percent.'),
  })
  .describe('What the openings of a paste stencil are held against.');
