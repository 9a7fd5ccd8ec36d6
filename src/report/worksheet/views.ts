import { type Feature, featureBox, isForJaws } from '../../coupon/features.js';
import type { Coupon } from '../../coupon/types.js';
import { boundsOf, boxDistance, commonBox, grownBox, joinBoxes, ringBounds } from '../../geometry/bounds.js';
import type { Box, Point } from '../../geometry/types.js';
import { listIn } from '../../kept.js';

/** A part of the coupon, drawn at a scale on the paper. */
export interface CouponView {
  /** What of the coupon is shown, mm. */
  readonly box: Box;
  /** Lower left corner on the paper, mm. */
  readonly at: Point;
  /** Paper mm per coupon mm along X and Y. */
  readonly scale: Point;
  /** Features that are drawn here with arrows and ids. */
  readonly features: readonly Feature[];
  /** Set for parts of the canvas. */
  readonly title?: string;
  /** Where the magnified parts lie, with their numbers. */
  readonly frames?: readonly { readonly box: Box; readonly name: string }[];
}

/** Below this scale the arrows of neighbouring openings can't be told apart on paper. */
const DETAIL_BELOW = 2.3;
/** Magnified less than this they have a page of their own. */
const LEAST_DETAIL = 2;
const MOST_SCALE = 9;
/** Features nearer than this belong to one block, mm on the coupon; the next where that makes one block of all. */
const BLOCK_GAPS_MM = [9, 6];
/** How far from a feature its labels may be cut, mm on the coupon. */
const LABEL_REACH_MM = 3.6;
/** Film shown around a block and around the used part of the canvas, mm on the coupon. */
const BLOCK_MARGIN_MM = 1.2;
const USED_MARGIN_MM = 3;
const VIEW_GAP_MM = 3;
const TITLE_MM = 4;

function clusters(features: readonly Feature[], gapMm: number): { box: Box; features: Feature[] }[] {
  let groups: { box: Box; features: Feature[] }[] = [];
  for (const feature of features) {
    let merged = { box: featureBox(feature), features: [feature] };
    const apart: typeof groups = [];
    for (const group of groups) {
      if (boxDistance(group.box, merged.box) > gapMm) apart.push(group);
      else merged = { box: joinBoxes(group.box, merged.box), features: [...group.features, ...merged.features] };
    }
    groups = [...apart, merged];
  }
  return groups;
}

/** More lengths than this from slot to slot are told apart by their direction, in drawings of their own. */
const MOST_LONG = 24;

/** Below this scale rulers along X and along Y have drawings of their own too. */
const TOGETHER_ABOVE = 0.8;
/** Narrower on the paper than this, lines that lie beside each other leave no room for names, mm. */
const LEAST_SIDE_MM = 100;
/** Drawings on a page behind the first. */
const PER_PAGE = 2;

/** Spans by what they go between, in the order of the coupon. */
function families(features: readonly Feature[], together: boolean): [title: string, features: Feature[]][] {
  const byTitle = new Map<string, Feature[]>();
  const titleOf = (feature: Feature): string => {
    if (isForJaws(feature) || !('from' in feature)) return 'Windows';
    const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
    if (Math.min(Math.abs(dx), Math.abs(dy)) > 1e-6) return 'Slanted slots';
    if (together) return 'Slots along X and Y';
    return dy === 0 ? 'Slots along X' : 'Slots along Y';
  };
  for (const feature of features) listIn(byTitle, titleOf(feature)).push(feature);
  return [...byTitle];
}

/**
 * What is drawn on each page: of a coupon with many spans only those that run alike go into one drawing, where no other
 * line crosses theirs; all other coupons are drawn on the first page.
 *
 * @param first - room on the first page
 * @param next - room on every other
 */
