import { composeMaps, IDENTITY, rotation, scaling, translation } from '../../geometry/affine.js';
import type { Affine } from '../../geometry/types.js';
import { numberList } from './numbers.js';

const tangent = (degrees: number): number => Math.tan((degrees * Math.PI) / 180);

/** By name in small letters: how many numbers each may have, and the map that they make, the first one in degrees. */
const TRANSFORMS: Readonly<
  Record<string, readonly [counts: readonly number[], map: (n: readonly number[]) => Affine]>
> = {
  matrix: [[6], ([a, c, b, d, e, f]) => ({ a, b, c, d, e, f })],
  translate: [[1, 2], ([x, y = 0]) => translation(x, y)],
  translatex: [[1], ([x]) => translation(x, 0)],
  translatey: [[1], ([y]) => translation(0, y)],
  scale: [[1, 2], ([x, y = x]) => scaling(x, y)],
  scalex: [[1], ([x]) => scaling(x, 1)],
  scaley: [[1], ([y]) => scaling(1, y)],
  rotate: [
    [1, 3],
    ([angle, x, y]) => {
      const turn = rotation(angle);
      return x === undefined ? turn : composeMaps(translation(x, y), composeMaps(turn, translation(-x, -y)));
    },
  ],
  skewx: [[1], ([angle]) => ({ ...IDENTITY, b: tangent(angle) })],
  skewy: [[1], ([angle]) => ({ ...IDENTITY, c: tangent(angle) })],
};

function one(name: string, n: readonly number[], text: string): Affine | undefined {
  const key = name.toLowerCase();
  const [counts, map] = (Object.hasOwn(TRANSFORMS, key) && TRANSFORMS[key]) || [];
  if (!map || !counts?.includes(n.length)) return undefined;
  return map(/^(?:rot|skew)/.test(key) && /(?:rad|grad|turn)/i.test(text) ? n.with(0, angleDeg(text)) : n);
}

function angleDeg(text: string): number {
  const value = Number.parseFloat(text);
  if (/grad/i.test(text)) return value * 0.9;
  if (/rad/i.test(text)) return (value * 180) / Math.PI;
  return value * 360;
}

/**
 * Reads a transform list, attribute or CSS property. Coordinates as SVG has them, y down.
 *
 * @returns undefined when it can't be read
 */
export function parseTransform(text: string | undefined): Affine | undefined {
  if (text === undefined || text.trim() === '' || text.trim() === 'none') return IDENTITY;
  let map: Affine = IDENTITY;
  const call = /\s*,?\s*([A-Za-z]+)\s*\(([^()]*)\)/y;
  let end = 0;
  for (let match = call.exec(text); match; match = call.exec(text)) {
    // Units of CSS transforms: lengths in px, angles in deg.
    const plain = match[2].replace(/(?<=[\d.])(?:px|deg|rad|grad|turn)\b/gi, ' ');
    const next = one(match[1], numberList(plain), match[2]);
    if (!next || !Object.values(next).every(Number.isFinite)) return undefined;
    map = composeMaps(map, next);
    end = call.lastIndex;
  }
  return text.slice(end).trim() === '' ? map : undefined;
}
