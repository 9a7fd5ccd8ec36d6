import { type PDFDict, PDFHexString, type PDFObject, PDFString } from 'pdf-lib';
import * as objects from './objects.js';

type Rgb = readonly [number, number, number];

/** How a colour's components become red, green and blue. */
export interface ColourSpace {
  /** An ink of kind `none` leaves no mark. */
  readonly kind: 'plain' | 'pattern' | 'unknown' | 'none';
  readonly components: number;
  readonly initial: Rgb;
  toRgb(values: readonly number[]): Rgb;
  /**
   * In what a picture's samples mean the same brightness: a device's space, or how inks mix to red, green and blue, in
   * the language of calculator functions (section 7.10.5). A half more than 255ths need, since they are cut off.
   */
  readonly device?: string;
}

const clamp = (value: number | undefined): number => Math.min(1, Math.max(0, value ?? 0));

const plain = (
  components: number,
  toRgb: (values: readonly number[]) => Rgb,
  device?: ColourSpace['device'],
): ColourSpace => ({ kind: 'plain', components, initial: [0, 0, 0], toRgb, device });

export const GREY = plain(1, ([g]) => [clamp(g), clamp(g), clamp(g)], 'DeviceGray');
export const RGB = plain(3, ([r, g, b]) => [clamp(r), clamp(g), clamp(b)], 'DeviceRGB');
/** ISO 32000-1, section 10.3.5: from DeviceCMYK to DeviceRGB. */
export const CMYK = plain(
  4,
  ([c, m, y, k]) => [
    1 - Math.min(1, clamp(c) + clamp(k)),
    1 - Math.min(1, clamp(m) + clamp(k)),
    1 - Math.min(1, clamp(y) + clamp(k)),
  ],
  '{ dup 5 -1 roll add 1.002 exch sub 4 1 roll dup 4 -1 roll add 1.002 exch sub 3 1 roll add 1.002 exch sub }',
);
/** Lightness alone tells dark from light. */
const LAB = plain(3, ([l]) => [clamp((l ?? 0) / 100), clamp((l ?? 0) / 100), clamp((l ?? 0) / 100)]);
/** Spot inks: full ink is dark, whatever colour the ink has; what matters is where there is ink. */
const spot = (components: number): ColourSpace =>
  plain(
    components,
    (tints) => {
      const grey = 1 - clamp(Math.max(...tints, 0));
      return [grey, grey, grey];
    },
    `{ ${'2 copy lt { exch } if pop '.repeat(components - 1)}1.002 exch sub dup dup }`,
  );
const PATTERN: ColourSpace = { ...plain(0, () => [0, 0, 0]), kind: 'pattern' };
const UNKNOWN: ColourSpace = { ...plain(1, () => [0, 0, 0]), kind: 'unknown' };

const DEVICE: Readonly<Record<string, ColourSpace>> = {
  DeviceGray: GREY,
  G: GREY,
  CalGray: GREY,
  DeviceRGB: RGB,
  RGB,
  CalRGB: RGB,
  DeviceCMYK: CMYK,
  CMYK,
  Lab: LAB,
  Pattern: PATTERN,
};

/** Finds a colour space by the name that a content stream uses. */
export function namedColourSpace(resources: PDFDict | undefined, name: string): ColourSpace {
  const own = objects.get(objects.dict(resources, 'ColorSpace'), name);
  return own === undefined ? (DEVICE[name] ?? UNKNOWN) : colourSpace(own, 0);
}

/** Finds a picture's colour space, which is a name or a description. */
export function colourSpaceOf(resources: PDFDict | undefined, object: PDFObject | undefined): ColourSpace {
  const name = objects.name(object);
  return name === undefined ? colourSpace(object, 0) : namedColourSpace(resources, name);
}

function colourSpace(object: PDFObject | undefined, depth: number): ColourSpace {
  const name = objects.name(object);
  if (name !== undefined) return DEVICE[name] ?? UNKNOWN;
  const parts = objects.array(object);
  if (!parts || depth > 5) return UNKNOWN;
  const family = objects.name(parts[0]) ?? '';
  switch (family) {
    case 'ICCBased': {
      const count = objects.numberOf(objects.get(objects.asDict(parts[1]), 'N'));
      return count === 1 ? GREY : count === 3 ? RGB : count === 4 ? CMYK : UNKNOWN;
    }
    case 'Separation':
      // The ink named None is never put down (8.6.6.4).
      return objects.name(parts[1]) === 'None' ? { ...spot(1), kind: 'none' } : spot(1);
    case 'DeviceN':
      return spot(objects.array(parts[1])?.length ?? 1);
    case 'Indexed':
    case 'I':
      return indexed(parts, depth);
    default:
      return DEVICE[family] ?? UNKNOWN;
  }
}

function indexed(parts: readonly PDFObject[], depth: number): ColourSpace {
  const base = colourSpace(parts[1], depth + 1);
  const table = parts[3];
  const bytes = table instanceof PDFString || table instanceof PDFHexString ? table.asBytes() : objects.decode(table);
  if (base.kind !== 'plain' || !bytes) return UNKNOWN;
  const scale = base === LAB ? 100 / 255 : 1 / 255;
  const toRgb = ([index]: readonly number[]): Rgb => {
    const at = Math.max(0, Math.round(index ?? 0)) * base.components;
    const values = bytes.subarray(at, at + base.components);
    return base.toRgb(Array.from(values, (v) => v * scale));
  };
  return plain(1, toRgb);
}