export function planPages(coupon: Coupon, first: Field, next: Field): CouponView[][] {
  const { features } = coupon.features;
  if (features.length <= MOST_LONG || !features.every((feature) => feature.kind === 'span' || isForJaws(feature))) {
    return planViews(coupon, first, next);
  }
  const whole: Box = { minX: 0, minY: 0, maxX: coupon.canvas.widthMm, maxY: coupon.canvas.heightMm };
  const used = usedPart(coupon, whole);
  const [own, ...others] = families(features, scaleIn(first, used) >= TOGETHER_ABOVE);
  const drawnIn = (field: Field, [title, shown]: typeof own, note: string): CouponView => {
    const scale = widened(field, used);
    const [width, height] = [(used.maxX - used.minX) * scale[0], (used.maxY - used.minY) * scale[1]];
    const at: Point = [field.x + (field.width - width) / 2, field.y + field.height - TITLE_MM - height];
    return { box: used, at, scale, features: shown, title: `${title}, ${scaleWords(scale)}${note}` };
  };
  const note =
    others.length > 0
      ? `; ${others.map(([title]) => title[0].toLowerCase() + title.slice(1)).join(', ')}: next ${others.length > PER_PAGE ? 'pages' : 'page'}`
      : '';
  const pages = [[drawnIn(first, own, note)]];
  const height = next.height / PER_PAGE;
  others.forEach((family, i) => {
    const y = next.y + next.height - ((i % PER_PAGE) + 1) * height;
    const view = drawnIn({ ...next, y, height: height - VIEW_GAP_MM }, family, '');
    if (i % PER_PAGE === 0) pages.push([view]);
    else pages[pages.length - 1].push(view);
  });
  return pages;
}

const scaleIn = (field: Field, { minX, minY, maxX, maxY }: Box): number =>
  Math.min(field.width / (maxX - minX), (field.height - TITLE_MM) / (maxY - minY), MOST_SCALE);

/** The scales of a drawing of spans: one, but the short side of a long bed is widened until lines and names have room. */
function widened(field: Field, used: Box): Point {
  const scale = scaleIn(field, used);
  const across = (mm: number, roomMm: number): number => Math.max(scale, Math.min(LEAST_SIDE_MM, roomMm) / mm);
  return [across(used.maxX - used.minX, field.width), across(used.maxY - used.minY, field.height - TITLE_MM)];
}

const scaleWords = ([x, y]: Point): string =>
  x === y ? `${x.toFixed(1)} : 1` : `${x.toFixed(1)} : 1 along X, ${y.toFixed(1)} : 1 along Y`;

/**
 * Decides what is drawn where in a field on the paper: the coupon, and, where that would be too small for openings and
 * webs, each block of them magnified beside a small key to where it lies.
 */
function planViews(coupon: Coupon, field: Field, next: Field): CouponView[][] {
  const { features } = coupon.features;
  const whole: Box = { minX: 0, minY: 0, maxX: coupon.canvas.widthMm, maxY: coupon.canvas.heightMm };
  const used = usedPart(coupon, whole);
  const scale = scaleIn(field, used);
  const small = features.filter((feature) => feature.kind !== 'span' && feature.kind !== 'cell' && !isForJaws(feature));
  const [wide, narrow] = BLOCK_GAPS_MM.map((gapMm) => clusters(small, gapMm));
  const blocks = (wide.length > 1 ? wide : narrow)
    .map(({ box, features: own }) => ({ box: blockBox(coupon, box, whole), features: own }))
    .sort((p, q) => p.box.minX - q.box.minX || p.box.minY - q.box.minY);
  const others = features.filter((feature) => !small.includes(feature));
  if (scale >= DETAIL_BELOW || small.length === 0 || (blocks.length === 1 && others.length === 0)) {
    const [width, height] = [(used.maxX - used.minX) * scale, (used.maxY - used.minY) * scale];
    const at: Point = [field.x + (field.width - width) / 2, field.y + (field.height - TITLE_MM - height) / 2];
    const title = used === whole ? undefined : `The used part of the canvas, ${scale.toFixed(1)} : 1`;
    return [[{ box: used, at, scale: [scale, scale], features, title }]];
  }
  const boxes = blocks.map(({ box }) => box);
  const here = pack(boxes, field);
  const there = here.scale < LEAST_DETAIL ? pack(boxes, next) : here;
  const { places, scale: detailScale } = there;
  const [x, y] = there === here ? [field.x, field.y] : [next.x, next.y];
  const details = blocks.map(
    ({ box, features: own }, i): CouponView => ({
      box,
      at: [x + places[i][0], y + places[i][1]],
      scale: [detailScale, detailScale],
      features: own,
      title: `Part ${i + 1}, ${detailScale.toFixed(1)} : 1`,
    }),
  );
  if (there !== here) return [keyView(whole, details, [], field, others), details];
  return [[...keyView(whole, details, details, field, others), ...details]];
}

