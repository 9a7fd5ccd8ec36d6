import type { Resvg } from '@resvg/resvg-js';
import { InputError, type Warning } from '../../errors.js';
import { composeMaps, IDENTITY } from '../../geometry/affine.js';
import { boundsOf } from '../../geometry/bounds.js';
import type { Affine } from '../../geometry/types.js';
import { WorkBudget } from '../../geometry/work-budget.js';
import { Drawing } from '../paint/drawing.js';
import { scaleFromDistance } from '../paint/known-distance.js';
import { openingsOf } from '../paint/openings-of.js';
import { findSuspicious } from '../suspicious.js';
import type { Artwork, ReadOptions } from '../types.js';
import { DrawnSvg } from './drawn.js';
import { type RootSize, rootSize, viewBoxMap } from './size.js';
import { SvgSource } from './source.js';
import { decodeXml, parseXml, type XmlElement } from './xml.js';

/** Style sheets are named before the drawing (W3C, Associating Style Sheets with XML documents 1.0); not those within it. */
const OUTER_STYLES = /<\?xml-stylesheet\s(?![^?]*href\s*=\s*["']#)/;

/**
 * Reads an SVG drawing into openings: whatever the resvg library draws of it without fonts, pictures and filters, told
 * where something is left out. Points are those of the drawing to seven digits; a quarter of an ellipse is a cubic, up to
 * 0.03 % of its radius outside it. Light shapes erase the dark ones beneath them.
 * Source: W3C, Scalable Vector Graphics (SVG) 1.1 second edition and SVG 2.
 *
 * @param bytes - the whole file
 * @param options - `dpi`, `widthMm` or `knownDistance` for drawings whose size is in pixels; `polarity`
 * @returns openings in mm; the canvas's lower left corner is the origin
 * @throws {InputError} SIZE_UNKNOWN, SVG_BROKEN, SVG_TRANSFORM, NOTHING_DRAWN, TOO_COMPLEX
 */
export async function readSvg(bytes: Uint8Array, options: ReadOptions): Promise<Artwork> {
  const xml = decodeXml(bytes);
  const root = parseXml(xml, options.name);
  if (root.name !== 'svg') {
    throw new InputError({
      code: 'SVG_BROKEN',
      place: { file: options.name, line: root.line },
      message: `expected an svg element, found <${root.name.slice(0, 40)}>.`,
      hint: 'Export the paste layer again as SVG.',
    });
  }
  const size = rootSize(root, options);
  const budget = new WorkBudget();
  const { Resvg } = await import('@resvg/resvg-js');
  const draw = (mmPerPx: RootSize['mmPerPx']): Artwork =>
    budget.run(() => {
      const source = new SvgSource(root, options.name);
      if (OUTER_STYLES.test(xml.replace(/<!--[\s\S]*?-->/g, ''))) source.sheetOutside(1);
      return drawn(root, source, { ...size, mmPerPx }, (text) => worked(Resvg, text, options.name), options);
    });
  const first = draw(size.mmPerPx);
  if (!size.provisional || !options.knownDistance) {
    return size.dpiNotUsed ? { ...first, warnings: [dpiNotUsed(options.name), ...first.warnings] } : first;
  }
  // Once more at the true size, since curves become polygons by a tolerance in mm.
  const scale = scaleFromDistance(first.openings, options.knownDistance, options.name);
  return draw({ x: size.mmPerPx.x * scale, y: size.mmPerPx.y * scale });
}

/** The drawing as plain paths, without fonts: it shall be the same on every machine. */
function worked(Renderer: typeof Resvg, text: string, file: string | undefined): XmlElement {
  try {
    return parseXml(new Renderer(text, { font: { loadSystemFonts: false }, logLevel: 'off' }).toString(), file);
  } catch (cause) {
    throw new InputError(
      {
        code: 'SVG_BROKEN',
        place: { file },
        message: `the SVG is damaged: ${(cause instanceof Error ? cause.message : String(cause)).replace(/\.$/, '')}.`,
        hint: 'Export it again.',
      },
      { cause },
    );
  }
}

function drawn(
  root: XmlElement,
  source: SvgSource,
  { widthPx, heightPx, mmPerPx, box }: RootSize,
  work: (text: string) => XmlElement,
  options: ReadOptions,
): Artwork {
  const canvas = { widthMm: widthPx * mmPerPx.x, heightMm: heightPx * mmPerPx.y };
  const map: Affine = { a: mmPerPx.x, b: 0, c: 0, d: -mmPerPx.y, e: 0, f: canvas.heightMm };
  const drawing = new Drawing(options.name);
  const shown = new DrawnSvg(drawing, source);
  const inner = box ? viewBoxMap(box, widthPx, heightPx, root.attributes.preserveAspectRatio) : IDENTITY;
  shown.run(work(source.rewritten(widthPx, heightPx)), composeMaps(map, composeMaps(source.rootMap(), inner)));
  const found = openingsOf(drawing.paints, canvas, options.polarity ?? 'auto', shown.ground);
  const warnings: Warning[] = [...source.warnings(), ...drawing.warnings(), ...found.warnings];
  if (found.openings.length === 0) throw nothingDrawn(drawing, warnings, options);
  return {
    format: 'svg',
    openings: found.openings,
    warnings: [...warnings, ...findSuspicious(found.openings)],
    canvas,
    ...sideOf(root),
    bounds: boundsOf(found.openings),
  };
}

function dpiNotUsed(file: string | undefined): Warning {
  return {
    code: 'DPI_NOT_USED',
    place: { file },
    message: 'the drawing says its size in mm, cm or inches, which was taken; --dpi has no effect on it.',
    hint: 'Leave it out, or give --width-mm if the size is wrong.',
  };
}

/** Our own drawings say which side of the board they are for. */
function sideOf(root: XmlElement): { side?: 'top' | 'bottom' } {
  const side = root.attributes['data-side'];
  return side === 'top' || side === 'bottom' ? { side } : {};
}

function nothingDrawn(drawing: Drawing, warnings: readonly Warning[], options: ReadOptions): InputError {
  const white = drawing.paints.length > 0;
  const left = warnings.map(({ message }) => message).join(' ');
  return new InputError({
    code: 'NOTHING_DRAWN',
    place: { file: options.name },
    message: white
      ? 'everything in the drawing has the colour of its ground, so there is no opening to cut.'
      : `the drawing shows no shape, so there is no opening to cut.${left ? ` ${left}` : ''}`,
    hint: white ? 'If the light shapes are the openings, say --polarity light.' : 'Check that this is the paste layer.',
  });
}
