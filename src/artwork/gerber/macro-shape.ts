import { counterClockwise, mapOpening, rotation } from '../../geometry/affine.js';
import { ringArea } from '../../geometry/area.js';
import { solid } from '../../geometry/shapes.js';
import type { Region, Ring } from '../../geometry/types.js';
import { compose, type PaintedObject } from '../paint/compose.js';
import type { Diagnostics } from '../paint/diagnostics.js';
import { cut, lostPieces, unionOfRings } from '../paint/unite.js';
import type { Macro } from './macro.js';
import { box, disc, regularPolygon } from './standard-shape.js';

/** More primitives than this in one macro would not be worked out in time. */
const MAX_STEPS = 20_000;

/**
 * Works a macro out for the parameters of one aperture definition. Exposure off erases what the macro itself has
 * drawn before, and nothing else.
 *
 * @param parameters - `$1`, `$2`, … as the definition gives them
 * @param mm - length of the file's unit
 * @returns regions that do not overlap, mm, about the macro's origin
 */
export function macroRegions(macro: Macro, parameters: readonly number[], mm: number, notes: Diagnostics): Region[] {
  const variables = new Map(parameters.map((value, i) => [i + 1, value]));
  const painted: PaintedObject[] = [];
  const { line } = notes;
  let exposure = 1;
  if (macro.steps.length > MAX_STEPS) {
    notes.line = macro.line;
    notes.fail('TOO_MUCH', `macro "${macro.name}" has more than ${MAX_STEPS} steps.`);
    return [];
  }
  for (const step of macro.steps) {
    notes.line = step.line;
    if (step.kind === 'set') {
      variables.set(step.variable, step.value(variables));
      continue;
    }
    const args = step.arguments.map((argument) => argument(variables));
    const bad = args.findIndex((value) => !Number.isFinite(value));
    if (bad >= 0) {
      notes.fail(
        'MACRO_EXPRESSION',
        `macro "${macro.name}" as used on line ${line}: number ${bad + 1} of primitive ${step.code} divides by zero.`,
      );
      continue;
    }
    try {
      const drawn = drawPrimitive(step.code, args, mm);
      if (!drawn) {
        notes.fail('MACRO_PRIMITIVE', `macro "${macro.name}": there is no primitive ${step.code}.`);
        continue;
      }
      if (step.code === 6) {
        notes.warnOnce(
          'MACRO_MOIRE',
          `macro "${macro.name}" draws a moiré, a deprecated alignment mark, which is no opening; it was left out.`,
        );
      }
      // An expression may miss 0 by its last digits.
      const asked = Math.round(drawn.exposure);
      exposure = asked === 2 ? 1 - exposure : asked === 0 ? 0 : 1;
      painted.push({ dark: exposure === 1, regions: turned(drawn) });
    } catch (error) {
      if (!(error instanceof PrimitiveError)) throw error;
      notes.fail(
        'MACRO_PRIMITIVE',
        `macro "${macro.name}" as used on line ${line}, primitive ${step.code}: ${error.message}.`,
      );
    }
  }
  notes.line = line;
  const lost: Region[] = [];
  const image = compose(painted, lost);
  for (const { code, message, hint } of lostPieces(lost))
    notes.warnOnce(code, `macro "${macro.name}": ${message}`, hint);
  return image;
}

/** What one primitive draws, before it is turned about the macro's origin. */
interface Drawn {
  /** 1 on, 0 off, 2 the opposite of the one before (old files). */
  readonly exposure: number;
  readonly regions: readonly Region[];
  readonly angleDeg: number;
}

/** A size that a macro reckons as 0.3-0.1-0.2 is 0, though its last digits say less; in the file's unit. */
const NOTHING = 1e-7;

/** How many vertices an outline may state; the standard's limit is 5000. */
const MAX_OUTLINE = 50_000;

/** Something is wrong with a primitive's numbers. */
class PrimitiveError extends Error {}

/**
 * Draws a primitive: 1 circle, 2 and 20 vector line, 21 centre line, 22 line from its corner, 4 outline, 5 polygon,
 * 6 moiré, 7 thermal. Lengths come in mm.
 *
 * @param args - numbers as the macro gives them; lengths are multiplied by `mm`
 * @returns undefined for a code that does not exist
 * @throws {PrimitiveError} when numbers are missing or make no shape
 */
