import { InputError } from '../errors.js';
import { boxRing } from '../geometry/shapes.js';
import { smallestLetteringMm } from '../lettering/lettering.js';
import { builtInPattern } from './built-in.js';
import { BEAM_CAUTIONS, GRID_CAUTIONS } from './cautions.js';
import { layDiagonal } from './diagonal.js';
import { type DotGrid, dotGrid } from './dot-grid.js';
import { type BlockShape, layLadder } from './ladder.js';
import { type Evaluator, expressionEvaluator, type Laying, layingOn, type PatternValues } from './laying.js';
import type { LabelElement, MarksElement, Pattern } from './pattern.js';
import { type GridSetting, gridImages, gridJobs, layPowerGrid } from './power-grid.js';
import { layRuler } from './ruler.js';
import { type CouponSheet, newSheet } from './sheet.js';
import type { Coupon, CouponImage, CouponOptions } from './types.js';
import { layVernier } from './vernier.js';

const DEFAULT_CLEARANCE_MM = 0.8;
const DEFAULT_LETTERING_MM = 1.8;
const DEFAULT_KERF_ALLOWANCE_MM = 0.2;

/**
 * Lays a coupon out on a bed and snaps it to the machine's dots: every measured edge is a dot boundary, so the nominal
 * values are what the machine is really told.
 *
 * @param pattern - a pattern, or the name of a built-in one
 * @param options - bed and pitch, mm
 * @returns openings, features, images to burn, labels, steps and cautions
 * @throws {InputError} UNKNOWN_PATTERN, COUPON_OPTION, BED_TOO_SMALL, PITCH_TOO_COARSE, COUPON_CROWDED, COUPON_OUTSIDE,
 * BAD_EXPRESSION, LETTERING_TOO_SMALL, LETTERING_CHARACTER
 * @example await generateCoupon('scale-ruler', { widthMm: 150, heightMm: 100, pitchXMm: 0.0254 })
 */
export async function generateCoupon(pattern: Pattern | string, options: CouponOptions): Promise<Coupon> {
  const plan = typeof pattern === 'string' ? builtInPattern(pattern) : pattern;
  const whole = dotGrid(options);
  const evaluator = await expressionEvaluator();
  const kerfAllowanceMm = options.kerfAllowanceMm ?? DEFAULT_KERF_ALLOWANCE_MM;
  const fixed: PatternValues = { pitchX: whole.pitch('x'), pitchY: whole.pitch('y'), kerf: kerfAllowanceMm };
  const [mostX, mostY] = plan.largestBedMm?.map((size, i) => evaluator.number(size, fixed, `largestBedMm.${i}`)) ?? [];
  const grid = dotGrid({
    ...options,
    widthMm: Math.min(options.widthMm, mostX ?? Infinity),
    heightMm: Math.min(options.heightMm, mostY ?? Infinity),
  });
  const scope = parameters(plan, evaluator, {
    ...fixed,
    width: grid.mm('x', grid.columns),
    height: grid.mm('y', grid.rows),
  });
  const shapes: BlockShape[] = scope.width >= scope.height ? ['tall', 'wide'] : ['wide', 'tall'];
  let first: InputError | undefined;
  for (const part of withoutOptional(plan)) {
    for (const shape of shapes) {
      try {
        return couponOf(plan, grid, options, layAll(part, grid, options, evaluator, scope, shape));
      } catch (error) {
        if (!(error instanceof InputError && NO_ROOM.has(error.code))) throw error;
        first ??= error;
      }
    }
  }
  // Of a single block its own size is exactly what is needed.
  if (plan.elements.length === 1 && first?.code === 'BED_TOO_SMALL') throw first;
  throw smallBed(plan, grid, evaluator, fixed) ?? first;
}

/** Codes that say that there was no room; another arrangement may still fit. */
const NO_ROOM = new Set(['COUPON_CROWDED', 'COUPON_OUTSIDE', 'BED_TOO_SMALL']);

interface Laid {
  readonly sheet: CouponSheet;
  readonly settings: readonly GridSetting[];
}

function couponOf(plan: Pattern, grid: DotGrid, options: CouponOptions, { sheet, settings }: Laid): Coupon {
  const images: CouponImage[] =
    settings.length > 0
      ? gridImages(plan.name, sheet, settings, options.powerBy ?? 'knob')
      : [{ name: plan.name, openings: sheet.openings() }];
  const { imageEnding = 'png' } = options;
  const [pitchXMm, pitchYMm] = [grid.pitch('x'), grid.pitch('y')];
  const canvas = { widthMm: grid.mm('x', grid.columns), heightMm: grid.mm('y', grid.rows), pitchXMm, pitchYMm };
  return {
    name: plan.name,
    title: plan.title,
    canvas: { ...canvas, widthPx: grid.columns, heightPx: grid.rows },
    openings: sheet.openings(),
    features: { format: 'apertrue-features', version: 1, coupon: plan.name, canvas, features: sheet.features },
    images,
    labels: sheet.labels,
    steps: plan.steps,
    imageEnding,
    jobs: settings.length > 0 ? gridJobs(images, imageEnding) : [],
    cautions: settings.length > 0 ? [...BEAM_CAUTIONS, ...GRID_CAUTIONS] : BEAM_CAUTIONS,
    warnings: sheet.warnings,
  };
}

