import type { Colour } from '../paint/drawing.js';
import { NAMED_COLOURS } from './named-colours.js';

const clamp = (value: number): number => Math.min(1, Math.max(0, value));

/** Reads a CSS colour; undefined for what is none, such as `none` or a paint server. */
export function parseColour(text: string): Colour | undefined {
  const value = text.trim().toLowerCase();
  if (value === 'transparent') return { r: 0, g: 0, b: 0, a: 0 };
  const hex = /^#([0-9a-f]{3,4}|[0-9a-f]{6}|[0-9a-f]{8})$/.exec(value)?.[1];
  if (hex) {
    const digits = hex.length <= 4 ? [...hex].map((c) => c + c) : (hex.match(/../g) ?? []);
    const [r, g, b, a = 1] = digits.map((pair) => Number.parseInt(pair, 16) / 255);
    return { r, g, b, a };
  }
  const call = /^(rgba?|hsla?)\(([^()]*)\)/.exec(value);
  if (call) {
    const parts = call[2].split(/[\s,/]+/).filter((part) => part !== '');
    if (parts.length < 3) return undefined;
    const alpha = parts[3] === undefined ? 1 : fraction(parts[3], 1);
    const colour = call[1].startsWith('rgb')
      ? { r: fraction(parts[0], 255), g: fraction(parts[1], 255), b: fraction(parts[2], 255) }
      : hsl(Number.parseFloat(parts[0]), fraction(parts[1], 100), fraction(parts[2], 100));
    const all = { ...colour, a: alpha };
    return Object.values(all).every(Number.isFinite) ? all : undefined;
  }
  const named = NAMED_COLOURS[value];
  return named === undefined
    ? undefined
    : { r: (named >> 16) / 255, g: ((named >> 8) & 255) / 255, b: (named & 255) / 255, a: 1 };
}

/** A part of a colour as a share: `50%`, or a number out of `whole`. */
function fraction(text: string, whole: number): number {
  const value = Number.parseFloat(text);
  return clamp(text.endsWith('%') ? value / 100 : value / whole);
}

function hsl(hueDeg: number, saturation: number, lightness: number): { r: number; g: number; b: number } {
  const reach = saturation * Math.min(lightness, 1 - lightness);
  const channel = (n: number): number => {
    const k = (((n + hueDeg / 30) % 12) + 12) % 12;
    return lightness - reach * Math.max(-1, Math.min(k - 3, 9 - k, 1));
  };
  return { r: channel(0), g: channel(8), b: channel(4) };
}

/** Reads an opacity, a number or a percentage. */
export function parseOpacity(text: string | undefined): number {
  if (text === undefined) return 1;
  const value = fraction(text.trim(), 1);
  return Number.isFinite(value) ? value : 1;
}
