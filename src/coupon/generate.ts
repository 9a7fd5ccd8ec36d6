import { InputError } from '../errors.js';
import { builtInPattern } from './built-in.js';
import { BEAM_CAUTIONS, GRID_CAUTIONS } from './cautions.js';
import { layDiagonal } from './diagonal.js';
import { canvasOf, type DotGrid, dotGrid } from './dot-grid.js';
import { type Evaluator, expressionEvaluator, type Scope } from './expression.js';
import { layLadder } from './ladder.js';
import type { Pattern, PatternElement } from './pattern.js';
import { layRuler } from './ruler.js';
import { newSheet, type Sheet } from './sheet.js';
import type { Coupon, CouponImage, CouponOptions } from './types.js';

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
  const grid = dotGrid(options);
  const evaluator = await expressionEvaluator();
  const kerfAllowanceMm = options.kerfAllowanceMm ?? DEFAULT_KERF_ALLOWANCE_MM;
  const fixed: Scope = { pitchX: grid.pitch('x'), pitchY: grid.pitch('y'), kerf: kerfAllowanceMm };
  refuseSmallBed(plan, grid, evaluator, fixed);
  const scope = parameters(plan, evaluator, {
    ...fixed,
    width: grid.mm('x', grid.columns),
    height: grid.mm('y', grid.rows),
  });
  const length = (expression: number | string | undefined, fallback: number, key: string): number =>
    expression === undefined ? fallback : evaluator.number(expression, scope, key);
  const sheet = newSheet(grid, {
    clearanceMm: length(plan.clearanceMm, DEFAULT_CLEARANCE_MM, 'clearanceMm'),
    letteringMm: length(plan.letteringMm, DEFAULT_LETTERING_MM, 'letteringMm'),
    kerfAllowanceMm,
  });
  plan.elements.forEach((element, i) => {
    const key = `elements.${i}`;
    if (evaluator.condition(element.when, scope, `${key}.when`)) {
      layElement(sheet, element, evaluator, scope, key, plan.prefix);
    }
  });
  sheet.check(plan.name);
  const images: CouponImage[] = [{ name: plan.name, openings: sheet.openings() }];
  const canvas = canvasOf(grid);
  return {
    name: plan.name,
    title: plan.title,
    canvas,
    openings: sheet.openings(),
    features: {
      format: 'apertrue-features',
      version: 1,
      coupon: plan.name,
      canvas: {
        widthMm: canvas.widthMm,
        heightMm: canvas.heightMm,
        pitchXMm: canvas.pitchXMm,
        pitchYMm: canvas.pitchYMm,
      },
      features: sheet.features,
    },
    images,
    labels: sheet.labels,
    steps: plan.steps,
    cautions: plan.elements.some((element) => element.kind === 'power-grid')
      ? [...BEAM_CAUTIONS, ...GRID_CAUTIONS]
      : BEAM_CAUTIONS,
    warnings: sheet.warnings,
  };
}

function refuseSmallBed(plan: Pattern, grid: DotGrid, evaluator: Evaluator, scope: Scope): void {
  const [leastX, leastY] = plan.smallestBedMm.map((size, i) => evaluator.number(size, scope, `smallestBedMm.${i}`));
  const [width, height] = [grid.mm('x', grid.columns), grid.mm('y', grid.rows)];
  // The canvas is a whole number of dots, so it may be up to one dot smaller than the bed.
  if (width >= leastX - grid.pitch('x') && height >= leastY - grid.pitch('y')) return;
  throw new InputError({
    code: 'BED_TOO_SMALL',
    message: `${plan.name} needs a bed of at least ${leastX} x ${leastY} mm; found ${width} x ${height} mm.`,
    hint: 'Give the whole bed or a larger piece of film.',
  });
}

function parameters(plan: Pattern, evaluator: Evaluator, given: Scope): Scope {
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

function layElement(
  sheet: Sheet,
  element: PatternElement,
  evaluator: Evaluator,
  scope: Scope,
  key: string,
  prefix: string,
): void {
  if (element.kind === 'ruler') layRuler(sheet, element, evaluator, scope, key, prefix);
  else if (element.kind === 'diagonal') layDiagonal(sheet, element, evaluator, scope, key, prefix);
  else if (element.kind === 'ladder') {
    const shape = scope.width >= scope.height ? 'tall' : 'wide';
    layLadder(sheet, element, evaluator, scope, key, prefix, shape);
  }
}
