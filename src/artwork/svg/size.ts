import { InputError } from '../../errors.js';
import { composeMaps, scaling, translation } from '../../geometry/affine.js';
import type { Affine, PerAxis } from '../../geometry/types.js';
import type { ReadOptions } from '../types.js';
import {
  isNumberList,
  MM_PER_CSS_UNIT,
  numberList,
  PX_PER_INCH,
  parseSvgLength,
  type SvgLength,
  userUnits,
} from './numbers.js';
import type { XmlElement } from './xml.js';

export interface ViewBox {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** The root's viewport: in CSS pixels, and how many mm one pixel is. */
export interface RootSize {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly mmPerPx: PerAxis;
  readonly box: ViewBox | undefined;
  /** The drawing does not say its size, and a known distance is to settle it afterwards. */
  readonly provisional: boolean;
  /** The drawing says its size in mm or the like, so that a number of pixels per inch says nothing. */
  readonly dpiNotUsed?: boolean;
}

export function parseViewBox(text: string | undefined): ViewBox | undefined {
  const n = isNumberList(text ?? '', 4) ? numberList(text ?? '') : [];
  return n.length === 4 && n[2] > 0 && n[3] > 0 ? { x: n[0], y: n[1], width: n[2], height: n[3] } : undefined;
}

/**
 * The map from a viewBox to a viewport at the origin (SVG 2, section 8.2), y down.
 *
 * @param aspect - the `preserveAspectRatio` attribute
 */
export function viewBoxMap(box: ViewBox, width: number, height: number, aspect: string | undefined): Affine {
  const [align = 'xMidYMid', meet = 'meet'] = (aspect ?? '')
    .trim()
    .replace(/^defer\s+/, '')
    .split(/\s+/);
  let sx = width / box.width;
  let sy = height / box.height;
  let [dx, dy] = [0, 0];
  if (align !== 'none') {
    const scale = meet === 'slice' ? Math.max(sx, sy) : Math.min(sx, sy);
    // Two ways to the same number must not differ in the last digits.
    if (Math.abs(sx - scale) > 1e-9 * scale) sx = scale;
    if (Math.abs(sy - scale) > 1e-9 * scale) sy = scale;
    const share = (part: string): number => (part === 'Min' ? 0 : part === 'Max' ? 1 : 0.5);
    const match = /^x(Min|Mid|Max)Y(Min|Mid|Max)$/.exec(align);
    dx = (width - box.width * sx) * share(match?.[1] ?? 'Mid');
    dy = (height - box.height * sy) * share(match?.[2] ?? 'Mid');
  }
  return composeMaps(translation(dx, dy), composeMaps(scaling(sx, sy), translation(-box.x, -box.y)));
}

const isPhysical = (length: SvgLength | undefined): boolean =>
  length !== undefined && MM_PER_CSS_UNIT[length.unit] !== undefined;

const square = (mm: number): RootSize['mmPerPx'] => ({ x: mm, y: mm });

/** Finds the root's size. Sizes in pixels or without a unit are no true sizes: the user has to say one. */
export function rootSize(root: XmlElement, options: ReadOptions): RootSize {
  const given = (name: 'width' | 'height'): SvgLength | undefined => {
    const styled = new RegExp(`(?:^|[;\\s])${name}\\s*:\\s*([^;]+)`).exec(root.attributes.style ?? '')?.[1];
    const text = styled ?? root.attributes[name];
    const length = parseSvgLength(text);
    if (text !== undefined && !/^\s*(?:auto)?\s*$/.test(text) && !(length && Number.isFinite(length.value)))
      throw broken(name, `a length such as "50mm"`, text, root.line, options.name);
    return length && length.unit !== '%' && length.value > 0 ? length : undefined;
  };
  const { viewBox } = root.attributes;
  const box = parseViewBox(viewBox);
  if (viewBox !== undefined && !box) {
    throw broken('viewBox', 'four numbers, the last two above 0', viewBox, root.line, options.name);
  }
  const width = given('width');
  const height = given('height');
  const px = (length: SvgLength | undefined): number | undefined => length && userUnits(length, 0);
  const ratio = box ? box.height / box.width : undefined;
  const w = px(width) ?? (height && ratio ? (px(height) ?? 0) / ratio : box?.width);
  const h = px(height) ?? (width && ratio ? (px(width) ?? 0) * ratio : box?.height);
  const cssMm = 25.4 / PX_PER_INCH;
  const known = isPhysical(width) || isPhysical(height);
  if (w === undefined || h === undefined || !(w > 0 && h > 0) || !Number.isFinite(w * h)) {
    throw new InputError({
      code: 'SIZE_UNKNOWN',
      place: { file: options.name, line: root.line, key: 'svg' },
      message: 'the drawing has neither a width and height nor a viewBox, so its canvas is unknown.',
      hint: 'Give the svg element a width and a height in mm.',
    });
  }
  const [widthPx, heightPx] = [w, h];
  const sized = (mmPerPx: RootSize['mmPerPx'], provisional = false): RootSize => ({
    ...{ widthPx, heightPx, box, mmPerPx, provisional },
    dpiNotUsed: known && options.widthMm === undefined && options.dpi !== undefined,
  });
  if (options.widthMm !== undefined) return sized(square(options.widthMm / widthPx));
  if (known) return sized(square(cssMm), options.knownDistance !== undefined);
  if (options.dpi !== undefined) {
    const [x, y] = typeof options.dpi === 'number' ? [options.dpi, options.dpi] : options.dpi;
    return sized({ x: 25.4 / x, y: 25.4 / y });
  }
  if (options.knownDistance !== undefined) return sized(square(cssMm), true);
  const howGiven = width || height ? 'in pixels' : 'only by its viewBox';
  const atCss = `${Number((widthPx * cssMm).toFixed(2))} x ${Number((heightPx * cssMm).toFixed(2))} mm`;
  throw new InputError({
    code: 'SIZE_UNKNOWN',
    place: { file: options.name, line: root.line, key: width ? 'width' : height ? 'height' : 'viewBox' },
    message: `the drawing gives its size ${howGiven} (${Number(widthPx.toFixed(3))} x ${Number(heightPx.toFixed(3))}), so its true size is unknown.`,
    hint: `Give --width-mm, --known-distance, or --dpi (pixels per inch); at the 96 of CSS it would be ${atCss}, but many programs mean 72, 90 or 25.4.`,
  });
}

function broken(key: string, expected: string, found: string, line: number, file: string | undefined): InputError {
  return new InputError({
    code: 'SVG_BROKEN',
    place: { file, line, key },
    message: `expected ${expected} as the drawing's ${key}, found "${found.slice(0, 60)}".`,
    hint: 'Without it the size of the drawing is unknown; export it again.',
  });
}
