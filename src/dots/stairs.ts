import { type PixelShape, shapeOfWalls } from './shape.js';

/**
 * What the beam makes of stairs of dots.
 *
 * A slanted or round wall is a stair of dots. The beam, an ellipse around every point of every dot, fills the inner
 * corners of the stair but not the outer ones: what is burnt lies further out than the wall that has the dots' area,
 * by up to half a dot's diagonal. Walls along X or Y have no stairs. So where the kerf is known, slanted walls are drawn
 * further in by that much before they are rounded to dots.
 */
export interface Stairs {
  /** The shape whose dots, once burnt, are the given shape grown by the kerf. */
  drawnIn(shape: PixelShape): PixelShape;
}

/** Slopes from 0 to 1 in this many steps. */
const SLOPES = 48;

/** Stairs are tried at so many starts, over so many columns each, with so many looks per column. */
const STARTS = 5;
const COLUMNS = 40;
const LOOKS = 4;

/** A corner never moves further than this, dots. */
const MAX_MOVE = 1;

/** The last one made: all stencils of a batch have the same kerf. */
let last: { readonly x: number; readonly y: number; readonly stairs: Stairs } | undefined;

/** @param kerf - full widths of the ellipse in dots across X and Y */
export function stairsFor({ x, y }: { readonly x: number; readonly y: number }): Stairs {
  if (last?.x !== x || last.y !== y) last = { x, y, stairs: workedOut({ x, y }) };
  return last.stairs;
}

function workedOut(kerf: { readonly x: number; readonly y: number }): Stairs {
  const flat = outwardBySlope(kerf.x / 2, kerf.y / 2);
  const steep = outwardBySlope(kerf.y / 2, kerf.x / 2);
  const outward = (dx: number, dy: number): number => {
    const [run, rise] = [Math.abs(dx), Math.abs(dy)];
    const length = Math.hypot(run, rise);
    if (length === 0) return 0;
    return run >= rise ? (lookUp(flat, rise / run) * run) / length : (lookUp(steep, run / rise) * rise) / length;
  };
  return {
    drawnIn(shape) {
      const walls = moveIn(shape.walls, outward);
      const moved = walls ? shapeOfWalls(walls) : shape;
      return moved.area > 0.25 * shape.area ? moved : shape;
    },
  };
}

function lookUp(table: Float64Array, slope: number): number {
  const at = slope * SLOPES;
  const i = Math.min(SLOPES - 1, Math.floor(at));
  return table[i] + (at - i) * (table[i + 1] - table[i]);
}

/**
 * Mean height, in dots along Y, by which a burnt stair lies above the burnt straight wall, for slopes from 0 to 1.
 * Neighbouring slopes are averaged: exact fractions such as 1/2 would stick out of the table.
 */
function outwardBySlope(radiusX: number, radiusY: number): Float64Array {
  const heights = beamHeights(radiusX, radiusY);
  const raw = Float64Array.from({ length: 3 * SLOPES + 1 }, (_, i) => {
    return i === 0 ? 0 : burntAbove(i / (3 * SLOPES), radiusX, radiusY, heights);
  });
  return Float64Array.from({ length: SLOPES + 1 }, (_, i) => {
    if (i === 0) return 0;
    const near = [raw[3 * i - 1], raw[3 * i], raw[Math.min(3 * i + 1, 3 * SLOPES)]];
    return (near[0] + near[1] + near[2]) / 3;
  });
}

