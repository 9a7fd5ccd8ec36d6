import type { Region } from '../../geometry/types.js';
import { cut, unite } from '../paint/clip.js';
import type { Diagnostics } from '../paint/diagnostics.js';
import { lostPieces } from '../paint/slivers.js';
import type { Macro } from './macro.js';
import { drawPrimitive, PrimitiveError, turned } from './macro-primitive.js';

/** More primitives than this in one macro would not be worked out in time. */
const MAX_STEPS = 20_000;
const DEPRECATED = 'deprecated';

/**
 * Works a macro out for the parameters of one aperture definition. Exposure off erases what the macro itself has
 * drawn before, and nothing else.
 *
 * @param parameters - `$1`, `$2`, … as the definition gives them
 * @param mm - length of the file's unit
 * @returns regions that do not overlap, mm, about the macro's origin
 */
export function macroRegions(
  macro: Macro,
  parameters: readonly number[],
  mm: number,
  line: number,
  notes: Diagnostics,
): Region[] {
  const variables = new Map(parameters.map((value, i) => [i + 1, value]));
  let image: Region[] = [];
  let pending: Region[] = [];
  const lost: Region[] = [];
  let pendingOn = true;
  let lastExposure = 1;
  const settle = (): void => {
    if (pending.length === 0) return;
    // One primitive on an empty image needs no clipper, and keeps its corners to the last digit.
    if (!pendingOn) image = cut(image, pending, lost);
    else image = image.length === 0 && pending.length === 1 ? pending : unite([...image, ...pending]);
    pending = [];
  };
  if (macro.steps.length > MAX_STEPS) {
    notes.fail('TOO_MUCH', macro.line, `macro "${macro.name}" has more than ${MAX_STEPS} steps.`);
    return [];
  }
  for (const step of macro.steps) {
    if (step.kind === 'set') {
      variables.set(step.variable, step.value(variables));
      continue;
    }
    const args = step.arguments.map((argument) => argument(variables));
    const bad = args.findIndex((value) => !Number.isFinite(value));
    if (bad >= 0) {
      notes.fail(
        'MACRO_EXPRESSION',
        step.line,
        `macro "${macro.name}" as used on line ${line}: number ${bad + 1} of primitive ${step.code} divides by zero.`,
      );
      continue;
    }
    try {
      const drawn = drawPrimitive(step.code, args, mm);
      if (!drawn) {
        notes.fail('MACRO_PRIMITIVE', step.line, `macro "${macro.name}": there is no primitive ${step.code}.`);
        continue;
      }
      if (step.code === 6) {
        notes.warnOnce(
          'MACRO_MOIRE',
          step.line,
          `macro "${macro.name}" draws a moiré, a ${DEPRECATED} alignment mark.`,
        );
      }
      const exposure = drawn.exposure === 2 ? 1 - lastExposure : drawn.exposure === 0 ? 0 : 1;
      lastExposure = exposure;
      const on = exposure === 1;
      if (on !== pendingOn) {
        settle();
        pendingOn = on;
      }
      for (const region of turned(drawn)) pending.push(region);
    } catch (error) {
      if (!(error instanceof PrimitiveError)) throw error;
      notes.fail(
        'MACRO_PRIMITIVE',
        step.line,
        `macro "${macro.name}" as used on line ${line}, primitive ${step.code}: ${error.message}.`,
      );
    }
  }
  settle();
  for (const { code, message, hint } of lostPieces(lost))
    notes.warnOnce(code, line, `macro "${macro.name}": ${message}`, hint);
  return image;
}