function drawPrimitive(code: number, args: readonly number[], mm: number): Drawn | undefined {
  const need = (count: number): void => {
    if (args.length < count) throw new PrimitiveError(`expected ${count} numbers, found ${args.length}`);
  };
  const length = (index: number): number => args[index] * mm;
  const size = (index: number, what: string): number => {
    if (args[index] < -NOTHING) throw new PrimitiveError(`${what} is ${args[index]}, below 0`);
    return args[index] < NOTHING ? 0 : length(index);
  };
  switch (code) {
    case 1: {
      need(2);
      const radius = size(1, 'the diameter') / 2;
      const at: [number, number] = args.length >= 4 ? [length(2), length(3)] : [0, 0];
      return draw(args[0], radius > 0 ? [disc(at[0], at[1], radius)] : [], args[4]);
    }
    case 2:
    case 20:
      need(6);
      return draw(args[0], vectorLine(size(1, 'the width'), length(2), length(3), length(4), length(5)), args[6]);
    case 21:
      need(5);
      return draw(args[0], plainBox(size(1, 'the width'), size(2, 'the height'), length(3), length(4)), args[5]);
    case 22: {
      need(5);
      const w = size(1, 'the width');
      const h = size(2, 'the height');
      return draw(args[0], plainBox(w, h, length(3) + w / 2, length(4) + h / 2), args[5]);
    }
    case 4:
      return outline(args, mm);
    case 5: {
      need(5);
      const corners = args[1];
      if (!Number.isInteger(corners) || corners < 3 || corners > 360)
        throw new PrimitiveError(`a polygon has 3 to 12 corners, found ${corners}`);
      const diameter = size(4, 'the diameter');
      return draw(args[0], diameter > 0 ? [regularPolygon(diameter, corners, 0, length(2), length(3))] : [], args[5]);
    }
    case 6:
      return draw(1, []);
    case 7:
      need(5);
      return thermal(
        length(0),
        length(1),
        size(2, 'the outer diameter'),
        size(3, 'the inner diameter'),
        size(4, 'the gap'),
        args[5],
      );
    default:
      return undefined;
  }
}

const draw = (exposure: number, rings: readonly Ring[], angleDeg = 0): Drawn => ({
  exposure,
  regions: rings.map(solid),
  angleDeg,
});

const plainBox = (w: number, h: number, cx: number, cy: number): Ring[] => (w > 0 && h > 0 ? [box(w, h, cx, cy)] : []);

function vectorLine(width: number, x0: number, y0: number, x1: number, y1: number): Ring[] {
  const length = Math.hypot(x1 - x0, y1 - y0);
  if (length === 0 || width === 0) return [];
  const nx = (-(y1 - y0) / length) * (width / 2);
  const ny = ((x1 - x0) / length) * (width / 2);
  return [
    [
      [x0 - nx, y0 - ny],
      [x1 - nx, y1 - ny],
      [x1 + nx, y1 + ny],
      [x0 + nx, y0 + ny],
    ],
  ];
}

function outline(args: readonly number[], mm: number): Drawn {
  const count = args[1] - (countsLastTwice(args) ? 1 : 0);
  if (!Number.isInteger(count) || count < 1 || count > MAX_OUTLINE)
    throw new PrimitiveError(`an outline states how many sides it has, found ${count}`);
  const numbers = 2 + 2 * (count + 1);
  if (args.length < numbers)
    throw new PrimitiveError(`an outline of ${count} sides needs ${numbers + 1} numbers, found ${args.length}`);
  const points: [number, number][] = [];
  for (let i = 0; i <= count; i += 1) points.push([args[2 + 2 * i] * mm, args[3 + 2 * i] * mm]);
  const [first, last] = [points[0], points[count]];
  if (first[0] === last[0] && first[1] === last[1]) points.pop();
  const area = points.length >= 3 ? ringArea(points) : 0;
  return {
    exposure: args[0],
    // A triangle is always simple; all others may cross themselves.
    regions:
      points.length < 3
        ? []
        : points.length === 3 && area !== 0
          ? [solid(counterClockwise(points))]
          : unionOfRings([points]),
    angleDeg: args[numbers] ?? 0,
  };
}

/** Old files count the corners of an outline with the last one, which is the first again. */
function countsLastTwice(args: readonly number[]): boolean {
  const last = 2 * args[1];
  const closed = args[2] === args[last] && args[3] === args[last + 1];
  return args[1] > 3 && closed && (args.length === last + 2 || args.length === last + 3);
}

function thermal(cx: number, cy: number, outer: number, inner: number, gap: number, angleDeg = 0): Drawn {
  if (outer <= inner) throw new PrimitiveError(`the outer diameter must be larger than the inner one`);
  const ring: Region = {
    outer: disc(cx, cy, outer / 2),
    islands: inner > 0 ? [disc(cx, cy, inner / 2).toReversed()] : [],
  };
  const bars = gap > 0 ? [box(outer * 1.1, gap, cx, cy), box(gap, outer * 1.1, cx, cy)] : [];
  return { exposure: 1, regions: bars.length > 0 ? cut([ring], bars.map(solid)) : [ring], angleDeg };
}

/** Turns a primitive about the macro's origin, counter-clockwise. */
function turned({ regions, angleDeg }: Drawn): readonly Region[] {
  if (angleDeg === 0) return regions;
  const map = rotation(angleDeg);
  return regions.map((region) => mapOpening(map, region));
}
