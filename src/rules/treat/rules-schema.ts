import * as z from 'zod';
import { InputError } from '../../errors.js';
import { formulaReader } from '../../formula.js';
import { SHAPE_CLASSES } from '../measure.js';
import { type RuleNumber, VARIABLES } from './rule-types.js';

const GROUPS = ['pair', 'row', 'rows', 'ring', 'grid', 'component', 'centre', 'pane', 'none'] as const;

/** One of a kind, or several of which each will do. */
const listOf = <T extends z.ZodType>(item: T) =>
  z.union([item, z.array(item).min(1)]).transform((given) => (Array.isArray(given) ? given : [given]) as z.infer<T>[]);

const eitherSize = <T extends { perSideMm?: unknown; areaPercent?: unknown }>(action: T): boolean =>
  (action.perSideMm === undefined) !== (action.areaPercent === undefined);
const EITHER = 'expected either perSideMm or areaPercent';

const readFormula = await formulaReader();

/** A number, or a formula such as "0.5 * pitchMm". */
const number = z.union([z.number(), z.string().min(1)]).transform((given, { addIssue }): RuleNumber => {
  if (typeof given === 'number') return given;
  try {
    return readFormula(given, VARIABLES, {});
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    const [{ message, code, hint }] = error.problems;
    addIssue({ code: 'custom', message, params: { code, hint } });
    return z.NEVER;
  }
});
const range = z
  .strictObject({ min: number.optional(), max: number.optional() })
  .refine(({ min, max }) => min !== undefined || max !== undefined, 'expected min, max or both');
const conditions = {
  widthMm: range.optional(),
  heightMm: range.optional(),
  lengthMm: range.optional(),
  narrowestMm: range.optional(),
  areaMm2: range.optional(),
  areaRatio: range.optional(),
  lengthPerWidth: range.optional(),
  webMm: range.optional(),
  pitchMm: range.optional(),
  shape: listOf(z.enum(SHAPE_CLASSES)).optional(),
  group: listOf(z.enum(GROUPS)).optional(),
  component: listOf(z.string()).optional(),
  pin: listOf(z.string()).optional(),
  attribute: z.record(z.string(), z.string()).optional(),
  region: z.strictObject({ minX: z.number(), minY: z.number(), maxX: z.number(), maxY: z.number() }).optional(),
  openings: z
    .array(
      z.union([
        z.number().int().positive(),
        z.string().regex(/^\d+(-\d+)?$/, 'expected a number or a run such as "3-9"'),
      ]),
    )
    .min(1)
    .optional(),
};

const selector = z.strictObject({ ...conditions, not: z.strictObject(conditions).optional() });

const action = z.discriminatedUnion('kind', [
  z
    .strictObject({ kind: z.literal('shrink'), perSideMm: number.optional(), areaPercent: number.optional() })
    .refine(eitherSize, EITHER),
  z
    .strictObject({
      kind: z.literal('grow'),
      perSideMm: number.optional(),
      areaPercent: number.optional(),
      leaveWebMm: number.optional(),
    })
    .refine(eitherSize, EITHER),
  z.strictObject({ kind: z.literal('round-corners'), radiusMm: number }),
  z.strictObject({
    kind: z.literal('match-volume'),
    designThicknessMm: number.optional(),
    allowGrowth: z.boolean().optional(),
    leaveWebMm: number.optional(),
  }),
  z.strictObject({
    kind: z.literal('panes'),
    coveragePercent: number,
    webMm: number,
    smallestPaneMm: number,
    paneMm: number.optional(),
    columns: z.number().int().positive().optional(),
    rows: z.number().int().positive().optional(),
  }),
  z.strictObject({
    kind: z.literal('cut-under-chip'),
    form: z.enum(['home-plate', 'inverted-home-plate', 'inverted-radius', 'straight']),
    depthPercent: number,
    tipPercent: number.optional(),
  }),
  z.strictObject({ kind: z.literal('round-ends') }),
  z.strictObject({ kind: z.literal('widen'), toMm: number.optional(), leaveWebMm: number.optional() }),
  z.strictObject({
    kind: z.literal('keep-webs'),
    webMm: number.optional(),
    trim: z.enum(['both-sides', 'facing-side']).optional(),
  }),
  z.strictObject({ kind: z.literal('drop') }),
  z.strictObject({ kind: z.literal('keep') }),
]);
/** Schema of a rule set; what it reads are rules with their formulas ready. Import it lazily: it loads zod and mathjs. */
export const rulesSchema = z
  .strictObject({
    $schema: z.string().optional(),
    format: z.literal('apertrue-rules'),
    version: z.literal(1),
    name: z.string().min(1),
    purpose: z.string().optional(),
    designThicknessMm: z.number().positive().optional(),
    rules: z.array(z.strictObject({ name: z.string().min(1), why: z.string().optional(), select: selector, action })),
  })
  .describe('Rules that turn the openings of a paste layer into better openings for film, applied in order.');
