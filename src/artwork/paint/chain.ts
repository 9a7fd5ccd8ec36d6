import { ringArea } from '../../geometry/area.js';
import { DisjointSets } from '../../geometry/disjoint-sets.js';
import type { Point } from '../../geometry/types.js';
import { distance } from '../../geometry/walls.js';
import { listIn } from '../../kept.js';

/** Ends nearer than this are the same point, mm. */
const SAME_MM = 1e-4;

export interface Chained {
  /** Closed contours, first point not repeated. Of lines that meet in more than pairs, the outermost loop. */
  readonly rings: Point[][];
  /** Widest gap that had to be bridged, mm; 0 for none. */
  readonly widestGapMm: number;
  /** Lines that belong to no closed contour. */
  readonly open: Point[][];
}

/**
 * Joins stroke centre lines end to end into closed contours; strokes may come in any order and direction, and more
 * than once.
 *
 * @param paths - centre lines, mm, at least two points each
 * @param gapMm - loose ends this far apart still join, nearest first; then those that lie on another line
 */
export function chainPaths(paths: readonly (readonly Point[])[], gapMm: number): Chained {
  const rings: Point[][] = [];
  const joints: Point[] = [];
  const find = endFinder(joints);
  const links: Link[] = [];
  const seen = new Set<string>();
  for (const points of paths) {
    if (points.length < 2) continue;
    const from = find(points[0]);
    const to = find(points[points.length - 1]);
    if (from === to) {
      if (points.length > 3) rings.push(points.slice(0, -1));
      continue;
    }
    // The same line drawn twice is one line.
    const middle = points[points.length >> 1];
    const key =
      points.length === 2
        ? `${Math.min(from, to)} ${Math.max(from, to)}`
        : `${Math.min(from, to)} ${Math.max(from, to)} ${middle[0].toFixed(3)} ${middle[1].toFixed(3)}`;
    if (seen.has(key)) continue;
    seen.add(key);
    links.push({ points, from, to });
  }
  const bridges = bridge(links, joints, gapMm);
  const ends = [...degrees([...links, ...bridges])].filter(([, count]) => count === 1).map(([joint]) => joint);
  const { kept, loose } = withoutDeadEnds([...cutAtTees(links, ends, joints, gapMm), ...bridges]);
  for (const ring of outerLoops(kept, joints)) rings.push(ring);
  const isBridge = new Set(bridges);
  return {
    rings: rings.filter((ring) => ring.length >= 3),
    widestGapMm: kept.reduce((widest, link) => (isBridge.has(link) ? Math.max(widest, lengthOf(link)) : widest), 0),
    open: loose.filter((link) => !isBridge.has(link)).map(({ points }) => [...points]),
  };
}

const lengthOf = ({ points: [p, q] }: Link): number => distance(p, q);

/** Numbers points; those that are the same get the same number. */
function endFinder(joints: Point[]): (point: Point) => number {
  const cells = new Map<string, number[]>();
  const cellMm = 4 * SAME_MM;
  return (point) => {
    const [cx, cy] = [Math.floor(point[0] / cellMm), Math.floor(point[1] / cellMm)];
    for (let dx = -1; dx <= 1; dx += 1) {
      for (let dy = -1; dy <= 1; dy += 1) {
        const near = cells.get(`${cx + dx} ${cy + dy}`)?.find((i) => distance(joints[i], point) <= SAME_MM);
        if (near !== undefined) return near;
      }
    }
    joints.push(point);
    const key = `${cx} ${cy}`;
    listIn(cells, key).push(joints.length - 1);
    return joints.length - 1;
  };
}

