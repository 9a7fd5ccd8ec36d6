import * as z from 'zod';
import { featuresParts } from '../coupon/parse-features.js';
import { OUTCOMES } from '../readings/where-to-read.js';
import { modelProblems } from './machine-model.js';
import { FIELD_SHAPES, PARAMETER_NAMES, type Profile } from './types.js';

const number = z.number();
const positive = z.number().positive();
const notNegative = z.number().nonnegative();
const text = z.string().min(1);
const box = z.tuple([number, number, number, number]);
const { canvas, feature } = featuresParts();

/** Infinite uncertainties, of what was assumed, are null in the file. */
const uncertainty = notNegative.nullable().transform((value) => value ?? Number.POSITIVE_INFINITY);

/** A measured value; a bare number is taken and not measured, for profiles that a person writes by hand. */
const measured = (value: z.ZodNumber, what: string) =>
  z
    .union([
      value.transform((v) => ({ value: v, stdUncertainty: Number.POSITIVE_INFINITY, assumed: true })),
      z.strictObject({
        value,
        stdUncertainty: uncertainty.default(0),
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
    .array(z.array(number.nullable().transform((value) => value ?? Number.POSITIVE_INFINITY)).length(5))
    .length(5)
    .default(() => Array.from({ length: 5 }, () => [0, 0, 0, 0, 0]))
    .describe('Of the five numbers in the order above; the variance of an assumed one is null.'),
  residualSdMm: notNegative.default(0).describe('Scatter of the readings about the model, mm.'),
  dof: z.number().default(0).describe('Readings less fitted numbers.'),
  warnings: z.array(z.string()).default(() => []),
});

const reading = z.strictObject({
  session: z.int().positive().default(1).describe('Which of the sessions it belongs to, from 1.'),
  feature: text,
  readingMm: number.optional(),
  outcome: z.enum(OUTCOMES).optional(),
  resolutionMm: positive.optional(),
  uncertaintyMm: positive.optional(),
  gauge: text.optional(),
  note: z.string().optional(),
  dropped: z.boolean().optional().describe('Left out of the fit because the user said so.'),
  file: z.string().optional(),
  line: z.int().positive().optional(),
});

const session = z.strictObject({
  coupon: text,
  date: z
    .string()
    .regex(/^\d{4}-\d{2}-\d{2}$/, 'expected a day as YYYY-MM-DD')
    .optional(),
  canvas: canvas.optional(),
  gaugeLimitsMm: z
    .record(text, positive)
    .optional()
    .describe('Limit of error of each gauge by its maker or a standard, mm, under its name in the readings.'),
  features: z.array(feature),
  refused: text
    .optional()
    .describe('Why its readings are not part of the fit: they showed a machine that has changed.'),
  doubtful: z
    .partialRecord(z.enum(PARAMETER_NAMES), z.strictObject({ by: number, stdUncertainty: notNegative }))
    .optional()
    .describe(
      'By how much these numbers seemed off, a ratio or mm, which nothing has settled since: the machine may have changed.',
    ),
});

const window = z.strictObject({
  powerPercent: positive,
  speedMmS: positive,
  marginPowerPercent: number,
  marginSpeedPercent: number,
  probabilityClean: number,
});

const field = z
  .strictObject({
    canvasMm: z
      .strictObject({ widthMm: positive, heightMm: positive })
      .describe('Canvas of the coupons that showed it, commanded mm; places count from its lower left corner.'),
    areaMm: box.describe(
      'Where marks were read, commanded mm: x0, y0, x1, y1. Beyond it the error at its border is taken.',
    ),
    terms: z
      .array(
        z.strictObject({
          moves: z.enum(['x', 'y']),
          shape: z
            .enum(FIELD_SHAPES)
            .describe(
              'Letters: Legendre polynomials of u (along X) and v (along Y), -1 to 1 over the area; uuv is P2(u) P1(v).',
            ),
          periodMm: positive.optional().describe('Of sines: 2 pi of the argument, from the middle of the area, mm.'),
          mm: number.describe('Commanded mm by which things are moved where the shape is 1.'),
          stdUncertainty: notNegative,
        }),
      )
      .max(60),
    covariance: z
      .array(z.array(number))
      .describe('Of the terms in their order, mm², as places need it: with the straight part held.'),
    residualSdMm: notNegative.describe('What is left of the place of a mark along one axis, mm.'),
    dof: notNegative,
    marks: notNegative,
  })
  .refine(({ areaMm: [x0, y0, x1, y1] }) => x1 > x0 && y1 > y0, {
    path: ['areaMm'],
    message: 'expected x0, y0, x1, y1 with x1 > x0 and y1 > y0',
  })
  .refine(({ terms }) => terms.every(({ shape, periodMm }) => /^(sin|cos)/.test(shape) === (periodMm !== undefined)), {
    path: ['terms'],
    message: 'expected a periodMm for sines, and for nothing else',
  })
  .refine(({ terms, covariance }) => [covariance, ...covariance].every((row) => row.length === terms.length), {
    path: ['covariance'],
    message: 'expected as many rows and columns as there are terms',
  })
  .refine(
    ({ terms, areaMm: [x0, y0, x1, y1] }) =>
      terms.reduce((sum, { mm }) => sum + Math.abs(mm), 0) < 0.05 * Math.max(x1 - x0, y1 - y0),
    {
      path: ['terms'],
      message: 'expected terms that move places by a few percent of the bed at most',
    },
  )
  .describe('Bends of the machine: what is commanded at p is cut as if a straight machine were told p + e(p).');

const profileFile = z
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
        smallestOpenedMm: positive
          .optional()
          .describe('Where no opening that was cut stayed closed: the smallest of them, on the film.'),
        smallestStoodMm: positive
          .optional()
          .describe('Where no web that was cut burnt away: the smallest of them, on the film.'),
        evidence: z.array(z.string()).optional(),
      })
      .optional(),
    window: window.optional(),
    field: field.optional(),
    sessions: z
      .array(session)
      .default(() => [])
      .describe('Coupons that were read, each with its features.'),
    readings: z
      .array(reading)
      .default(() => [])
      .describe('The rows that the profile was fitted from, so that anybody can fit them again.'),
  })
  .describe('What was learnt about one laser, film and setting.');

