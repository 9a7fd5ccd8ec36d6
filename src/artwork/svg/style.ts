import type { Colour } from '../paint/drawing.js';
import { BLACK } from '../paint/drawing.js';
import { parseColour, parseOpacity } from './colour.js';
import { type Placed, parseDeclarations, type StyleSheet } from './css.js';

/** Properties that children take over (SVG 2, property index). */
const INHERITED = [
  'fill',
  'fill-rule',
  'fill-opacity',
  'stroke',
  'stroke-width',
  'stroke-linecap',
  'stroke-linejoin',
  'stroke-miterlimit',
  'stroke-dasharray',
  'stroke-dashoffset',
  'stroke-opacity',
  'clip-rule',
  'visibility',
  'color',
  'paint-order',
  'marker',
  'marker-start',
  'marker-mid',
  'marker-end',
] as const;

/** Properties that stay with their element. */
const OWN = [
  'display',
  'opacity',
  'transform',
  'transform-origin',
  'clip-path',
  'mask',
  'filter',
  'overflow',
  'vector-effect',
  'mix-blend-mode',
  'd',
  'x',
  'y',
  'width',
  'height',
  'cx',
  'cy',
  'r',
  'rx',
  'ry',
  'stop-color',
  'stop-opacity',
  'background',
  'background-color',
] as const;

const PRESENTATION: ReadonlySet<string> = new Set([...INHERITED, ...OWN]);

/** Values of the properties in force for one element. */
export type Style = Readonly<Record<string, string>>;

export const ROOT_STYLE: Style = {};

/** Works out an element's properties: attributes, then style sheets, then its own `style`, `!important` over all. */
export function styleOf(placed: Placed, parent: Style, sheet: StyleSheet): Style {
  const style: Record<string, string> = {};
  for (const name of INHERITED) if (parent[name] !== undefined) style[name] = parent[name];
  const { attributes } = placed.element;
  const set = (name: string, value: string): void => {
    if (value === 'inherit') {
      if (parent[name] === undefined) delete style[name];
      else style[name] = parent[name];
    } else if (value === 'initial' || value === 'unset') delete style[name];
    else style[name] = value;
  };
  for (const [name, value] of Object.entries(attributes)) {
    if (PRESENTATION.has(name) && value.trim() !== '') set(name, value.trim());
  }
  const declared = [
    ...sheet.declarationsFor(placed),
    ...(attributes.style === undefined ? [] : parseDeclarations(attributes.style)),
  ];
  for (const { name, value, important } of declared) if (!important) set(name, value);
  for (const { name, value, important } of declared) if (important) set(name, value);
  return style;
}

/** A paint: none, a colour, or a reference to a paint server with what to do without it. */
export type PaintValue =
  | { readonly kind: 'none' }
  | { readonly kind: 'colour'; readonly colour: Colour }
  | { readonly kind: 'server'; readonly id: string; readonly fallback: PaintValue };

export function paintOf(style: Style, name: 'fill' | 'stroke'): PaintValue {
  const value = style[name];
  if (value === undefined) return name === 'fill' ? { kind: 'colour', colour: BLACK } : { kind: 'none' };
  return parsePaint(value, style) ?? paintOf({}, name);
}

/** Undefined for what can't be read: then the property counts as not given. */
function parsePaint(value: string, style: Style): PaintValue | undefined {
  const text = value.trim();
  if (text === '' || text === 'none') return { kind: 'none' };
  const server = /^url\(\s*["']?#([^"')]+)["']?\s*\)\s*(.*)$/.exec(text);
  if (server) {
    return { kind: 'server', id: server[1], fallback: (server[2] && parsePaint(server[2], style)) || { kind: 'none' } };
  }
  if (/^currentcolor$/i.test(text)) {
    return { kind: 'colour', colour: (style.color && parseColour(style.color)) || BLACK };
  }
  if (text === 'context-fill' || text === 'context-stroke') return { kind: 'colour', colour: BLACK };
  const colour = parseColour(text.replace(/\s+icc-color\([^)]*\)/, ''));
  return colour && { kind: 'colour', colour };
}

/** The colour with further opacities taken into account. */
export function withOpacity(colour: Colour, ...opacities: (string | undefined)[]): Colour {
  return { ...colour, a: opacities.reduce((a, text) => a * parseOpacity(text), colour.a) };
}
