import { z } from 'zod';

const id = z.string().min(1).describe('Unique; the name in the readings file.');
const say = z.string().min(1).describe('The sentence that a person reads at the bench.');
const point = z.tuple([z.number(), z.number()]);
const box = z.tuple([z.number(), z.number(), z.number(), z.number()]).describe('x0, y0, x1, y1 in mm.');

const by = z
  .literal('jaws')
  .optional()
  .describe(
    'For the jaws of a caliper: an opening from the first edge of one window to the last of another, a web over all the film between.',
  );
const length = {
  id,
  from: point.describe('One edge as commanded after snapping to the pitch, mm.'),
  to: point.describe('The other edge, in a direction square to both.'),
  nominalMm: z.number().positive().describe('|to - from|.'),
  say,
};

/**
 * The shape of contract 1, for its JSON Schema only: reading a file goes through `parseFeatures`, which starts faster
 * and checks what a schema can't (distances, repeated ids).
 */
export const featuresSchema = z
  .strictObject({
    format: z.literal('apertrue-features'),
    version: z.literal(1),
    coupon: z.string().min(1),
    canvas: z.strictObject({
      widthMm: z.number().positive(),
      heightMm: z.number().positive(),
      pitchXMm: z.number().positive(),
      pitchYMm: z.number().positive(),
    }),
    features: z.array(
      z.discriminatedUnion('kind', [
        z.strictObject({
          ...length,
          kind: z.literal('span'),
          side: z
            .enum(['near', 'far'])
            .optional()
            .describe('near: from film to opening at both ends when walking from -> to (default); far: the other way.'),
        }),
        z.strictObject({
          ...length,
          kind: z.literal('opening'),
          shape: z.enum(['square', 'circle']).optional().describe('What is not a slot (the default).'),
          by,
        }),
        z.strictObject({ ...length, kind: z.literal('web'), by }),
        z.strictObject({
          id,
          kind: z.literal('cell'),
          powerPercent: z.number().positive().max(100),
          speedMmS: z.number().positive(),
          box,
          say,
        }),
        z.strictObject({
          id,
          kind: z.literal('vernier'),
          measures: z.enum(['kerf', 'row-shift']),
          axis: z.enum(['x', 'y']),
          lines: z.int().min(3),
          zeroLine: z.number().min(0),
          stepMm: z.number().positive(),
          box,
          say,
        }),
      ]),
    ),
  })
  .describe('What there is to read on a coupon. Positions in mm, y up, origin at the lower left corner.');
