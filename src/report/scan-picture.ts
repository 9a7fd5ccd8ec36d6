import { ringBounds } from '../geometry/bounds.js';
import type { Box, Point } from '../geometry/types.js';
import { escapeXml } from '../text.js';
import { placeLabels } from './place-labels.js';

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

/** Letters that can be read where the whole picture is some 1000 dots wide, as a share of the longer side; and where they find no room. */
const LETTERS = 1 / 90;
const SMALL_LETTERS = 1 / 160;
/** Labels are placed as if letters were this large. */
const PLACED_PX = 12;
const GOOD = '#007a3d';
const DOUBTFUL = '#d83b00';

/** Shows when one points at it. */
const titleOf = ({ name, doubt }: Pick<ScanMark, 'name' | 'doubt'>): string =>
  escapeXml(doubt ? `${name}: ${doubt}` : name);

const n = (value: number): string => value.toFixed(2);

/** The picture with what was recognised on it, as SVG; sizes in pixels of the whole picture, so that it can be looked at closely. */
export function scanPictureSvg({ widthPx, heightPx, preview, marks, outlines = [] }: ScanPicture): string {
  const px = Math.max(widthPx, heightPx);
  const line = Math.max(1, px / 1400);
  const strokes = marks.map(({ ends: [a, b], doubt, name }) => {
    const [across, along] = [strokesOn([a, b], SMALL_LETTERS * px), isLong([a, b], px) ? '' : path([a, b])];
    const dashes = doubt ? ` stroke-dasharray="${n(3 * line)} ${n(2 * line)}"` : '';
    return `<path d="${across}${along}" fill="none" stroke="${doubt ? DOUBTFUL : GOOD}" stroke-width="${n(line)}"${dashes}><title>${titleOf({ name, doubt })}</title></path>`;
  });
  const rings = outlines.map(
    ({ ring, good }) =>
      `<path d="${path(ring)}Z" fill="none" stroke="${good ? GOOD : DOUBTFUL}" stroke-width="${n(line)}"/>`,
  );
  const image = preview
    ? `<image width="${widthPx}" height="${heightPx}" href="data:${preview.mime};base64,${preview.base64}" preserveAspectRatio="none"/>`
    : '';
  const names = namesOf({ widthPx, heightPx, marks, outlines }, line);
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${widthPx} ${heightPx}" width="${widthPx}" height="${heightPx}">${image}${rings.join('')}${strokes.join('')}${names.join('')}</svg>`;
}

const path = (points: readonly Point[]): string => `M${points.map(([x, y]) => `${n(x)} ${n(y)}`).join('L')}`;

const isLong = ([a, b]: ScanMark['ends'], px: number): boolean =>
  Math.hypot(b[0] - a[0], b[1] - a[1]) > 12 * SMALL_LETTERS * px;

/** Short strokes square to the line stand on the edges that were found. */
function strokesOn([[ax, ay], [bx, by]]: ScanMark['ends'], lengthPx: number): string {
  const length = Math.hypot(bx - ax, by - ay) || 1;
  const [tx, ty] = [(-(by - ay) / length) * lengthPx * 0.6, ((bx - ax) / length) * lengthPx * 0.6];
  return [[ax, ay], [bx, by]].map(([x, y]) => path([[x - tx, y - ty], [x + tx, y + ty]])).join(''); // biome-ignore format: two strokes
}

/** Names beside what they name, doubtful ones first; where there is no room, small upon it, for who looks closer. */
function namesOf({ widthPx, heightPx, marks, outlines = [] }: ScanPicture, line: number): string[] {
  const px = Math.max(widthPx, heightPx);
  const unit = (LETTERS * px) / PLACED_PX;
  const placed = (box: Box): Box => ({ minX: box.minX / unit, minY: box.minY / unit, maxX: box.maxX / unit, maxY: box.maxY / unit }); // biome-ignore format: one box
  // A long span is named at its end.
  const wishes = [...marks]
    .sort((p, q) => Number(q.doubt !== undefined) - Number(p.doubt !== undefined))
    .map((mark) => {
      const around = placed(ringBounds(isLong(mark.ends, px) ? [mark.ends[1]] : mark.ends));
      return { words: mark.name, width: 0.65 * PLACED_PX * mark.name.length, height: PLACED_PX, around, single: false };
    });
  const things = [...outlines.map(({ ring }) => ringBounds(ring)), ...marks.filter(({ ends }) => !isLong(ends, px)).map(({ ends }) => ringBounds(ends))]; // biome-ignore format: one list
  const labels = placeLabels(wishes, things.map(placed), placed({ minX: 0, minY: 0, maxX: widthPx, maxY: heightPx }));
  const byName = new Map(labels.map((label) => [label.words, label]));
  return marks.map(({ name, ends, doubt }) => {
    const label = byName.get(name);
    const size = (label ? LETTERS : SMALL_LETTERS) * px;
    const [x, y] = label
      ? [((label.box.minX + label.box.maxX) / 2) * unit, (0.15 * label.box.minY + 0.85 * label.box.maxY) * unit]
      : isLong(ends, px)
        ? [ends[1][0], ends[1][1] - 0.7 * size]
        : [(ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2 - 0.7 * size];
    const colour = doubt ? DOUBTFUL : GOOD;
    const led = label?.leader?.map(([a, b]): Point => [a * unit, b * unit]);
    const leader = led ? `<path d="${path(led)}" stroke="${colour}" stroke-width="${n(line)}"/>` : '';
    return `<g><title>${titleOf({ name, doubt })}</title>${leader}<text x="${n(x)}" y="${n(y)}" font-size="${n(size)}" fill="${colour}" stroke="#fff" stroke-width="${n(size / 5)}" stroke-linejoin="round" paint-order="stroke" text-anchor="middle" font-family="DejaVu Sans, sans-serif">${escapeXml(name)}</text></g>`;
  });
}
