import { boxAround, boxDistance, boxesNear, boxWithin, grownBox, ringBounds } from '../../geometry/bounds.js';
import { boxRing } from '../../geometry/shapes.js';
import type { Box, Point } from '../../geometry/types.js';
import type { Ink } from '../ink.js';

/** Two ends of a straight line on the paper. */
export type Stretch = readonly [Point, Point];

/** Where a part of the coupon is drawn; paper mm. */
export interface ViewOnPaper {
  readonly ink: Ink;
  readonly frame: Box;
  /** From mm on the coupon. */
  readonly map: (p: Point) => Point;
}

/** The same with what is drawn there already. */
export interface Drawn extends ViewOnPaper {
  /** Arrows, labels and their leaders: never written over. */
  readonly inked: Box[];
  /** What a leader had better not cross. */
  readonly lines: Stretch[];
  /** What no leader should cross. */
  readonly labels: Box[];
  readonly leaders: Stretch[];
  /** Openings but for cut letters. */
  readonly openings: readonly Box[];
  /** Cut letters. */
  readonly letters: readonly Box[];
}

/** A name to write, and what it belongs to. */
export interface Named {
  readonly words: string;
  readonly bold: boolean;
  /** A leader starts at one of these. */
  readonly anchors: readonly Point[];
  /** What is drawn of the named thing itself. */
  readonly own: ReadonlySet<unknown>;
  /** Its line, along which no leader should run. */
  readonly line?: Stretch;
  /** Whether its leader begins with a dot; where arrows stand against edges it would hide them. */
  readonly dot: boolean;
}

export const LABEL_PT = 6;
export const HEIGHT_MM = 2.2;
/** Half the height of capitals of this type: from their middle to their base line, mm. */
export const TO_BASE_MM = 0.75;
const GAP_MM = 0.15;
const LEADER_MM = 0.08;
const DOT_MM = 0.28;
/** A label this near to what it names needs no leader. */
const BESIDE_MM = 0.9;
/** How far a label may stand from what it names, mm. */
const REACH_MM = 40;
const STEP_MM = 0.7;

/** What a place costs, in mm of leader that would be as bad. */
const COST = { crossing: 4, letter: 1, opening: 3, edge: 12, leader: 1.5, through: 20 };

/** Small boxes along a stretch, so that labels may stand near a slanted one. */
export function boxesAlong([a, b]: Stretch, halfMm: number): Box[] {
  const steps = Math.max(1, Math.ceil(Math.hypot(b[0] - a[0], b[1] - a[1]) / 0.7));
  return Array.from({ length: steps + 1 }, (_, i) => {
    const [x, y] = [a[0] + ((b[0] - a[0]) * i) / steps, a[1] + ((b[1] - a[1]) * i) / steps];
    return boxAround([x, y], 2 * halfMm, 2 * halfMm);
  });
}

const widthOf = (ink: Ink, { words, bold }: Named): number => ink.widthOf(words, { sizePt: LABEL_PT, bold }) + 0.5;

/** Writes a name into a gap of its own line, along it, where nothing else is drawn; whether there was such a place. */
export function writeOnLine(drawn: Drawn, named: Named, [a, b]: Stretch, marginMm: number): boolean {
  const { ink, frame } = drawn;
  const width = widthOf(ink, named);
  const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const [dx, dy] = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
  // Read from below or from the right.
  const sign = dx < -1e-6 || (Math.abs(dx) <= 1e-6 && dy < 0) ? -1 : 1;
  const [ux, uy] = [dx * sign, dy * sign];
  const square = Math.min(Math.abs(ux), Math.abs(uy)) < 1e-6;
  const obstacles = [...drawn.inked.filter((other) => !named.own.has(other)), ...drawn.openings, ...drawn.letters];
  const most = length / 2 - width / 2 - marginMm;
  for (let off = 0; off <= most; off += STEP_MM) {
    for (const side of off === 0 ? [1] : [1, -1]) {
      const [x, y] = [(a[0] + b[0]) / 2 + ux * off * side, (a[1] + b[1]) / 2 + uy * off * side];
      const at = (along: number, up: number): Point => [x + ux * along - uy * up, y + uy * along + ux * up];
      const [h, half] = [HEIGHT_MM / 2, width / 2];
      const ring = [at(-half, -h), at(half, -h), at(half, h), at(-half, h)];
      if (!boxWithin(ringBounds(ring), frame)) continue;
      const boxes = square ? [ringBounds(ring)] : boxesAlong([at(h - half, 0), at(half - h, 0)], 0.8 * h);
      if (boxes.some((box) => obstacles.some((other) => boxesNear(box, other, GAP_MM)))) continue;
      ink.polygon(ring, { fill: 'white' });
      const along: Point | undefined = uy === 0 ? undefined : [ux, uy];
      ink.text(named.words, at(0, -TO_BASE_MM), { sizePt: LABEL_PT, bold: named.bold, align: 'middle', along });
      drawn.inked.push(...boxes);
      // No leader near its corners either.
      drawn.labels.push(...(square ? boxes : boxesAlong([at(h - half, 0), at(half - h, 0)], Math.SQRT2 * h)));
      return true;
    }
  }
  return false;
}

const turn = (a: Point, b: Point, c: Point): number => (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);

const cross = ([a, b]: Stretch, [c, d]: Stretch): boolean =>
  turn(a, b, c) * turn(a, b, d) < 0 && turn(c, d, a) * turn(c, d, b) < 0;

const runsThrough = (leader: Stretch, box: Box): boolean => {
  const { minX, minY, maxX, maxY } = box;
  const inside = ([x, y]: Point): boolean => x > minX && x < maxX && y > minY && y < maxY;
  const [a, b, c, d] = boxRing(box);
  return leader.some(inside) || cross(leader, [d, b]) || cross(leader, [a, c]);
};

