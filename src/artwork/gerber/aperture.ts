import type { Region, Ring } from '../../geometry/types.js';
import type { Diagnostics } from '../paint/diagnostics.js';
import type { Values } from './attributes.js';
import type { Macro } from './macro.js';
import { macroRegions } from './macro-shape.js';
import { box, disc, obround, regularPolygon, withHole } from './standard-shape.js';

/** An aperture as defined by AD: its image about its own origin, mm. */
export interface Aperture {
  /** They do not overlap; flashes share them. */
  readonly regions: readonly Region[];
  /** Name for the opening's tag: circle, rectangle, obround, polygon, or the macro's name. */
  readonly family: string;
  readonly attributes: ReadonlyMap<string, Values>;
  /** Diameter, for a round pen without a hole. */
  readonly diameterMm?: number;
}

/** No parameter of an aperture is larger, be it millimetres, inches, degrees or a count. */
const LARGEST = 1e4;

const FAMILIES: Readonly<Record<string, string>> = { C: 'circle', R: 'rectangle', O: 'obround', P: 'polygon' };

/**
 * Splits `ADD10C,0.5X0.2` (also `ADD10 C`, lower case) into code, template and parameters.
 *
 * @param macros - for names that begin with a digit, which only a known name can tell from the D code
 */
export function parseDefinition(
  text: string,
  macros: ReadonlyMap<string, Macro>,
): { code: number; template: string; parameters: string[] } | undefined {
  const match = /^AD\s*D\s*(\d+)([^,]*)(?:,([\s\S]*))?$/i.exec(text.trim());
  if (!match) return undefined;
  let [digits, template] = [match[1], match[2].trim()];
  if (!macros.has(template) && !(template.toUpperCase() in FAMILIES)) {
    const whole = digits + template;
    const name = [...macros.keys()].find((key) => /^\d/.test(key) && whole.endsWith(key) && whole.length > key.length);
    if (name) [digits, template] = [whole.slice(0, whole.length - name.length), name];
    if (template === '') return undefined;
  }
  const parameters = (match[3] ?? '').trim();
  return {
    code: Number(digits),
    template,
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
  notes: Diagnostics,
): Aperture {
  const numbers = texts.map(Number);
  const empty = { regions: [], family: template, attributes };
  const bad = texts.findIndex((text, i) => text === '' || !(Math.abs(numbers[i]) <= LARGEST));
  if (bad >= 0) {
    const what = Number.isFinite(numbers[bad]) && texts[bad] !== '' ? 'is larger than any aperture' : 'is no number';
    notes.fail('APERTURE_NUMBER', `aperture template ${template}: "${texts[bad]}" ${what}.`);
    return empty;
  }
  const macro = macros.get(template) ?? macros.get(template.toUpperCase());
  if (macro && !(template.toUpperCase() in FAMILIES && !macros.has(template))) {
    return { regions: macroRegions(macro, numbers, mm, notes), family: template, attributes };
  }
  const family = FAMILIES[template.toUpperCase()];
  if (!family) {
    notes.fail(
      'APERTURE_TEMPLATE',
      `there is no aperture template or macro "${template}".`,
      'The file may be cut together from two; export it again.',
    );
    return empty;
  }
  return { ...standard(family, numbers, mm, notes), family, attributes };
}

const HOLE_AT: Readonly<Record<string, number>> = { circle: 1, rectangle: 2, obround: 2, polygon: 3 };

function standard(
  family: string,
  numbers: readonly number[],
  mm: number,
  notes: Diagnostics,
): { regions: Region[]; diameterMm?: number } {
  const fail = (message: string): { regions: Region[] } => {
    notes.fail('APERTURE_NUMBER', `${family} aperture: ${message}.`);
    return { regions: [] };
  };
  const needed = family === 'circle' ? 1 : 2;
  if (numbers.length < needed) return fail(`expected ${needed} number(s), found ${numbers.length}`);
  if (numbers.slice(0, family === 'polygon' ? 1 : needed).some((n) => n < 0)) return fail('a size is below 0');
  const hole = holeRing(numbers.slice(HOLE_AT[family]), mm);
  const [a, b, c] = numbers;
  if (family === 'circle') {
    if (a === 0) return { regions: [], diameterMm: 0 };
    return { regions: withHole(disc(0, 0, (a * mm) / 2), hole), ...(hole ? {} : { diameterMm: a * mm }) };
  }
  if (family === 'polygon') {
    if (!Number.isInteger(b) || b < 3 || b > 64) return fail(`expected 3 to 12 corners, found ${b}`);
    return { regions: a === 0 ? [] : withHole(regularPolygon(a * mm, b, c ?? 0), hole) };
  }
  if (a === 0 || b === 0) return { regions: [] };
  return { regions: withHole(family === 'rectangle' ? box(a * mm, b * mm) : obround(a * mm, b * mm), hole) };
}

/** A round hole, or the rectangular one of old files. */
function holeRing([x, y]: readonly number[], mm: number): Ring | undefined {
  if (x === undefined || x <= 0) return undefined;
  return y === undefined || y <= 0 ? disc(0, 0, (x * mm) / 2) : box(x * mm, y * mm);
}
