import type { Point } from '../geometry/types.js';
import { escapeXml } from '../text.js';

/** Something found in a picture: a line between two places, with its name. Pixels of the picture. */
export interface ScanMark {
  readonly name: string;
  readonly ends: readonly [Point, Point];
  /** Why a person should look at it; drawn in another colour and dashed. */
  readonly doubt?: string;
}

export interface ScanPicture {
  readonly widthPx: number;
  readonly heightPx: number;
  /** A smaller copy of the picture, ready to be shown; without it only what is drawn upon it. */
  readonly preview?: { readonly mime: 'image/jpeg' | 'image/png'; readonly base64: string };
  readonly marks: readonly ScanMark[];
  /** Outlines of things that were asked for, pixels. */
  readonly outlines?: readonly { readonly ring: readonly Point[]; readonly good: boolean }[];
}

/** The picture with what was recognised on it, as SVG; sizes in pixels of the whole picture, so that it can be looked at closely. */
export function scanPictureSvg({ widthPx, heightPx, preview, marks, outlines = [] }: ScanPicture): string {
  const px = Math.max(widthPx, heightPx);
  const text = Math.max(8, px / 160);
  const line = Math.max(1, px / 1400);
  const n = (value: number): string => value.toFixed(2);
  const drawn = marks.map(({ name, ends, doubt }) => {
    const [[ax, ay], [bx, by]] = ends;
    const length = Math.hypot(bx - ax, by - ay) || 1;
    // Short strokes square to the line stand on the edges that were found.
    const [tx, ty] = [(-(by - ay) / length) * text * 0.6, ((bx - ax) / length) * text * 0.6];
    const colour = doubt ? '#d83b00' : '#007a3d';
    const tick = ([x, y]: Point): string => `M${n(x - tx)} ${n(y - ty)}L${n(x + tx)} ${n(y + ty)}`;
    const long = length > 12 * text;
    const body = long ? '' : `M${n(ax)} ${n(ay)}L${n(bx)} ${n(by)}`;
    const at = long ? ends[1] : [(ax + bx) / 2, (ay + by) / 2];
    const title = doubt ? `${name}: ${doubt}` : name;
    return `<g><title>${escapeXml(title)}</title><path d="${tick(ends[0])}${tick(ends[1])}${body}" fill="none" stroke="${colour}" stroke-width="${n(line)}"${doubt ? ` stroke-dasharray="${n(3 * line)} ${n(2 * line)}"` : ''}/><text x="${n(at[0])}" y="${n(at[1] - 0.7 * text)}" font-size="${n(text)}" fill="${colour}" stroke="#fff" stroke-width="${n(text / 8)}" paint-order="stroke" text-anchor="middle" font-family="DejaVu Sans, sans-serif">${escapeXml(name)}</text></g>`;
  });
  const rings = outlines.map(
    ({ ring, good }) =>
      `<path d="M${ring.map(([x, y]) => `${n(x)} ${n(y)}`).join('L')}Z" fill="none" stroke="${good ? '#007a3d' : '#d83b00'}" stroke-width="${n(line)}"/>`,
  );
  const image = preview
    ? `<image width="${widthPx}" height="${heightPx}" href="data:${preview.mime};base64,${preview.base64}" preserveAspectRatio="none"/>`
    : '';
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${widthPx} ${heightPx}" width="${widthPx}" height="${heightPx}">${image}${rings.join('')}${drawn.join('')}</svg>`;
}
