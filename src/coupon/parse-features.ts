import * as z from 'zod';
import { parseJsonFile } from '../schema/json-file.js';
import type { FeaturesFile } from './features.js';

/**
 * Reads a features file (contract 1). All problems are gathered; each names file, line and key.
 *
 * @param text - the file's text, JSON
 * @param file - its name, for messages
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE, BAD_VERSION, REPEATED_FEATURE, NOMINAL_MISMATCH
 * @example parseFeatures(JSON.stringify(ruler), 'scale-ruler.features.json').coupon // 'scale-ruler'
 */
export function parseFeatures(text: string, file: string): FeaturesFile {
  return parseJsonFile(featuresSchema, text, file);
}

const id = z.string().min(1).describe('Unique; the name in the readings file.');
const say = z.string().min(1).describe('The sentence that a person reads at the bench.');
const positive = z.number().positive();
const point = z.tuple([z.number(), z.number()]);
const box = z.tuple([z.number(), z.number(), z.number(), z.number()]).describe('x0, y0, x1, y1 in mm.');

const by = z
  .literal('jaws')
  .optional()
  .describe(
    'For the jaws of a caliper: an opening from the first edge of one window to the last of another, a web over all the film between.',
  );
const length = {
  from: point.describe('One edge as commanded after snapping to the pitch, mm.'),
  to: point.describe('The other edge, in a direction square to both.'),
  nominalMm: positive.describe('|to - from|.'),
};

/** One thing to read; of a features file, and of the profile that was fitted from it. */
export const featureSchema = z.discriminatedUnion('kind', [
  z.strictObject({
    id,
    kind: z.literal('span'),
    ...length,
    side: z
      .enum(['near', 'far'])
      .optional()
      .describe('near: from film to opening at both ends when walking from -> to (default); far: the other way.'),
    say,
  }),
  z.strictObject({
    id,
    kind: z.literal('opening'),
    ...length,
    shape: z.enum(['square', 'circle']).optional().describe('What is not a slot (the default).'),
    by,
    say,
  }),
  z.strictObject({ id, kind: z.literal('web'), ...length, by, say }),
  z.strictObject({ id, kind: z.literal('cell'), powerPercent: positive.max(100), speedMmS: positive, box, say }),
  z.strictObject({
    id,
    kind: z.literal('vernier'),
    measures: z.enum(['kerf', 'row-shift']),
    axis: z.enum(['x', 'y']),
    lines: z.int().min(3),
    zeroLine: z.number().min(0),
    stepMm: positive,
    box,
    say,
  }),
]);

/** The canvas that places of features are on. */
export const canvasSchema = z.strictObject({
  widthMm: positive,
  heightMm: positive,
  pitchXMm: positive,
  pitchYMm: positive,
});

/** nominalMm may differ from |to - from| by this much, mm: files from other programs may be rounded to 0.1 um. */
const NOMINAL_TOLERANCE_MM = 1e-3;

/** The shape of contract 1; its JSON Schema ships as patterns/schemas/features.schema.json. */
export const featuresSchema: z.ZodType<FeaturesFile> = z
  .strictObject({
    format: z.literal('apertrue-features'),
    version: z.literal(1),
    coupon: z.string().min(1),
    canvas: canvasSchema,
    features: z.array(featureSchema),
  })
  .superRefine(({ features }, { addIssue }) => {
    const seen = new Set<string>();
    features.forEach((feature, i) => {
      const refuse = (key: string, code: string, message: string, hint: string): void =>
        addIssue({ code: 'custom', path: ['features', i, key], message, params: { code, hint } });
      const again = `"${feature.id}" is the name of an earlier feature too.`;
      if (seen.has(feature.id)) refuse('id', 'REPEATED_FEATURE', again, 'Give each feature an id of its own.');
      seen.add(feature.id);
      if ('box' in feature) {
        const [x0, y0, x1, y1] = feature.box;
        const hint = 'Give x0, y0, x1, y1 with x1 > x0 and y1 > y0.';
        if (x1 <= x0 || y1 <= y0) refuse('box', 'BAD_VALUE', 'the box has no area.', hint);
      } else {
        const { from, to, nominalMm } = feature;
        const apartMm = Math.hypot(to[0] - from[0], to[1] - from[1]);
        const message = `nominalMm is ${nominalMm}, but from and to lie ${apartMm.toFixed(4)} mm apart.`;
        if (Math.abs(apartMm - nominalMm) > NOMINAL_TOLERANCE_MM)
          refuse('nominalMm', 'NOMINAL_MISMATCH', message, 'The three must agree to 0.001 mm.');
      }
      if (feature.kind === 'vernier' && feature.zeroLine > feature.lines) {
        const message = `expected a number >= 0 and <= ${feature.lines}; found ${feature.zeroLine}.`;
        addIssue({ code: 'custom', path: ['features', i, 'zeroLine'], message });
      }
    });
  })
  .describe('What there is to read on a coupon. Positions in mm, y up, origin at the lower left corner.');
