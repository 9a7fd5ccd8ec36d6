import { distance } from '../../geometry/distance.js';
import type { Point } from '../../geometry/types.js';
import { listIn } from '../../list-in.js';
import type { Link } from './link.js';
import { outerLoops } from './loops.js';
import { cutAtTees } from './tees.js';

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
