import type { Feature } from '../../coupon/features.js';
import type { Coupon } from '../../coupon/types.js';
import { joinBoxes } from '../../geometry/bounds.js';
import type { Box, Point } from '../../geometry/types.js';
import { boxDistance } from '../../geometry/walls.js';

/** A part of the coupon, drawn at a scale on the paper. */
export interface View {
  /** What of the coupon is shown, mm. */
  readonly box: Box;
  /** Lower left corner on the paper, mm. */
  readonly at: Point;
  /** Paper mm per coupon mm. */
  readonly scale: number;
  /** Features that are drawn here with arrows and ids. */
  readonly features: readonly Feature[];
  /** Set for magnified parts. */
  readonly title?: string;
}

/** Below this scale the arrows of neighbouring openings can't be told apart on paper. */
const DETAIL_BELOW = 2.3;
const MOST_SCALE = 9;
/** Features nearer than this belong to one block, mm on the coupon. */
const BLOCK_GAP_MM = 5;
/** Coupon shown around the features of a block: the labels are cut there. */
const BLOCK_MARGIN_MM = 3.6;
const VIEW_GAP_MM = 3;
const TITLE_MM = 4;

/** The part of the coupon that a feature lies on. */
export function featureBox(feature: Feature): Box {
  if ('box' in feature) {
    const [minX, minY, maxX, maxY] = feature.box;
    return { minX, minY, maxX, maxY };
  }
  const { from, to } = feature;
  return {
    minX: Math.min(from[0], to[0]),
    minY: Math.min(from[1], to[1]),
    maxX: Math.max(from[0], to[0]),
    maxY: Math.max(from[1], to[1]),
  };
}

function clusters(features: readonly Feature[]): { box: Box; features: Feature[] }[] {
  let groups: { box: Box; features: Feature[] }[] = [];
  for (const feature of features) {
    let merged = { box: featureBox(feature), features: [feature] };
    const apart: typeof groups = [];
    for (const group of groups) {
      if (boxDistance(group.box, merged.box) > BLOCK_GAP_MM) apart.push(group);
      else merged = { box: joinBoxes(group.box, merged.box), features: [...group.features, ...merged.features] };
    }
    groups = [...apart, merged];
  }
  return groups;
}

/**
 * Decides what is drawn where in a field on the paper: the whole coupon, and, where that would be too small for
 * openings and webs, each block of them magnified beside a small key to where it lies.
 */
export function planViews(coupon: Coupon, field: { x: number; y: number; width: number; height: number }): View[] {
  const { widthMm, heightMm } = coupon.canvas;
  const whole: Box = { minX: 0, minY: 0, maxX: widthMm, maxY: heightMm };
  const { features } = coupon.features;
  const scale = Math.min(field.width / widthMm, field.height / heightMm, MOST_SCALE);
  const small = features.filter((feature) => feature.kind !== 'span' && feature.kind !== 'cell');
  const centred = (s: number): Point => [
    field.x + (field.width - widthMm * s) / 2,
    field.y + (field.height - heightMm * s) / 2,
  ];
  if (scale >= DETAIL_BELOW || small.length === 0) return [{ box: whole, at: centred(scale), scale, features }];
  const blocks = clusters(small)
    .map(({ box, features: own }) => ({ box: roomy(box, whole), features: own }))
    .sort((p, q) => p.box.minX - q.box.minX || p.box.minY - q.box.minY);
  const keyWidth = Math.min(42, field.width * 0.24);
  const keyScale = Math.min(keyWidth / widthMm, (field.height - TITLE_MM) / heightMm);
  const others = features.filter((feature) => !small.includes(feature));
  const room = { width: field.width - keyWidth - VIEW_GAP_MM, height: field.height };
  const detailScale = largestScale(blocks.map((block) => block.box), room); // biome-ignore format: short
  const key: View = {
    box: whole,
    at: [field.x, field.y + field.height - heightMm * keyScale],
    scale: keyScale,
    features: others,
  };
  const details = shelves(blocks.map((block) => block.box), room, detailScale) ?? []; // biome-ignore format: short
  return [
    key,
    ...details.map(
      ([x, y], i): View => ({
        box: blocks[i].box,
        at: [field.x + keyWidth + VIEW_GAP_MM + x, field.y + y],
        scale: detailScale,
        features: blocks[i].features,
        title: `Part ${i + 1}, ${detailScale.toFixed(1)} times larger`,
      }),
    ),
  ];
}

function roomy(box: Box, whole: Box): Box {
  return {
    minX: Math.max(whole.minX, box.minX - BLOCK_MARGIN_MM),
    minY: Math.max(whole.minY, box.minY - BLOCK_MARGIN_MM),
    maxX: Math.min(whole.maxX, box.maxX + BLOCK_MARGIN_MM),
    maxY: Math.min(whole.maxY, box.maxY + BLOCK_MARGIN_MM),
  };
}

/** Places boxes from left to right on shelves from the top; undefined when they do not fit. */
function shelves(boxes: readonly Box[], room: { width: number; height: number }, scale: number): Point[] | undefined {
  const places: Point[] = [];
  let [x, top, shelf] = [0, room.height, 0];
  for (const box of boxes) {
    const [w, h] = [(box.maxX - box.minX) * scale, (box.maxY - box.minY) * scale + TITLE_MM];
    if (x > 0 && x + w > room.width) [x, top, shelf] = [0, top - shelf - VIEW_GAP_MM, 0];
    if (x + w > room.width + 1e-9 || top - h < -1e-9) return undefined;
    places.push([x, top - h]);
    shelf = Math.max(shelf, h);
    x += w + VIEW_GAP_MM;
  }
  return places;
}

function largestScale(boxes: readonly Box[], room: { width: number; height: number }): number {
  let [low, high] = [0, MOST_SCALE];
  for (let i = 0; i < 40; i += 1) {
    const middle = (low + high) / 2;
    if (shelves(boxes, room, middle)) low = middle;
    else high = middle;
  }
  return low;
}