function layAll(
  plan: Pattern,
  grid: DotGrid,
  options: CouponOptions,
  evaluator: Evaluator,
  scope: PatternValues,
  shape: BlockShape,
): Laid {
  const { clearanceMm = DEFAULT_CLEARANCE_MM, letteringMm = DEFAULT_LETTERING_MM } = plan;
  const letters = evaluator.number(letteringMm, scope, 'letteringMm');
  const sheet = newSheet(grid, {
    clearanceMm: evaluator.number(clearanceMm, scope, 'clearanceMm'),
    letteringMm: Math.max(letters, smallestLetteringMm(scope.kerf)),
    kerfAllowanceMm: scope.kerf,
  });
  const settings: GridSetting[] = [];
  plan.elements.forEach((element, i) => {
    const key = `elements.${i}`;
    if (!evaluator.condition(element.when, scope, `${key}.when`)) return;
    const on = layingOn(sheet, plan.prefix, key, evaluator, scope);
    if (element.kind === 'ruler') layRuler(on, element);
    else if (element.kind === 'diagonal') layDiagonal(on, element);
    else if (element.kind === 'ladder') layLadder(on, element, shape);
    else if (element.kind === 'vernier') layVernier(on, element);
    else if (element.kind === 'marks') layMarks(on, element);
    else if (element.kind === 'label') layLabel(on, element);
    else settings.push(...layPowerGrid(on, element, options));
  });
  sheet.check(plan.name);
  return { sheet, settings };
}

function layLabel({ sheet, number }: Laying, { at, heightMm, text, turnDeg }: LabelElement): void {
  const [x, y] = at.map((part, i) => number(part, `at.${i}`));
  sheet.addText(text, [x, y], { heightMm: heightMm === undefined ? undefined : number(heightMm, 'heightMm'), turnDeg });
}

/** The plan, and what is left of it as its optional elements go, the last one first. */
function withoutOptional(plan: Pattern): Pattern[] {
  const plans = [plan];
  for (const gone of plan.elements.filter(({ optional }) => optional).reverse()) {
    const { elements } = plans[plans.length - 1];
    plans.push({ ...plan, elements: elements.filter((element) => element !== gone) });
  }
  return plans;
}

/** What to tell when nothing fits and the bed is smaller than the pattern says that it needs. */
function smallBed(plan: Pattern, grid: DotGrid, evaluator: Evaluator, scope: PatternValues): InputError | undefined {
  const [leastX, leastY] = plan.smallestBedMm.map((size, i) => evaluator.number(size, scope, `smallestBedMm.${i}`));
  const [width, height] = [grid.mm('x', grid.columns), grid.mm('y', grid.rows)];
  // The canvas is a whole number of dots, so it may be up to one dot smaller than the bed.
  if (width >= leastX - grid.pitch('x') && height >= leastY - grid.pitch('y')) return undefined;
  return new InputError({
    code: 'BED_TOO_SMALL',
    message: `${plan.name} needs a bed of at least ${leastX} x ${leastY} mm; found ${width} x ${height} mm.`,
    hint: 'Give the whole bed or a larger piece of film.',
  });
}
function parameters(plan: Pattern, evaluator: Evaluator, given: PatternValues): PatternValues {
  const scope: Record<string, number> = { ...given };
  for (const [name, expression] of Object.entries(plan.parameters ?? {})) {
    if (Object.hasOwn(given, name)) {
      throw new InputError({
        code: 'BAD_EXPRESSION',
        place: { key: `parameters.${name}` },
        message: `"${name}" is given already.`,
        hint: 'Choose another name.',
      });
    }
    scope[name] = evaluator.number(expression, scope, `parameters.${name}`);
  }
  return scope;
}

/** Shares of a step by which rows and columns are shifted; multiples of the golden ratio never repeat and never cluster. */
const SHIFT = (Math.sqrt(5) - 1) / 2;

/**
 * Equal squares all over the free bed, no two rows or columns in line: so many places along each axis show a wave of
 * any period, and no turn or shift of the marks looks like another. They are no features: only their places are read.
 */
function layMarks({ sheet, number }: Laying, element: MarksElement): void {
  const { grid } = sheet;
  const [side, spacing] = (['sizeMm', 'spacingMm'] as const).map((name) => number(element[name], name));
  const [wide, high] = [grid.count('x', side), grid.count('y', side)];
  const [width, height] = [grid.mm('x', grid.columns), grid.mm('y', grid.rows)];
  const [columns, rows] = [Math.floor(width / spacing), Math.floor(height / spacing)];
  const shifted = (n: number): number => (n * SHIFT) % 1;
  for (let j = 0; j < rows; j += 1) {
    for (let i = 0; i < columns; i += 1) {
      const minX = grid.dots('x', ((i + shifted(j)) * width) / columns);
      const minY = grid.dots('y', ((j + shifted(i)) * height) / rows);
      const box = { minX, minY, maxX: minX + wide, maxY: minY + high };
      if (sheet.isFree(boxRing(grid.boxMm(box)))) sheet.addRectangle(box, sheet.newGroup());
    }
  }
}
