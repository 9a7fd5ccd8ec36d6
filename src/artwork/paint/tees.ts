import type { Point } from '../../geometry/types.js';
import { listIn } from '../../list-in.js';
import type { Link } from './link.js';

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
export function cutAtTees(
  links: readonly Link[],
  loose: readonly number[],
  joints: readonly Point[],
  gapMm: number,
): Link[] {
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