const runsAlong = ([a, b]: Stretch, [c, d]: Stretch): boolean => {
  const [ux, uy, vx, vy] = [b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]];
  return Math.abs(ux * vy - uy * vx) < 0.5 * Math.hypot(ux, uy) * Math.hypot(vx, vy);
};

/** A place for a label and its leader. */
interface Spot {
  readonly box: Box;
  readonly leader: Stretch;
  readonly long: boolean;
  readonly cost: number;
}

/**
 * Writes a name as near as can be to what it names, where it covers no ink; with a leader when it does not stand right beside.
 * A leader crosses no label and no other leader where that can be, and as few lines as possible.
 */
export function writeBeside(drawn: Drawn, named: Named): void {
  const { ink } = drawn;
  const width = widthOf(ink, named);
  const { box, leader, long } = bestSpot(drawn, named, width) ?? spotAt(named.anchors[0], named.anchors[0], width);
  if (long) {
    const [[x, y], end] = leader;
    ink.line([x, y], end, LEADER_MM, 'black');
    const corners = Array.from({ length: 8 }, (_, i): Point => {
      const angle = (i * Math.PI) / 4;
      return [x + DOT_MM * Math.cos(angle), y + DOT_MM * Math.sin(angle)];
    });
    if (named.dot) ink.polygon(corners, { fill: 'black' });
    drawn.leaders.push(leader);
    drawn.inked.push(...boxesAlong(leader, LEADER_MM));
  }
  const { minX, minY, maxX, maxY } = box;
  if ([...drawn.openings, ...drawn.letters].some((other) => boxesNear(box, other))) ink.box(box, { fill: 'white' });
  const middle: Point = [(minX + maxX) / 2, (minY + maxY) / 2 - TO_BASE_MM];
  ink.text(named.words, middle, { sizePt: LABEL_PT, bold: named.bold, align: 'middle' });
  drawn.inked.push(box);
  drawn.labels.push(box);
}

function spotAt(centre: Point, anchor: Point, width: number): Spot {
  const box = boxAround(centre, width, HEIGHT_MM);
  const end: Point = [
    Math.min(box.maxX, Math.max(box.minX, anchor[0])),
    Math.min(box.maxY, Math.max(box.minY, anchor[1])),
  ];
  const gap = Math.hypot(end[0] - anchor[0], end[1] - anchor[1]);
  const long = gap > BESIDE_MM;
  return { box, leader: [anchor, end], long, cost: gap + (long ? COST.leader : 0) };
}

/** The cheapest place around any of the anchors; undefined when there is none. */
function bestSpot(drawn: Drawn, { anchors, own, line: ownLine }: Named, width: number): Spot | undefined {
  let best: Spot | undefined;
  for (const anchor of anchors) {
    const reach = boxAround(anchor, width + 2 * REACH_MM + 1, HEIGHT_MM + 2 * REACH_MM + 1);
    const near = (boxes: readonly Box[]): Box[] => boxes.filter((other) => boxesNear(reach, other));
    const [allInk, openings, letters] = [near(drawn.inked), near(drawn.openings), near(drawn.letters)];
    const lines = drawn.lines.filter((line) => !own.has(line) && boxesNear(reach, ringBounds(line)));
    for (let ring = 0; ring * STEP_MM <= REACH_MM; ring += 1) {
      // Places on this ring are no nearer than this.
      if (best && ring * STEP_MM - width / 2 > best.cost) break;
      for (const [dx, dy] of ringOffsets(ring)) {
        const centre: Point = [anchor[0] + dx * STEP_MM, anchor[1] + dy * STEP_MM];
        const spot = spotAt(centre, anchor, width);
        const { box, leader } = spot;
        if ((best && spot.cost >= best.cost) || !boxWithin(box, drawn.frame)) continue;
        if (allInk.some((other) => boxesNear(box, other, GAP_MM))) continue;
        const through =
          drawn.labels.some((other) => runsThrough(leader, other)) ||
          drawn.leaders.some((other) => cross(leader, other));
        const along = ownLine !== undefined && spot.long && runsAlong(leader, ownLine);
        const cost =
          spot.cost +
          extraCost(spot, lines, openings, letters) +
          (through ? COST.through : 0) +
          (along ? COST.crossing : 0);
        if (!best || cost < best.cost) best = { ...spot, cost };
      }
    }
  }
  return best;
}

function extraCost(
  { box, leader }: Spot,
  lines: readonly Stretch[],
  openings: readonly Box[],
  letters: readonly Box[],
): number {
  const crossings = lines.filter((line) => cross(leader, line)).length;
  const over = letters.some((other) => boxDistance(box, other) < 0.1) ? COST.letter : 0;
  const under = openings.filter((other) => boxDistance(box, other) < 0.1);
  // An edge may be what is to be measured.
  const edge = under.some((other) => !boxWithin(grownBox(box, 0.1), other));
  return crossings * COST.crossing + over + (edge ? COST.edge : under.length > 0 ? COST.opening : 0);
}

const rings: Point[][] = [[[0, 0]]];

/** Cells of a square ring around the origin, those on the axes first. */
function ringOffsets(ring: number): Point[] {
  if (rings[ring]) return rings[ring];
  const cells: Point[] = [];
  for (let i = -ring; i <= ring; i += 1) {
    cells.push([i, ring], [i, -ring]);
    if (Math.abs(i) < ring) cells.push([ring, i], [-ring, i]);
  }
  rings[ring] = cells.sort(
    (p, q) => Math.min(Math.abs(p[0]), Math.abs(p[1])) - Math.min(Math.abs(q[0]), Math.abs(q[1])),
  );
  return rings[ring];
}
