import { ringArea } from '../../geometry/area.js';
import { DisjointSets } from '../../geometry/disjoint-sets.js';
import type { Point } from '../../geometry/types.js';
import { listIn } from '../../list-in.js';
import type { Link } from './link.js';

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
export function outerLoops(links: readonly Link[], joints: readonly Point[]): Point[][] {
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
