import { z } from 'zod';
import { OUTCOMES } from '../readings/outcomes.js';
import type { Profile } from './types.js';

const number = z.number();
const positive = z.number().positive();
const notNegative = z.number().nonnegative();
const text = z.string().min(1);
const point = z.tuple([number, number]);
const box = z.tuple([number, number, number, number]);

/** A measured value; a bare number is taken as exact, for profiles that a person writes by hand. */
const measured = (value: z.ZodNumber, what: string) =>
  z
    .union([
      value.transform((v) => ({ value: v, stdUncertainty: 0, assumed: true })),
      z.strictObject({
        value,
        stdUncertainty: notNegative.default(0),
        interval95: z.tuple([number, number]).optional(),
        assumed: z.boolean().optional(),
      }),
    ])
    .describe(what);

const fit = z.strictObject({
  scaleX: measured(positive, 'Film mm per commanded mm along X.'),
  scaleY: measured(positive, 'Film mm per commanded mm along Y.'),
  shear: measured(number, 'Film mm along X per commanded mm along Y.'),
  kerfXMm: measured(notNegative, 'How much wider than told a cut comes out across X, full width, mm.'),
  kerfYMm: measured(notNegative, 'The same across Y, mm.'),
  model: z.string().default('given by hand').describe('Which of the numbers were fitted, in words.'),
  covariance: z
    .array(z.array(number).length(5))
    .length(5)
    .default(() => Array.from({ length: 5 }, () => [0, 0, 0, 0, 0]))
    .describe('Of the five numbers in the order above; zero rows for assumed ones.'),
  residualSdMm: notNegative.default(0).describe('Scatter of the readings about the model, mm.'),
  dof: z.number().default(0).describe('Readings less fitted numbers.'),
  warnings: z.array(z.string()).default(() => []),
});

const dimension = { id: text, from: point, to: point, nominalMm: positive, say: text };
const feature = z.discriminatedUnion('kind', [
  z.strictObject({ ...dimension, kind: z.literal('span'), side: z.enum(['near', 'far']).optional() }),
  z.strictObject({ ...dimension, kind: z.literal('opening') }),
  z.strictObject({ ...dimension, kind: z.literal('web') }),
  z.strictObject({ id: text, kind: z.literal('cell'), powerPercent: positive, speedMmS: positive, box, say: text }),
  z.strictObject({
    id: text,
    kind: z.literal('vernier'),
    measures: z.enum(['kerf', 'row-shift']),
    axis: z.enum(['x', 'y']),
    lines: z.int().min(3),
    zeroLine: notNegative,
    stepMm: positive,
    box,
    say: text,
  }),
]);

const reading = z.strictObject({
  feature: text,
  readingMm: number.optional(),
  outcome: z.enum(OUTCOMES).optional(),
  resolutionMm: positive.optional(),
  note: z.string().optional(),
  file: z.string().optional(),
  line: z.int().positive().optional(),
});

const session = z.strictObject({
  coupon: text,
  date: z
    .string()
    .regex(/^\d{4}-\d{2}-\d{2}$/, 'expected a day as YYYY-MM-DD')
    .optional(),
  canvas: z.strictObject({ widthMm: positive, heightMm: positive, pitchXMm: positive, pitchYMm: positive }).optional(),
  features: z.array(feature),
  readings: z.array(reading),
});

const window = z.strictObject({
  powerPercent: positive,
  speedMmS: positive,
  marginPowerPercent: number,
  marginSpeedPercent: number,
  probabilityClean: number,
});

/** Schema of a profile (contract 3). Import it lazily: zod takes longer to load than a profile to read. */
export const profileSchema: z.ZodType<Profile> = z
  .strictObject({
    $schema: z.string().optional(),
    format: z.literal('apertrue-profile'),
    version: z.literal(1),
    name: text,
    machine: text.optional(),
    film: z.strictObject({ kind: text.optional(), thicknessMm: positive.optional() }).optional(),
    settings: z
      .strictObject({
        powerPercent: positive.max(100).optional(),
        speedMmS: positive.optional(),
        passes: z.int().positive().optional(),
      })
      .optional(),
    pitchMm: z.strictObject({ x: positive, y: positive }).optional().describe('Of the machine that cut the coupons.'),
    fit,
    limits: z
      .strictObject({
        minOpeningMm: positive.optional(),
        minWebMm: positive.optional(),
        evidence: z.array(z.string()).optional(),
      })
      .optional(),
    window: window.optional(),
    sessions: z
      .array(session)
      .default(() => [])
      .describe('What the profile was fitted from: readings with the features of their coupon.'),
  })
  .describe('What was learnt about one laser, film and setting.');

/** The JSON Schema that ships in patterns/schemas. */
export function profileJsonSchema(): unknown {
  return z.toJSONSchema(profileSchema, { io: 'input' });
}
