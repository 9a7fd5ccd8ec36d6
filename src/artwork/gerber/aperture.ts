import type { Ring } from '../../geometry/types.js';
import type { Values } from './attributes.js';
import type { Macro } from './macro.js';
import { macroRegions } from './macro-shape.js';
import type { Notes } from './notes.js';
import { EMPTY_SHAPE, makeShape, type Shape } from './shape.js';
import { box, disc, obround, regularPolygon, withHole } from './standard-shape.js';

/** An aperture as defined by AD: its image about its own origin, mm. */
export interface Aperture {
  readonly shape: Shape;
  /** Name for the opening's tag: circle, rectangle, obround, polygon, or the macro's name. */
  readonly family: string;
  /** Diameter, for a round pen without a hole. */
  readonly diameterMm?: number;
  readonly attributes: ReadonlyMap<string, Values>;
}

const FAMILIES: Readonly<Record<string, string>> = { C: 'circle', R: 'rectangle', O: 'obround', P: 'polygon' };

/** Splits `D10C,0.5X0.2` (also `D10 C`, lower case) into code, template and parameters. */
export function parseDefinition(text: string): { code: number; template: string; parameters: string[] } | undefined {
  const match = /^AD\s*D\s*0*(\d+)\s*([A-Za-z_.$][\w.$-]*)\s*(?:,([\s\S]*))?$/i.exec(text.replace(/[\r\n]+/g, ''));
  if (!match) return undefined;
  const parameters = (match[3] ?? '').trim();
  return {
    code: Number(match[1]),
    template: match[2],
    parameters: parameters === '' ? [] : parameters.split(/X/i).map((p) => p.trim()),
  };
}

/** Works a definition out. Problems go to the notes; the aperture is then empty. */
export function defineAperture(
  template: string,
  texts: readonly string[],
  macros: ReadonlyMap<string, Macro>,
  mm: number,
  attributes: ReadonlyMap<string, Values>,
  line: number,
  notes: Notes,
): Aperture {
  const numbers = texts.map(Number);
  const empty: Aperture = { shape: EMPTY_SHAPE, family: template, attributes };
  const bad = texts.findIndex((text, i) => text === '' || !Number.isFinite(numbers[i]));
  if (bad >= 0) {
    notes.fail(
      'APERTURE_NUMBER',
      line,
      `aperture template ${template}: "${texts[bad]}" is no number.`,
      'Export the file again.',
    );
    return empty;
  }
  const macro = macros.get(template) ?? macros.get(template.toUpperCase());
  if (macro && !(template.toUpperCase() in FAMILIES && !macros.has(template))) {
    return { shape: makeShape(macroRegions(macro, numbers, mm, line, notes)), family: template, attributes };
  }
  const family = FAMILIES[template.toUpperCase()];
  if (!family) {
    notes.fail(
      'APERTURE_TEMPLATE',
      line,
      `there is no aperture template or macro "${template}".`,
      'The file may be cut together from two; export it again.',
    );
    return empty;
  }
  return { ...standard(family, numbers, mm, line, notes), family, attributes };
}

const HOLE_AT: Readonly<Record<string, number>> = { circle: 1, rectangle: 2, obround: 2, polygon: 3 };

function standard(
  family: string,
  numbers: readonly number[],
  mm: number,
  line: number,
  notes: Notes,
): { shape: Shape; diameterMm?: number } {
  const fail = (message: string): { shape: Shape } => {
    notes.fail('APERTURE_NUMBER', line, `${family} aperture: ${message}.`, 'Export the file again.');
    return { shape: EMPTY_SHAPE };
  };
  const needed = family === 'circle' ? 1 : 2;
  if (numbers.length < needed) return fail(`expected ${needed} number(s), found ${numbers.length}`);
  if (numbers.slice(0, family === 'polygon' ? 1 : needed).some((n) => n < 0)) return fail(`a size is below 0`);
  const hole = holeRing(numbers.slice(HOLE_AT[family]), mm);
  const [a, b, c] = numbers;
  if (family === 'circle') {
    if (a === 0) return { shape: EMPTY_SHAPE, diameterMm: 0 };
    return { shape: makeShape(withHole(disc(0, 0, (a * mm) / 2), hole)), ...(hole ? {} : { diameterMm: a * mm }) };
  }
  if (family === 'polygon') {
    if (!Number.isInteger(b) || b < 3 || b > 64) return fail(`expected 3 to 12 corners, found ${b}`);
    return { shape: a === 0 ? EMPTY_SHAPE : makeShape(withHole(regularPolygon(a * mm, b, c ?? 0), hole)) };
  }
  if (a === 0 || b === 0) return { shape: EMPTY_SHAPE };
  const outer = family === 'rectangle' ? box(a * mm, b * mm) : obround(a * mm, b * mm);
  return { shape: makeShape(withHole(outer, hole)) };
}

/** A round hole, or the rectangular one of old files. */
function holeRing([x, y]: readonly number[], mm: number): Ring | undefined {
  if (x === undefined || x <= 0) return undefined;
  return y === undefined || y <= 0 ? disc(0, 0, (x * mm) / 2) : box(x * mm, y * mm);
}

/** The outline that a pen of this shape sweeps with: its own ring when it is one convex piece. */
export function penRing(shape: Shape): Ring | undefined {
  return shape.regions.length === 1 ? shape.regions[0].outer : undefined;
}
