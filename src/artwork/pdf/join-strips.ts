import type { PDFDict, PDFRawStream } from 'pdf-lib';
import { mapPoint, mapRing } from '../../geometry/affine.js';
import { boxWithin, ringBounds } from '../../geometry/bounds.js';
import { rectangle } from '../../geometry/shapes.js';
import type { Affine } from '../../geometry/types.js';
import type { Clip, Colour } from '../paint/drawing.js';
import { isEven, type PictureSamples } from './picture-samples.js';

/** A picture where a page shows it. */
export interface PlacedPicture {
  readonly stream: PDFRawStream;
  readonly resources: PDFDict | undefined;
  /** From the unit square, y up, to mm. */
  readonly map: Affine;
  readonly clip: Clip | undefined;
  /** Of a stencil: what it paints with. */
  readonly ink: Colour | undefined;
  /** Its light parts leave what lies beneath as it is. */
  readonly onlyDarkens: boolean;
  /** How many paints come before it. */
  readonly at: number;
}

/** A picture with its size, pixels. */
export interface SizedPicture extends PlacedPicture {
  readonly width: number;
  readonly height: number;
}

/** Strips may lie off each other by so much of a pixel: writers round. */
const SLACK_PX = 0.1;
/** No more than this is joined, pixels. */
const MAX_PIXELS = 200_000_000;

/**
 * Groups pictures that are strips of one, as printers cut them: painted one after the other, of the same width, each
 * beginning where the one before ends. Traced apart, shapes across a border would lose their form there.
 *
 * @returns each group from the top strip to the bottom one
 */
export function groupStrips<P extends SizedPicture>(pictures: readonly P[]): P[][] {
  const groups: P[][] = [];
  let group: P[] = [];
  let direction: 'down' | 'up' | undefined;
  let pixels = 0;
  const finish = (): void => {
    if (group.length > 0) groups.push(direction === 'up' ? group.reverse() : group);
    group = [];
    direction = undefined;
    pixels = 0;
  };
  for (const picture of pictures) {
    const last = group.at(-1);
    const step = last && stepBetween(last, picture);
    pixels += picture.width * picture.height;
    if (!step || (direction && step !== direction) || pixels > MAX_PIXELS) {
      finish();
      pixels = picture.width * picture.height;
    } else direction = step;
    group.push(picture);
  }
  finish();
  return groups;
}

/** Where the second of two strips lies; undefined when they are none. */
function stepBetween(p: SizedPicture, q: SizedPicture): 'down' | 'up' | undefined {
  const isAlike =
    p.at === q.at &&
    p.width === q.width &&
    p.onlyDarkens === q.onlyDarkens &&
    clipThatCuts(p) === clipThatCuts(q) &&
    JSON.stringify(p.ink) === JSON.stringify(q.ink);
  if (!isAlike) return undefined;
  const slack = SLACK_PX * Math.min(pixelOf(p), pixelOf(q));
  const rows = Math.max(p.height, q.height);
  const isSameGrid =
    Math.hypot(p.map.a - q.map.a, p.map.c - q.map.c) < slack &&
    Math.hypot(p.map.b / p.height - q.map.b / q.height, p.map.d / p.height - q.map.d / q.height) * rows < slack;
  if (!isSameGrid) return undefined;
  const meet = (upper: Affine, lower: Affine): boolean => {
    const [x, y] = mapPoint(upper, [0, 0]);
    const [u, v] = mapPoint(lower, [0, 1]);
    return Math.hypot(x - u, y - v) < slack;
  };
  if (meet(p.map, q.map)) return 'down';
  return meet(q.map, p.map) ? 'up' : undefined;
}

const pixelOf = ({ map, width, height }: SizedPicture): number =>
  Math.min(Math.hypot(map.a, map.c) / width, Math.hypot(map.b, map.d) / height);

/** A picture's clip, unless it is a box around it: many writers set one for each strip. */
function clipThatCuts(picture: SizedPicture): Clip | undefined {
  const { clip, map } = picture;
  if (!clip?.box) return clip;
  const slack = SLACK_PX * pixelOf(picture);
  return boxWithin(ringBounds(mapRing(map, rectangle(0, 0, 1, 1))), clip.box, slack) ? undefined : clip;
}

/** Where all strips of a group together lie. */
export function joinedPlace(group: readonly SizedPicture[]): PlacedPicture {
  if (group.length === 1) return group[0];
  const [top, bottom] = [group[0], group[group.length - 1]];
  const [x, y] = mapPoint(top.map, [0, 1]);
  const { a, c, e, f } = bottom.map;
  return { ...top, clip: clipThatCuts(top), map: { a, b: x - e, c, d: y - f, e, f } };
}

/** All strips of a group as one picture; undefined when they have masks. */
export function joinedLayers(strips: readonly PictureSamples[]): PictureSamples | undefined {
  const [first] = strips;
  if (strips.length === 1) return first;
  if (strips.some(({ alpha }) => alpha)) return undefined;
  const height = strips.reduce((sum, strip) => sum + strip.height, 0);
  const grey = new Uint8Array(first.width * height);
  let at = 0;
  for (const strip of strips) {
    grey.set(strip.grey, at);
    at += strip.grey.length;
  }
  return {
    width: first.width,
    height,
    grey,
    doubt: joinedDoubt(strips, grey),
  };
}

/** Single strips of one colour are usual. */
function joinedDoubt(strips: readonly PictureSamples[], grey: Uint8Array): PictureSamples['doubt'] {
  if (strips.some(({ doubt }) => doubt === 'cut off')) return 'cut off';
  const isBlank = strips.every(({ doubt }) => doubt === 'blank') && isEven(grey);
  return isBlank ? 'blank' : undefined;
}
