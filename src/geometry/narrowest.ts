import { ringBounds } from './bounds.js';
import { boxIndex } from './box-index.js';
import { isConvex } from './convex.js';
import type { Box, Point, Region, Ring } from './types.js';
import { distanceToWalls, insideRegion, type Walls, wallsOf } from './walls.js';
import { budgetInForce } from './work-budget.js';

/** Walls that face each other within this angle of parallel count as a width; a longer taper ends in a tip instead. */
const FACING_COS = Math.cos((2 * Math.PI) / 180);

/** A disc between two facing walls may overlap a third wall by this share of its width (chords, traced outlines). */
const DISC_SLACK = 0.004;

interface Edge {
  readonly a: Point;
  readonly b: Point;
  /** Unit direction; the side that is looked into lies on the left. */
  readonly u: Point;
  readonly length: number;
  /** Whether the corner at `a` stands out into the side that is looked into. */
  reflex: boolean;
  /** Direction of the edge before. */
  before: Point;
}

function edgesOf(rings: readonly Ring[]): Edge[] {
  const all: Edge[] = [];
  for (const ring of rings) {
    const edges: Edge[] = [];
    ring.forEach((a, i) => {
      const b = ring[(i + 1) % ring.length];
      const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
      if (length < 1e-9) return;
      const u: Point = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
      edges.push({ a, b, u, length, reflex: false, before: u });
    });
    edges.forEach((edge, i) => {
      edge.before = edges[(i + edges.length - 1) % edges.length].u;
      edge.reflex = edge.before[0] * edge.u[1] - edge.before[1] * edge.u[0] < -1e-7;
    });
    for (const edge of edges) all.push(edge);
  }
  return all;
}

interface Facing {
  readonly widthMm: number;
  /** Centres of discs that might fit between the two walls; one that does is enough. Not kept: there may be millions. */
  readonly centres: () => readonly Point[];
}

/** Two edges that run against each other with their looked-into sides towards one another. */
function betweenEdges(p: Edge, q: Edge): Facing | undefined {
  if (p.u[0] * q.u[0] + p.u[1] * q.u[1] > -FACING_COS) return undefined;
  const along = (point: Point): number => (point[0] - p.a[0]) * p.u[0] + (point[1] - p.a[1]) * p.u[1];
  const above = (point: Point): number => (point[1] - p.a[1]) * p.u[0] - (point[0] - p.a[0]) * p.u[1];
  const [qEnd, qStart] = [along(q.b), along(q.a)];
  const from = Math.max(0, qEnd);
  const to = Math.min(p.length, qStart);
  if (to < from - 1e-9) return undefined;
  const heightAt = (t: number): number =>
    Math.abs(qStart - qEnd) < 1e-12
      ? above(q.a)
      : above(q.b) + ((above(q.a) - above(q.b)) * (t - qEnd)) / (qStart - qEnd);
  // Of a slight taper the wide end counts: its narrow end runs out into a tip or a round end, or is a neck, which has a
  // corner that stands out.
  const widthMm = Math.max(heightAt(from), heightAt(to));
  if (widthMm <= 1e-6) return undefined;
  const centres = (): Point[] => {
    const steps = to - from < 1e-6 ? [0.5] : [0.5, 0.25, 0.75, 0.1, 0.9, 0, 1];
    const places = steps.map((s) => from + s * (to - from));
    if (to - from > 2 * widthMm) places.push(from + widthMm * 0.55, to - widthMm * 0.55);
    return places.map((t): Point => {
      const half = heightAt(t) / 2;
      return [p.a[0] + p.u[0] * t - p.u[1] * half, p.a[1] + p.u[1] * t + p.u[0] * half];
    });
  };
  return { widthMm, centres };
}

/** Whether the direction d leaves the outstanding corner at `edge.a` between the normals of its two walls. */
function inCone(edge: Edge, dx: number, dy: number): boolean {
  const slack = 1e-9 * Math.hypot(dx, dy);
  return dx * edge.before[0] + dy * edge.before[1] >= -slack && dx * edge.u[0] + dy * edge.u[1] <= slack;
}

function cornerToEdge(corner: Edge, edge: Edge): Facing | undefined {
  const [dx, dy] = [corner.a[0] - edge.a[0], corner.a[1] - edge.a[1]];
  const t = dx * edge.u[0] + dy * edge.u[1];
  const height = dy * edge.u[0] - dx * edge.u[1];
  if (height <= 1e-6 || t < 0 || t > edge.length) return undefined;
  if (!inCone(corner, edge.u[1] * height, -edge.u[0] * height)) return undefined;
  return {
    widthMm: height,
    centres: () => [[corner.a[0] + (edge.u[1] * height) / 2, corner.a[1] - (edge.u[0] * height) / 2]],
  };
}

function cornerToCorner(p: Edge, q: Edge): Facing | undefined {
  const [dx, dy] = [q.a[0] - p.a[0], q.a[1] - p.a[1]];
  const widthMm = Math.hypot(dx, dy);
  if (widthMm <= 1e-6 || !inCone(p, dx, dy) || !inCone(q, -dx, -dy)) return undefined;
  return { widthMm, centres: () => [[(p.a[0] + q.a[0]) / 2, (p.a[1] + q.a[1]) / 2]] };
}

/** With no more edges than this, all pairs are looked at at once. */
const FEW_EDGES = 256;
/** The first distance within which edges are looked for, as a share of the whole; doubled until something is found. */
const FIRST_SHARE = 1 / 512;
/** What a pair of edges, a width between two and a wall near a disc cost, in the units of `WorkBudget`. */
const COST = { pair: 4, facing: 30, wall: 0.3 };

