import { type PDFDict, type PDFDocument, PDFName, type PDFObject, type PDFPage } from 'pdf-lib';
import { composeMaps, rotation, scaling, translation } from '../../geometry/affine.js';
import type { Affine, Size } from '../../geometry/types.js';
import { DamagedStream } from './lex.js';
import * as objects from './objects.js';

const MM_PER_POINT = 25.4 / 72;

/** Where a page's user space lies on its canvas. */
export interface PageGeometry {
  readonly canvas: Size;
  /** From user space to mm, lower left corner of the visible page at the origin. */
  readonly map: Affine;
}

/** What a page, or else the nearest of the nodes above it, says (ISO 32000-1, section 7.7.3.4). */
export const inherited = ({ node }: PDFPage, key: string): PDFObject | undefined =>
  node.context.lookup(node.getInheritableAttribute(PDFName.of(key)));

/** A page's visible box, turn and unit (ISO 32000-1, sections 7.7.3.3 and 14.11.2); undefined without a usable box. */
export function pageGeometry(page: PDFPage): PageGeometry | undefined {
  const box = (key: string): [number, number, number, number] | undefined => {
    const n = objects.numbers(inherited(page, key), 4);
    return n && [Math.min(n[0], n[2]), Math.min(n[1], n[3]), Math.max(n[0], n[2]), Math.max(n[1], n[3])];
  };
  // Without a MediaBox viewers take Letter; a plot's size must not be guessed.
  const media = box('MediaBox');
  if (!media) return undefined;
  const crop = box('CropBox') ?? media;
  const x0 = Math.max(media[0], crop[0]);
  const y0 = Math.max(media[1], crop[1]);
  const width = Math.min(media[2], crop[2]) - x0;
  const height = Math.min(media[3], crop[3]) - y0;
  const unit = objects.numberOf(objects.get(page.node, 'UserUnit')) ?? 1;
  if (!(width > 0 && height > 0 && unit > 0)) return undefined;
  const scale = MM_PER_POINT * unit;
  const turn = (((Math.round((objects.numberOf(inherited(page, 'Rotate')) ?? 0) / 90) * 90) % 360) + 360) % 360;
  const [w, h] = [width * scale, height * scale];
  const upright = composeMaps(scaling(scale), translation(-x0, -y0));
  // The page is turned clockwise, then moved back so that its lower left corner is the origin.
  const shift: Record<number, [number, number]> = { 0: [0, 0], 90: [0, w], 180: [w, h], 270: [h, 0] };
  const map = turn === 0 ? upright : composeMaps(translation(...shift[turn]), composeMaps(rotation(-turn), upright));
  const across = turn % 180 === 90;
  return { canvas: { widthMm: across ? h : w, heightMm: across ? w : h }, map };
}

/** A page's content: its streams, one after the other. */
export function pageContent(page: PDFPage): Uint8Array {
  const contents = objects.get(page.node, 'Contents');
  if (contents === undefined && page.node.get(PDFName.of('Contents')) !== undefined) {
    throw new DamagedStream('the content of the page is missing');
  }
  const streams = objects.array(contents) ?? (contents ? [contents] : []);
  const parts = streams.flatMap((stream) => {
    const bytes = objects.decode(stream);
    if (!bytes) throw new DamagedStream('a part of the page is missing');
    return [bytes, new Uint8Array([10])];
  });
  return Buffer.concat(parts);
}

/** Optional-content groups that a viewer does not show at first. */
export function hiddenGroups(document: PDFDocument): ReadonlySet<PDFObject> {
  const properties = objects.dict(document.catalog, 'OCProperties');
  const config = objects.dict(properties, 'D');
  const list = (dict: PDFDict | undefined, key: string): PDFObject[] => objects.array(objects.get(dict, key)) ?? [];
  const hidden = new Set<PDFObject>(list(config, 'OFF'));
  if (objects.name(objects.get(config, 'BaseState')) === 'OFF') {
    for (const group of list(properties, 'OCGs')) hidden.add(group);
    for (const group of list(config, 'ON')) hidden.delete(group);
  }
  return hidden;
}

/** Flags of annotations that no viewer shows (12.5.3): hidden, and not on a screen. */
const NOT_SHOWN = 2 | 32;
/** Kinds that viewers draw by themselves where the file holds no picture of them (12.5.6). */
const DRAWN_BY_VIEWERS = /^(?:Square|Circle|Line|Polygon|PolyLine|Ink|FreeText|Highlight|Stamp)$/;

/** How many of a page's annotations viewers draw upon the page. */
export function drawnAnnotations(page: PDFPage, isOff: (group: PDFObject | undefined) => boolean): number {
  const list = objects.array(objects.get(page.node, 'Annots')) ?? [];
  return list.filter((item) => {
    const annotation = objects.asDict(item);
    const look = objects.get(objects.dict(annotation, 'AP'), 'N');
    const flags = objects.numberOf(objects.get(annotation, 'F')) ?? 0;
    const kind = objects.name(objects.get(annotation, 'Subtype')) ?? '';
    const isShown = (flags & NOT_SHOWN) === 0 && kind !== 'Popup';
    return (look !== undefined || DRAWN_BY_VIEWERS.test(kind)) && isShown && !isOff(objects.get(annotation, 'OC'));
  }).length;
}
