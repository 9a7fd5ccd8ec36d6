import * as z from 'zod';
import { EXPORT_FORMATS } from '../export/export-formats.js';
import { THICKEST_FILM_MM } from '../machine/film-hazards.js';
import { GAUGE_UNITS } from '../readings/length.js';

const size = z.number().positive().max(10_000);

/** The shape of a project file; its JSON Schema ships as patterns/schemas/project.schema.json. */
export const projectSchema = z
  .strictObject({
    format: z.literal('apertrue-project'),
    version: z.literal(1),
    machine: z.string().min(1).optional().describe('Which laser.'),
    bed: z
      .strictObject({ widthMm: size, heightMm: size })
      .optional()
      .describe('The bed, or the film if it is smaller, mm.'),
    pitchMm: z
      .strictObject({ x: z.number().min(0.01).max(0.2), y: z.number().min(0.01).max(0.2) })
      .optional()
      .describe('Distance between two dots of the machine, mm.'),
    formats: z.array(z.enum(EXPORT_FORMATS)).min(1).optional().describe('What the program of the machine takes.'),
    film: z
      .strictObject({
        kind: z.string().min(1).optional().describe('What it is made of, for example pet.'),
        thicknessMm: z.number().positive().max(THICKEST_FILM_MM).optional().describe('How thick it is, mm.'),
      })
      .optional(),
    powersPercent: z
      .array(z.number().positive().max(100))
      .min(1)
      .optional()
      .describe('Powers that a power/speed grid tries, %; a single one: it can’t be set.'),
    speedsMmS: z
      .array(z.number().positive().max(100_000))
      .min(1)
      .optional()
      .describe('Speeds that a power/speed grid tries, mm/s; a single one: it can’t be set.'),
    profile: z.string().min(1).optional().describe('The profile; a path relative to this file.'),
    out: z.string().min(1).optional().describe('Folder for results; relative to this file.'),
    gauges: z
      .array(
        z.strictObject({
          name: z.string().min(1).describe('For example caliper or loupe.'),
          resolutionMm: z.number().positive().max(1).describe('One step or division, mm.'),
          unit: z
            .enum(GAUGE_UNITS)
            .optional()
            .describe('What it shows, where not mm: readings without a unit are in it.'),
        }),
      )
      .optional()
      .describe('What you measure with.'),
    report: z.boolean().optional().describe('Whether every fit and every job gets a report, as a page and as PDF.'),
  })
  .describe('What else would be typed with every command: machine, film, where things go. Options win over it.');