/** Joins loose ends that lie near each other, nearest first; each end joins once. */
function bridge(links: readonly Link[], joints: readonly Point[], gapMm: number): Link[] {
  const degree = degrees(links);
  const ends = [...degree].filter(([, count]) => count === 1).map(([joint]) => joint);
  ends.sort((p, q) => joints[p][0] - joints[q][0]);
  const pairs: { from: number; to: number; gap: number }[] = [];
  for (let i = 0; i < ends.length; i += 1) {
    for (let j = i + 1; j < ends.length && joints[ends[j]][0] - joints[ends[i]][0] <= gapMm; j += 1) {
      const gap = distance(joints[ends[i]], joints[ends[j]]);
      if (gap <= gapMm) pairs.push({ from: ends[i], to: ends[j], gap });
    }
    // So many ends on one spot are no outline.
    if (pairs.length > 1_000_000) break;
  }
  pairs.sort((p, q) => p.gap - q.gap);
  const used = new Set<number>();
  const made: Link[] = [];
  for (const { from, to } of pairs) {
    if (used.has(from) || used.has(to)) continue;
    used.add(from).add(to);
    made.push({ points: [joints[from], joints[to]], from, to });
  }
  return made;
}

function degrees(links: readonly Link[]): Map<number, number> {
  const degree = new Map<number, number>();
  for (const { from, to } of links) for (const joint of [from, to]) degree.set(joint, (degree.get(joint) ?? 0) + 1);
  return degree;
}

/** Takes away lines with a loose end until every line leads on at both ends. */
function withoutDeadEnds(links: readonly Link[]): { kept: Link[]; loose: Link[] } {
  const degree = degrees(links);
  const at = new Map<number, Link[]>();
  for (const link of links) for (const joint of [link.from, link.to]) listIn(at, joint).push(link);
  const loose = new Set<Link>();
  const dead = [...degree].filter(([, count]) => count === 1).map(([joint]) => joint);
  for (let joint = dead.pop(); joint !== undefined; joint = dead.pop()) {
    const link = at.get(joint)?.find((candidate) => !loose.has(candidate));
    if (!link || degree.get(joint) !== 1) continue;
    loose.add(link);
    for (const end of [link.from, link.to]) {
      const left = (degree.get(end) ?? 0) - 1;
      degree.set(end, left);
      if (left === 1) dead.push(end);
    }
  }
  return { kept: links.filter((link) => !loose.has(link)), loose: [...loose] };
}

/** One line between two joints. */
export interface Link {
  readonly points: readonly Point[];
  readonly from: number;
  readonly to: number;
}

/** A link walked in one direction. */
interface Step {
  readonly points: readonly Point[];
  readonly from: number;
  readonly to: number;
  /** Direction in which it leaves its joint, radians. */
  readonly angle: number;
  back?: Step;
}

/**
 * The outer loop of each connected set of lines: faces of the plane graph are walked with the inside on the left, and
 * of each set the one face that lies outside is taken, turned round. Lines within it (score lines, tabs) are left out.
 *
 * @param links - every joint has at least two of them
 * @param joints - where the joints lie, mm
 * @returns rings, first point not repeated; one that touches itself at a joint comes as several
 */
function outerLoops(links: readonly Link[], joints: readonly Point[]): Point[][] {
  const leaving = new Map<number, Step[]>();
  const steps: Step[] = [];
  const add = (points: readonly Point[], from: number, to: number): Step => {
    const step: Step = { points, from, to, angle: angleAt(points, joints[from]) };
    steps.push(step);
    listIn(leaving, from).push(step);
    return step;
  };
  for (const { points, from, to } of links) {
    const there = add(points, from, to);
    const back = add(points.toReversed(), to, from);
    there.back = back;
    back.back = there;
  }
  for (const list of leaving.values()) list.sort((p, q) => p.angle - q.angle);
  const sets = new DisjointSets(joints.length);
  for (const { from, to } of links) sets.join(from, to);
  const walked = new Set<Step>();
  const outer = new Map<number, { steps: Step[]; area: number }>();
  for (const start of steps) {
    if (walked.has(start)) continue;
    const face: Step[] = [];
    for (let step = start; !walked.has(step); step = nextStep(step, leaving)) {
      walked.add(step);
      face.push(step);
    }
    const area = ringArea(face.flatMap(({ points }) => points.slice(0, -1)));
    const key = sets.firstOf(start.from);
    const known = outer.get(key);
    if (!known || area < known.area) outer.set(key, { steps: face, area });
  }
  return [...outer.values()].flatMap(({ steps: face }) => simpleLoops(face));
}