/** The narrowest place between walls that face each other across the left-hand side of the rings. */
function narrowestFacing(rings: readonly Ring[], walls: Walls): number | undefined {
  const edges = edgesOf(rings);
  const budget = budgetInForce();
  const few = edges.length <= FEW_EDGES;
  const index = few ? undefined : boxIndex(edges, boxOfEdge);
  const far = Math.hypot(walls.box.maxX - walls.box.minX, walls.box.maxY - walls.box.minY);
  const isFree = ([x, y]: Point, room: number): boolean => {
    if (!index) return distanceToWalls([x, y], walls) >= room;
    const near = index.near({ minX: x, minY: y, maxX: x, maxY: y }, room);
    budget?.spend(COST.facing + near.length * COST.wall);
    return near.every((i) => distanceToEdge(x, y, edges[i]) >= room);
  };
  const fits = ({ widthMm, centres }: Facing): boolean =>
    centres().some((centre) => isFree(centre, widthMm * (0.5 - DISC_SLACK)));
  // Edges that face each other at a width come as near as that, so that the nearest ones can be looked at first.
  let [from, to] = [0, few ? Infinity : far * FIRST_SHARE];
  for (; from <= far; from = to, to *= 2) {
    const found: Facing[] = [];
    const add = (facing: Facing | undefined): void => {
      if (!facing || facing.widthMm <= from || facing.widthMm > to) return;
      budget?.spend(COST.facing);
      found.push(facing);
    };
    edges.forEach((p, i) => {
      const near = index?.near(boxOfEdge(p), to * (1 + 1e-9));
      budget?.spend((near?.length ?? edges.length) * COST.pair);
      if (near) for (const j of near) facings(p, i, edges[j], j, add);
      else for (let j = 0; j < edges.length; j += 1) facings(p, i, edges[j], j, add);
    });
    found.sort((p, q) => p.widthMm - q.widthMm);
    const narrowest = found.find(fits);
    if (narrowest) return narrowest.widthMm;
  }
  return undefined;
}

/** All ways in which two edges, or the corners at their starts, face each other; each pair is looked at from both. */
function facings(p: Edge, i: number, q: Edge, j: number, add: (facing: Facing | undefined) => void): void {
  if (i === j) return;
  if (i < j) add(betweenEdges(p, q));
  if (!p.reflex) return;
  add(cornerToEdge(p, q));
  if (i < j && q.reflex) add(cornerToCorner(p, q));
}

function boxOfEdge({ a, b }: Edge): Box {
  return ringBounds([a, b]);
}

function distanceToEdge(x: number, y: number, { a, u, length }: Edge): number {
  const [dx, dy] = [x - a[0], y - a[1]];
  const t = Math.max(0, Math.min(length, dx * u[0] + dy * u[1]));
  return Math.hypot(dx - t * u[0], dy - t * u[1]);
}

/**
 * Diameter of the largest disc that fits into a region, by halving the squares that may still hold a better centre.
 *
 * @param enoughMm - the search may end at a disc as large as this
 * @returns mm, within 0.05 % of the region's size
 */
export function largestDisc(region: Region, walls: Walls = wallsOf(region), enoughMm = Infinity): number {
  const box = ringBounds(region.outer);
  const size = Math.max(box.maxX - box.minX, box.maxY - box.minY);
  const budget = budgetInForce();
  const signed = (p: Point): number => distanceToWalls(p, walls) * (insideRegion(p, region) ? 1 : -1);
  interface Cell {
    readonly x: number;
    readonly y: number;
    readonly half: number;
    readonly most: number;
  }
  let best = 0;
  const cellAt = (x: number, y: number, half: number): Cell => {
    budget?.spend((walls.xy.length / 4) * COST.wall);
    const d = signed([x, y]);
    if (d > best) best = d;
    return { x, y, half, most: d + half * Math.SQRT2 };
  };
  let cells = [cellAt((box.minX + box.maxX) / 2, (box.minY + box.maxY) / 2, size / 2)];
  for (let depth = 0; depth < 14 && cells.length > 0 && 2 * best < enoughMm; depth += 1) {
    const open = cells.filter((cell) => cell.most > best + size * 2.5e-4);
    cells = open.flatMap(({ x, y, half }) => {
      const h = half / 2;
      return [cellAt(x - h, y - h, h), cellAt(x + h, y - h, h), cellAt(x - h, y + h, h), cellAt(x + h, y + h, h)];
    });
  }
  return 2 * best;
}

/**
 * The narrowest width of an opening: the smallest distance at which two of its walls face each other with a disc
 * of that diameter between them. A rectangle's shorter side, a slot's width, the wall-to-wall width of a ring, the neck
 * of a dumbbell. Corners and tips are no widths. A shape without facing walls (a triangle, a short home plate) has the
 * diameter of the largest disc that fits.
 *
 * @param region - mm, outer ring counter-clockwise, islands clockwise
 */
export function narrowestWidth(region: Region): number {
  const walls = wallsOf(region);
  return narrowestFacing([region.outer, ...region.islands], walls) ?? largestDisc(region, walls);
}

/**
 * The narrowest piece of film that an opening itself leaves standing: between the arms of a bent opening, or across an
 * island. Undefined when its walls never face each other across film.
 */
export function narrowestOwnWeb(region: Region): number | undefined {
  if (region.islands.length === 0 && isConvex(region.outer)) return undefined;
  const flipped = [region.outer, ...region.islands].map((ring) => ring.toReversed());
  const facing = narrowestFacing(flipped, wallsOf(region));
  // Only the smallest counts, so that most islands need no more than a look.
  let least = facing ?? Infinity;
  for (const island of region.islands) {
    const turned = { outer: island.toReversed(), islands: [] };
    least = Math.min(least, largestDisc(turned, wallsOf(turned), least));
  }
  return Number.isFinite(least) ? least : undefined;
}
