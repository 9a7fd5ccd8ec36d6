import { orientedBox } from '../../src/geometry/oriented-box.js';
import type { Opening } from '../../src/geometry/types.js';
import { kerfAlong } from '../../src/machine/machine-model.js';
import { makeStencil } from '../../src/stencil/make-stencil.js';
import { cutOfDots, type Laser, opened, pathsOf } from './laser.js';
import { area, extents, type Paths, pieces, type Vec } from './polygons.js';

/** One pad of a board as it comes out, by the polygon library; lengths in mm, errors as got less asked. */
export interface PadVerdict {
  /** How far the pad's sides lean, degrees from the nearest axis. */
  readonly leanDeg: number;
  /** Across the pad's own two sides. */
  readonly off: readonly [number, number];
  /** What is left when each size is rounded to the nearest whole dot along its own direction. */
  readonly nearest: readonly [number, number];
  readonly dot: readonly [number, number];
  /** Of the area that the beam can cut at best, as a share. */
  readonly areaOff: number;
  /** The same as a width: what the pad would have to be wider all round, in dots. */
  readonly meanWidthOffDots: number;
  /** What is missing of the asked area, as a share: what corners lose to the beam as well. */
  readonly lostOfAsked: number;
  /** Whether the last look lists it. */
  readonly listed: boolean;
  readonly torn: boolean;
}

export interface WebVerdict {
  readonly asked: number;
  readonly got: number;
  /** What is lost beyond the two walls' own rounding to the nearest dot, in dots. */
  readonly beyondDots: number;
}

/** Cuts a board in dots and measures every pad in its own axes, and every web. */
export function judgeBoard(openings: readonly Opening[], laser: Laser) {
  const { model, pitch } = laser;
  const { commanded, check } = makeStencil({ openings }, model, { pitchMm: pitch, formats: ['png'] });
  if (!commanded.dots) throw new Error('no dots');
  const { placed, placement } = commanded.dots.image;
  const { numbers, narrow } = commanded.dots.corrected;
  const heightPx = placement.lines;
  const listed = new Set([...check.faults, ...narrow].map(({ opening }) => opening));
  const ofPad = new Map<number, (typeof placed)[number][]>();
  numbers.forEach((number, k) => {
    ofPad.set(number - 1, [...(ofPad.get(number - 1) ?? []), placed[k]]);
  });
  const cuts = new Map<unknown, Vec[][]>();
  const cutOf = (i: number): Vec[][] =>
    (ofPad.get(i) ?? []).flatMap(({ stamp, column, row }) => {
      const known = cuts.get(stamp) ?? cutOfDots([{ stamp, column: 0, row: 0 }], heightPx, laser);
      cuts.set(stamp, known);
      const [dx, dy] = [column * pitch.x, -row * pitch.y];
      return known.map((ring) =>
        ring.map(([x, y]): Vec => [x + model.scaleX * dx + model.shear * dy, y + model.scaleY * dy]),
      );
    });
  const seen = new Map<string, { possible: number; perimeter: number; got: number; parts: number }>();
  const pads = openings.map((opening, i): PadVerdict => {
    const asked = pathsOf([opening]);
    const { angleDeg } = orientedBox(opening.outer);
    const cut = cutOf(i);
    const key = shapeKey(opening);
    let known = seen.get(key);
    if (!known) {
      const possible = opened(asked, model);
      known = { possible: area(possible), perimeter: perimeter(possible), got: area(cut), parts: pieces(cut) };
      seen.set(key, known);
    }
    const [want, got] = [extents(asked, angleDeg), extents(cut, angleDeg)];
    const dot = [0, 90].map((more) => {
      const [x, y] = direction(angleDeg + more);
      return Math.hypot(x * pitch.x * model.scaleX, y * pitch.y * model.scaleY);
    }) as [number, number];
    const off = [got[0] - want[0], got[1] - want[1]] as const;
    const told = [0, 90].map((more, k) => want[k] - kerfAlong(model, direction(angleDeg + more)));
    const nearest = [0, 1].map((k) => Math.max(1, Math.round(told[k] / dot[k])) * dot[k] - told[k]) as [number, number];
    const over = area(cut) - known.possible;
    return {
      leanDeg: Math.abs(angleDeg - 90 * Math.round(angleDeg / 90)),
      ...{ off, nearest, dot },
      areaOff: over / known.possible,
      meanWidthOffDots: (2 * over) / known.perimeter / Math.sqrt(pitch.x * pitch.y),
      lostOfAsked: 1 - area(cut) / area(asked),
      listed: listed.has(i + 1),
      torn: pieces(cut) !== pieces(asked),
    };
  });
  const webs: WebVerdict[] = [];
  const boxes = openings.map((one) => boxOf(pathsOf([one])));
  openings.forEach((one, i) => {
    for (let j = i + 1; j < openings.length; j += 1) {
      if (boxGap(boxes[i], boxes[j]) > 0.4) continue;
      const asked = gap(pathsOf([one]), pathsOf([openings[j]]));
      if (asked.distance > 0.4) continue;
      const got = gap(cutOf(i), cutOf(j)).distance;
      const [ux, uy] = asked.along;
      const dot = Math.hypot(ux * pitch.x, uy * pitch.y);
      webs.push({ asked: asked.distance, got, beyondDots: (asked.distance - got) / dot - 1 });
    }
  });
  return { pads, webs };
}

