import * as z from 'zod';
import type { Pattern } from './pattern.js';

const expression = z
  .union([z.number(), z.string().min(1)])
  .describe('A number in mm, or an expression such as "width - 10" or "12.2 mil".');
const point = z.tuple([expression, expression]);
const optional = z
  .boolean()
  .optional()
  .describe('Left out where the bed has no room for it; the last such element goes first.');
const when = z.string().min(1).optional().describe('Laid out only when this is true, for example "height >= 250".');
const axis = z.enum(['x', 'y']);
const place = point.describe('Share of the room that the block leaves free: 0 left or bottom, 1 right or top.');

const ruler = z
  .strictObject({
    kind: z.literal('ruler'),
    when,
    optional,
    axis,
    at: point.describe('Lower left corner of the first slot, mm.'),
    lengthMm: expression.describe('From the near edge of the first slot to that of the last.'),
    slotMm: point.describe('Width along the axis and length across it, mm.'),
    spans: z.array(point).min(1).describe('From and to along the ruler, mm, most important first; may use "length".'),
    labels: z.boolean().optional(),
    jaws: z
      .boolean()
      .optional()
      .describe('Windows for the jaws of a caliper: each span is read with the inside and with the outside jaws.'),
  })
  .describe('Slots in a row and spans between their near edges.');

const diagonal = z
  .strictObject({
    kind: z.literal('diagonal'),
    when,
    optional,
    from: point.describe('Where the first slot is wanted, mm; it is moved to the nearest free place.'),
    to: point.describe('Where the last slot is wanted, mm.'),
    slots: z.union([z.literal(2), z.literal(3)]),
    slotMm: point.describe('Width along the line and length across it, mm.'),
  })
  .describe('Equal slanted slots on one line and the spans between them.');

const ladder = z
  .strictObject({
    kind: z.literal('ladder'),
    when,
    optional,
    place,
    slotLengthMm: expression.describe('Length of slots, across what is measured.'),
    webSideMm: expression.optional().describe('Width of the openings on both sides of a web; default 0.8.'),
    gapMm: expression.optional().describe('Film between two items; default 1.8.'),
    rowGapMm: expression.optional().describe('Film between two rows; default 1.6.'),
    labels: z.boolean().optional(),
    rows: z
      .array(
        z.strictObject({
          measures: z.enum(['opening', 'web', 'square', 'circle']),
          axis,
          sizesMm: z.array(expression).min(1),
        }),
      )
      .min(1),
  })
  .describe('Rows of openings and webs of rising size, as one block.');

const vernier = z
  .strictObject({
    kind: z.literal('vernier'),
    when,
    optional,
    measures: z.enum(['kerf', 'row-shift']),
    axis,
    place,
    stepMm: expression.describe('Shift from one line to the next; made a whole number of dots.'),
    rangeMm: expression.describe('Largest shift that can be read.'),
  })
  .describe('Two combs to read by eye.');

const powerGrid = z
  .strictObject({
    kind: z.literal('power-grid'),
    when,
    optional,
    cellMm: point,
    gapMm: expression,
    powersPercent: z.array(z.number().positive().max(100)).min(1),
    speedsMmS: z.array(z.number().positive()).min(1),
  })
  .describe('Filled cells, each burnt with a power and a speed of its own.');

const marks = z
  .strictObject({
    kind: z.literal('marks'),
    when,
    optional,
    sizeMm: expression.describe('Side of a square, mm.'),
    spacingMm: expression.describe('From one mark to the next, about, mm.'),
  })
  .describe('Squares all over the free bed, to read their places.');

const label = z
  .strictObject({
    kind: z.literal('label'),
    when,
    optional,
    text: z.string().min(1),
    at: point,
    heightMm: expression.optional(),
    turnDeg: z.union([z.literal(0), z.literal(90)]).optional(),
  })
  .describe('A text in stencil letters.');

/** The shape of a pattern file; its JSON Schema ships as patterns/schemas/pattern.schema.json. */
export const patternSchema: z.ZodType<Pattern> = z
  .strictObject({
    $schema: z.string().optional(),
    format: z.literal('apertrue-pattern'),
    version: z.literal(1),
    name: z
      .string()
      .regex(/^[a-z0-9][a-z0-9-]*$/, 'expected small letters, digits and dashes')
      .describe('Name of the coupon and of its files.'),
    title: z.string().min(1),
    prefix: z
      .string()
      .regex(/^[A-Z]{1,3}$/, 'expected one to three capitals')
      .describe('First letters of all feature ids.'),
    smallestBedMm: point.describe('A bed that is surely large enough, mm.'),
    largestBedMm: point.optional().describe('The canvas is made no larger than this, mm.'),
    parameters: z
      .record(z.string().regex(/^[a-zA-Z][a-zA-Z0-9]*$/, 'expected a name of letters and digits'), expression)
      .optional()
      .describe('Names for expressions, evaluated in order. width, height, pitchX, pitchY and kerf are given.'),
    clearanceMm: expression.optional().describe('Free film around everything that is measured; default 0.8.'),
    letteringMm: expression.optional().describe('Cap height of labels; default 1.8.'),
    steps: z.array(z.string().min(1)).describe('What the operator does with it, in order.'),
    elements: z.array(z.discriminatedUnion('kind', [ruler, diagonal, ladder, vernier, powerGrid, marks, label])).min(1),
  })
  .describe('A coupon pattern for apertrue.');
