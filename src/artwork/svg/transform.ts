import { composeMaps, IDENTITY, rotation, scaling, translation } from '../../geometry/affine.js';
import type { Affine } from '../../geometry/types.js';
import { numberList } from './numbers.js';

function one(name: string, n: readonly number[], text: string): Affine | undefined {
  const degrees = /(?:rad|grad|turn)/i.test(text) ? angleDeg(text) : n[0];
  switch (name.toLowerCase()) {
    case 'matrix':
      return n.length === 6 ? { a: n[0], c: n[1], b: n[2], d: n[3], e: n[4], f: n[5] } : undefined;
    case 'translate':
      return n.length === 1 || n.length === 2 ? translation(n[0], n[1] ?? 0) : undefined;
    case 'translatex':
      return n.length === 1 ? translation(n[0], 0) : undefined;
    case 'translatey':
      return n.length === 1 ? translation(0, n[0]) : undefined;
    case 'scale':
      return n.length === 1 || n.length === 2 ? scaling(n[0], n[1] ?? n[0]) : undefined;
    case 'scalex':
      return n.length === 1 ? scaling(n[0], 1) : undefined;
    case 'scaley':
      return n.length === 1 ? scaling(1, n[0]) : undefined;
    case 'rotate': {
      if (n.length !== 1 && n.length !== 3) return undefined;
      const turn = rotation(degrees);
      if (n.length === 1) return turn;
      return composeMaps(translation(n[1], n[2]), composeMaps(turn, translation(-n[1], -n[2])));
    }
    case 'skewx':
      return n.length === 1 ? { ...IDENTITY, b: Math.tan((degrees * Math.PI) / 180) } : undefined;
    case 'skewy':
      return n.length === 1 ? { ...IDENTITY, c: Math.tan((degrees * Math.PI) / 180) } : undefined;
    default:
      return undefined;
  }
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