/** Schema of a profile (contract 3). Import it lazily: zod takes longer to load than a profile to read. */
export const profileSchema: z.ZodType<Profile> = profileFile
  .superRefine(({ fit: { scaleX, scaleY, shear, kerfXMm, kerfYMm }, sessions, readings }, context) => {
    const numbers = { scaleX, scaleY, shear, kerfXMm, kerfYMm };
    const [sx, sy, s, kx, ky] = Object.values(numbers).map(({ value }) => value);
    for (const { message, hint, place } of modelProblems({
      scaleX: sx,
      scaleY: sy,
      shear: s,
      kerfXMm: kx,
      kerfYMm: ky,
    })) {
      context.addIssue({ code: 'custom', path: ['fit', place?.key ?? ''], message: `${message} ${hint ?? ''}`.trim() });
    }
    readings.forEach(({ session: number }, i) => {
      if (number > sessions.length) {
        const message = `expected the number of one of ${sessions.length} session(s)`;
        context.addIssue({ code: 'custom', path: ['readings', i, 'session'], message });
      }
    });
  })
  .transform(({ sessions, readings, ...rest }) => ({
    ...rest,
    sessions: sessions.map((head, i) => ({
      ...head,
      readings: readings.filter(({ session: number }) => number === i + 1).map(({ session: _, ...row }) => row),
    })),
  }));

/** The JSON Schema that ships in patterns/schemas. */
export function profileJsonSchema(): unknown {
  return z.toJSONSchema(profileFile, { io: 'input' });
}