const direction = (angleDeg: number): [number, number] => {
  const turn = (angleDeg * Math.PI) / 180;
  return [Math.cos(turn), Math.sin(turn)];
};

const shapeKey = ({ outer, islands }: Opening): string => {
  const [[x, y]] = outer;
  return [outer, ...islands]
    .flatMap((ring) => ring.flatMap(([u, v]) => [(u - x).toFixed(6), (v - y).toFixed(6)]))
    .join();
};

function perimeter(paths: Paths): number {
  let sum = 0;
  for (const ring of paths) {
    ring.forEach(([x, y], i) => {
      const [u, v] = ring[(i + 1) % ring.length];
      sum += Math.hypot(u - x, v - y);
    });
  }
  return sum;
}

type Box = readonly [number, number, number, number];
function boxOf(paths: Paths): Box {
  const [[x0, x1], [y0, y1]] = [0, 1].map((k) => {
    let [least, most] = [Infinity, -Infinity];
    for (const ring of paths) for (const p of ring) [least, most] = [Math.min(least, p[k]), Math.max(most, p[k])];
    return [least, most];
  });
  return [x0, y0, x1, y1];
}
const boxGap = (p: Box, q: Box): number => Math.max(p[0] - q[2], q[0] - p[2], p[1] - q[3], q[1] - p[3]);

/** Least distance between outlines, and the direction of it. */
function gap(p: Paths, q: Paths): { distance: number; along: Vec } {
  let best: { distance: number; along: Vec } = { distance: Infinity, along: [1, 0] };
  const look = (points: Paths, walls: Paths): void => {
    for (const ring of walls) {
      ring.forEach(([ax, ay], i) => {
        const [bx, by] = ring[(i + 1) % ring.length];
        const [dx, dy] = [bx - ax, by - ay];
        const length2 = dx * dx + dy * dy || 1;
        for (const other of points) {
          for (const [x, y] of other) {
            const t = Math.min(1, Math.max(0, ((x - ax) * dx + (y - ay) * dy) / length2));
            const [ex, ey] = [x - ax - t * dx, y - ay - t * dy];
            const distance = Math.hypot(ex, ey);
            if (distance < best.distance) best = { distance, along: [ex / (distance || 1), ey / (distance || 1)] };
          }
        }
      });
    }
  };
  look(p, q);
  look(q, p);
  return best;
}