/** The next line clockwise from the way back: the face stays on the left. */
function nextStep(step: Step, leaving: ReadonlyMap<number, Step[]>): Step {
  const list = leaving.get(step.to) as Step[];
  const at = list.indexOf(step.back as Step);
  return list[(at - 1 + list.length) % list.length];
}

function angleAt(points: readonly Point[], joint: Point): number {
  const [x, y] = points[1];
  return Math.atan2(y - joint[1], x - joint[0]);
}

/** Cuts a walk into loops at every joint that it comes back to. Walks out and back on one line enclose nothing. */
function simpleLoops(face: readonly Step[]): Point[][] {
  const rings: Point[][] = [];
  const stack: Step[] = [];
  const placed = new Map<number, number>();
  for (const step of face) {
    placed.set(step.from, stack.length);
    stack.push(step);
    const from = placed.get(step.to);
    if (from === undefined) continue;
    const loop = stack.splice(from);
    for (const { from: joint } of loop) placed.delete(joint);
    const ring = loop.flatMap(({ points }) => points.slice(0, -1));
    if (Math.abs(ringArea(ring)) > 0) rings.push(ring.toReversed());
  }
  return rings;
}

/** Looking for more pairs of ends and lines than this would take too long; such a layer is a drawing. */
const MAX_LOOKS = 20_000_000;

interface Foot {
  /** Segment of the line, and where on it, 0 to 1. */
  readonly segment: number;
  readonly t: number;
  readonly joint: number;
  readonly distanceMm: number;
}

/**
 * Cuts lines where a loose end of another one lies on them, so that contours can turn there: a side of a board that
 * ends on a longer line.
 *
 * @param loose - joints at which only one line ends
 * @param joints - where they lie, mm
 * @param gapMm - an end this near to a line lies on it
 */
function cutAtTees(links: readonly Link[], loose: readonly number[], joints: readonly Point[], gapMm: number): Link[] {
  const segments = links.reduce((sum, { points }) => sum + points.length - 1, 0);
  if (loose.length === 0 || loose.length * segments > MAX_LOOKS) return [...links];
  const feet = new Map<Link, Foot[]>();
  for (const joint of loose) {
    let nearest: { link: Link; foot: Foot } | undefined;
    for (const link of links) {
      if (link.from === joint || link.to === joint) continue;
      const foot = footOn(link, joint, joints[joint], gapMm);
      if (foot && foot.distanceMm < (nearest?.foot.distanceMm ?? Infinity)) nearest = { link, foot };
    }
    if (!nearest) continue;
    listIn(feet, nearest.link).push(nearest.foot);
  }
  return links.flatMap((link) => split(link, feet.get(link) ?? [], joints));
}

function footOn({ points }: Link, joint: number, [x, y]: Point, gapMm: number): Foot | undefined {
  let best: Foot | undefined;
  for (let i = 0; i + 1 < points.length; i += 1) {
    const [px, py] = points[i];
    const [dx, dy] = [points[i + 1][0] - px, points[i + 1][1] - py];
    const length2 = dx * dx + dy * dy;
    if (length2 === 0) continue;
    const t = Math.max(0, Math.min(1, ((x - px) * dx + (y - py) * dy) / length2));
    const distanceMm = Math.hypot(px + t * dx - x, py + t * dy - y);
    if (distanceMm <= gapMm && distanceMm < (best?.distanceMm ?? Infinity)) {
      best = { segment: i, t, joint, distanceMm };
    }
  }
  return best;
}

/** The parts of a line between the ends that lie on it; the corner is put where the end is. */
function split(link: Link, feet: readonly Foot[], joints: readonly Point[]): Link[] {
  const parts: Link[] = [];
  let from = link.from;
  let start = 0;
  let points: Point[] = [link.points[0]];
  for (const foot of [...feet].sort((p, q) => p.segment - q.segment || p.t - q.t)) {
    points.push(...link.points.slice(start + 1, foot.segment + 1), joints[foot.joint]);
    parts.push({ points, from, to: foot.joint });
    points = [joints[foot.joint]];
    from = foot.joint;
    start = foot.segment;
  }
  if (parts.length === 0) return [link];
  return [...parts, { points: [...points, ...link.points.slice(start + 1)], from, to: link.to }];
}