function burntAbove(slope: number, radiusX: number, radiusY: number, heights: Float64Array): number {
  const reach = Math.ceil(radiusX);
  const columns = 2 * reach + 1;
  const straight = Math.hypot(radiusY, slope * radiusX);
  let sum = 0;
  for (let k = 0; k < STARTS; k += 1) {
    // Starts spread over one dot, so that slopes such as 1 or 1/2, whose stairs repeat, are met at every phase.
    const start = (k + 0.5) / STARTS;
    for (let look = 0; look < COLUMNS * LOOKS; look += 1) {
      const x = (look + 0.5) / LOOKS;
      const own = Math.floor(x);
      const at = (look % LOOKS) * columns;
      let top = -Infinity;
      for (let c = 0; c < columns; c += 1) {
        const column = own - reach + c;
        const height = Math.round(slope * (column + 0.5) + start) + heights[at + c];
        if (height > top) top = height;
      }
      sum += top - (slope * x + start + straight);
    }
  }
  return Math.max(0, sum / (STARTS * COLUMNS * LOOKS));
}

/** How far the beam reaches up over each of the columns around a look; no way for columns out of its reach. */
function beamHeights(radiusX: number, radiusY: number): Float64Array {
  const reach = Math.ceil(radiusX);
  const columns = 2 * reach + 1;
  return Float64Array.from({ length: LOOKS * columns }, (_, i) => {
    const x = (Math.floor(i / columns) + 0.5) / LOOKS;
    const column = (i % columns) - reach;
    const d = Math.max(0, column - x, x - column - 1);
    if (d > radiusX) return -Infinity;
    const share = radiusX > 0 ? d / radiusX : 0;
    return radiusY * Math.sqrt(1 - share * share);
  });
}

/** Moves every wall inwards by its own distance; undefined when none has to move. */
function moveIn(walls: Float64Array, outward: (dx: number, dy: number) => number): Float64Array | undefined {
  const count = walls.length / 4;
  let twiceArea = 0;
  const distance = new Float64Array(count);
  const normal = new Float64Array(count * 2);
  let moves = false;
  for (let i = 0; i < count; i += 1) {
    const [ax, ay, bx, by] = walls.subarray(i * 4, i * 4 + 4);
    twiceArea += ax * by - bx * ay;
    const length = Math.hypot(bx - ax, by - ay);
    distance[i] = outward(bx - ax, by - ay);
    if (distance[i] > 1e-9) moves = true;
    if (length > 0) {
      normal[i * 2] = -(by - ay) / length;
      normal[i * 2 + 1] = (bx - ax) / length;
    }
  }
  if (!moves) return undefined;
  const inside = twiceArea > 0 ? 1 : -1;
  const moved = walls.slice();
  let first = 0;
  for (let i = 0; i < count; i += 1) {
    const last = i + 1 === count || walls[i * 4 + 2] !== walls[i * 4 + 4] || walls[i * 4 + 3] !== walls[i * 4 + 5];
    const next = last ? first : i + 1;
    const [vx, vy] = cornerMove(normal, distance, i, next, inside);
    moved[i * 4 + 2] += vx;
    moved[i * 4 + 3] += vy;
    moved[next * 4] += vx;
    moved[next * 4 + 1] += vy;
    if (last) first = i + 1;
  }
  return moved;
}

/** The move that brings a corner onto both moved walls; between nearly parallel ones, square to them. */
function cornerMove(
  normal: Float64Array,
  distance: Float64Array,
  p: number,
  q: number,
  inside: 1 | -1,
): [number, number] {
  const [px, py, qx, qy] = [normal[p * 2], normal[p * 2 + 1], normal[q * 2], normal[q * 2 + 1]];
  const cross = px * qy - py * qx;
  let vx: number;
  let vy: number;
  if (Math.abs(cross) > 0.25) {
    vx = (distance[p] * qy - distance[q] * py) / cross;
    vy = (distance[q] * px - distance[p] * qx) / cross;
  } else {
    const mean = (distance[p] + distance[q]) / 2;
    const length = Math.hypot(px + qx, py + qy) || 1;
    vx = (mean * (px + qx)) / length;
    vy = (mean * (py + qy)) / length;
  }
  const size = Math.hypot(vx, vy);
  const scale = (size > MAX_MOVE ? MAX_MOVE / size : 1) * inside;
  return [vx * scale, vy * scale];
}