interface Field {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** The canvas, or only what is used of it when that is less than half. */
function usedPart(coupon: Coupon, whole: Box): Box {
  const used = roomy(boundsOf(coupon.openings) ?? whole, whole, USED_MARGIN_MM);
  const area = (box: Box): number => (box.maxX - box.minX) * (box.maxY - box.minY);
  return area(used) < 0.5 * area(whole) ? used : whole;
}

const paperBox = ({ box, at, scale }: CouponView): Box => ({
  minX: at[0],
  minY: at[1],
  maxX: at[0] + (box.maxX - box.minX) * scale[0],
  maxY: at[1] + (box.maxY - box.minY) * scale[1] + TITLE_MM,
});

const MOST_KEY_MM = 120;
const LEAST_KEY_MM = 16;

/** A small picture of the whole coupon in a corner that the details leave free, as large as fits; none if none is. */
function keyView(
  whole: Box,
  details: readonly CouponView[],
  beside: readonly CouponView[],
  field: Field,
  features: readonly Feature[],
): CouponView[] {
  const [width, height] = [whole.maxX - whole.minX, whole.maxY - whole.minY];
  for (let size = MOST_KEY_MM; size >= LEAST_KEY_MM; size -= 2) {
    const scale = size / Math.max(width, height);
    const [w, h] = [width * scale, height * scale];
    if (w > field.width || h > field.height - TITLE_MM) continue;
    const [left, right] = [field.x, field.x + field.width - w];
    const corners = [field.y, field.y + field.height - h].flatMap((y) => [right, left].map((x): Point => [x, y]));
    const free = corners.find(([x, y]) =>
      beside.every((view) => boxDistance(paperBox(view), { minX: x, minY: y, maxX: x + w, maxY: y + h }) >= 2),
    );
    if (free) {
      const frames = details.map(({ box }, i) => ({ box, name: `${i + 1}` }));
      const key = { box: whole, at: free, scale: [scale, scale] as const, features, frames };
      if (beside.length > 0) return [key];
      const at: Point = [field.x + (field.width - w) / 2, field.y];
      return [{ ...key, at, title: 'The whole canvas; its parts: next page' }];
    }
  }
  return [];
}

/** The largest scale at which all boxes fit on shelves, and where they go; the best of two orders. */
function pack(boxes: readonly Box[], room: { width: number; height: number }): { places: Point[]; scale: number } {
  const tall = boxes.map((_, i) => i).sort((p, q) => boxes[q].maxY - boxes[q].minY - boxes[p].maxY + boxes[p].minY);
  const orders = [boxes.map((_, i) => i), tall];
  const tries = orders.map((order) => {
    const ordered = order.map((i) => boxes[i]);
    const scale = largestScale(ordered, room);
    const placed = shelves(ordered, room, scale) ?? [];
    const places: Point[] = [];
    order.forEach((i, k) => {
      places[i] = placed[k];
    });
    return { places, scale };
  });
  return tries[1].scale > tries[0].scale * 1.02 ? tries[1] : tries[0];
}

/** A block with the labels that are cut beside it, and no more. */
function blockBox(coupon: Coupon, features: Box, whole: Box): Box {
  const reach = roomy(features, whole, LABEL_REACH_MM);
  const own = coupon.openings.filter((opening) => boxDistance(ringBounds(opening.outer), reach) === 0);
  return roomy(boundsOf(own) ?? features, whole, BLOCK_MARGIN_MM);
}

const roomy = (box: Box, whole: Box, marginMm: number): Box => commonBox(whole, grownBox(box, marginMm));

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
