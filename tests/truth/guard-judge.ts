import { invert, mapPoint } from '../../src/geometry/affine.js';
import { rectangle } from '../../src/geometry/shapes.js';
import type { Opening, Point } from '../../src/geometry/types.js';
import { makeStencil } from '../../src/stencil/make-stencil.js';
import { box, rounded, at as turnedAt } from '../export/boards.js';
import { type Laser, opened, pathsOf } from './laser.js';
import { area, common, extents, grown, hull, minus, type Paths, pieces, union, type Vec } from './polygons.js';
import { KINDS } from './shapes.js';

/** An opening of a board, and the direction of its own sides. */
export interface Pad {
  readonly kind: string;
  readonly opening: Opening;
  readonly angleDeg: number;
}

/** What the polygon library measures of one opening's cut against what the guard says of it. */
export interface GuardVerdict {
  readonly kind: string;
  /** What is wrong beyond doubt. */
  readonly wrong: readonly string[];
  /** Whether everything is right with something to spare. */
  readonly right: boolean;
  readonly faults: readonly string[];
  readonly narrow: boolean;
  readonly figures: Readonly<Record<string, number>>;
}

const BEAM_STEPS = 64;
/** Limits, in dots along the opening's own sides. */
const SIZE_DOTS = 0.75;
const LOSS_SHARE = 0.05;
/** What lies this near to a limit may be told either way: the measurements differ by arcs and bands. */
const DOUBT = 0.06;

/** A random board: pads in places of their own, so many a row, some in rows of fine pitch. */
export function randomBoard(random: () => number, count: number, laser: Laser): Pad[] {
  const { kerfXMm, kerfYMm } = laser.model;
  const limb = Math.max(kerfXMm, kerfYMm);
  const between = (least: number, most: number): number => least + (most - least) * random();
  const cell = 4;
  const pads: Pad[] = [];
  for (let i = 0; pads.length < count; i += 1) {
    const [x, y] = [cell * (i % 6) + between(0, 0.3), cell * Math.floor(i / 6) + between(0, 0.3)];
    const upright = random() < 0.5;
    const angleDeg = upright ? 90 * Math.floor(4 * random()) : 360 * random();
    const pick = Math.floor(6 * random());
    if (pick === 0) {
      const [width, pitch, length] = [between(0.2, 0.26), between(0.4, 0.5), between(0.8, 1.4)];
      for (let k = -2; k <= 2; k += 1) {
        const turn = (angleDeg * Math.PI) / 180;
        const [px, py] = [x + k * pitch * Math.cos(turn), y + k * pitch * Math.sin(turn)];
        pads.push({ kind: 'fine row', opening: turnedAt(box(width, length), px, py, angleDeg), angleDeg });
      }
    } else if (pick === 1) {
      const [width, height] = [between(0.3, 1.5), between(0.3, 1.5)];
      const radius = Math.min(width, height) * (random() < 0.5 ? 0.5 : between(0.1, 0.4));
      pads.push({ kind: 'rounded', opening: turnedAt(rounded(width, height, radius, 16), x, y, angleDeg), angleDeg });
    } else if (pick === 2) {
      pads.push({ kind: 'pad', opening: turnedAt(box(between(0.25, 2), between(0.25, 2)), x, y, angleDeg), angleDeg });
    } else {
      const kinds = Object.keys(KINDS);
      const kind = kinds[Math.floor(kinds.length * random())];
      const size = Math.min(0.24, limb * between(0.9, 2.2));
      const region = KINDS[kind](random, size);
      const turn = turnedAt(region.outer, x, y, angleDeg);
      const islands = region.islands.map((ring) => turnedAt(ring, x, y, angleDeg).outer);
      pads.push({ kind, opening: { ...turn, islands }, angleDeg: kind === 'thermal' ? angleDeg + 45 : angleDeg });
    }
  }
  return pads.slice(0, count);
}

/** Makes a stencil of a board in dots, and measures each opening's cut. */
export function judgeGuard(pads: readonly Pad[], { model, pitch }: Laser): GuardVerdict[] {
  const stencil = makeStencil({ openings: pads.map(({ opening }) => opening) }, model, {
    pitchMm: pitch,
    formats: ['png'],
  });
  const { dots, corrected } = stencil.commanded;
  if (!dots) throw new Error('no dots');
  const cuts = pads.map((): Vec[][] => []);
  const toMm = invert(dots.image.placement.toPixels);
  const factor = 1 / Math.sqrt(Math.cos(Math.PI / BEAM_STEPS));
  const beam = Array.from({ length: BEAM_STEPS }, (_, i): Vec => {
    const angle = (2 * Math.PI * i) / BEAM_STEPS;
    return [(factor * model.kerfXMm * Math.cos(angle)) / 2, (factor * model.kerfYMm * Math.sin(angle)) / 2];
  });
  corrected.numbers.forEach((number, k) => {
    const { stamp, column, row } = dots.image.placed[k];
    for (let r = 0; r < stamp.height; r += 1) {
      for (let i = stamp.rowStart[r]; i < stamp.rowStart[r + 1]; i += 2) {
        const run = rectangle(column + stamp.runs[i], row + r, column + stamp.runs[i + 1], row + r + 1);
        const film = run.map((corner) => {
          const [x, y] = mapPoint(toMm, corner);
          return [model.scaleX * x + model.shear * y, model.scaleY * y] as Point;
        });
        cuts[number - 1].push(hull(film.flatMap(([x, y]) => beam.map(([dx, dy]): Vec => [x + dx, y + dy]))));
      }
    }
  });
  const cut = cuts.map((runs) => union(runs));
  const narrow = new Set(corrected.narrow.map(({ opening }) => opening));
  return pads.map((pad, i) => {
    const others = cut.filter((_, j) => j !== i && near(pads[i].opening, pads[j].opening));
    const { wrong, right, figures } = measure(pad, cut[i], others, { model, pitch });
    const fault = stencil.check.faults.find(({ opening }) => opening === i + 1);
    return { kind: pad.kind, wrong, right, figures, faults: fault?.what ?? [], narrow: narrow.has(i + 1) };
  });
}

const near = (p: Opening, q: Opening): boolean =>
  Math.hypot(p.outer[0][0] - q.outer[0][0], p.outer[0][1] - q.outer[0][1]) < 3;

/** Centre of area. */
function middle(paths: Paths): Vec {
  let [a, x, y] = [0, 0, 0];
  for (const ring of paths) {
    ring.forEach(([px, py], i) => {
      const [qx, qy] = ring[(i + 1) % ring.length];
      const cross = px * qy - qx * py;
      a += cross;
      x += (px + qx) * cross;
      y += (py + qy) * cross;
    });
  }
  return [x / (3 * a), y / (3 * a)];
}

function measure({ opening, angleDeg }: Pad, cut: Paths, others: readonly Paths[], { model, pitch }: Laser) {
  const asked = pathsOf([opening]);
  const whole = area(asked);
  const turn = (angleDeg * Math.PI) / 180;
  const dots = [turn, turn + Math.PI / 2].map((t) => Math.hypot(Math.cos(t) * pitch.x, Math.sin(t) * pitch.y));
  if (cut.length === 0) return { wrong: ['missing'], right: false, figures: {} as Record<string, number> };
  const possible = opened(asked, model);
  const [want, got] = [extents(asked, angleDeg), extents(cut, angleDeg)];
  // A beam rounds tips: what it could cut at best is as right as what was asked.
  const best = possible.length > 0 ? extents(possible, angleDeg) : want;
  const sizes = [0, 1].map((k) => {
    const off = Math.min(Math.abs(got[k] - want[k]), Math.abs(got[k] - best[k]));
    return off / dots[k] / SIZE_DOTS;
  });
  const reach = 2 * Math.max(pitch.x, pitch.y);
  // Where dots lie is another question than which there are: half a dot of rounding is taken out.
  const [dx, dy] = middle(possible.length > 0 ? possible : asked).map((v, k) => v - middle(cut)[k]);
  const laidOn = cut.map((ring) => ring.map(([x, y]): Vec => [x + dx, y + dy]));
  const torn = pieces(cut) - pieces(asked);
  const joined = others.some((other) => area(common(cut, other)) > 1e-7);
  const missing = possible.length > 0 ? area(minus(possible, grown(laidOn, reach, reach))) : 0;
  const loss = Math.abs(area(cut) - (possible.length > 0 ? area(possible) : whole)) / whole / LOSS_SHARE;
  const size = Math.max(...sizes);
  const wrong = [
    ...(torn > 0 ? ['torn'] : []),
    ...(joined ? ['joined'] : []),
    ...(size > 1 + DOUBT ? ['size'] : []),
    ...(loss > 1 + 2 * DOUBT ? ['area'] : []),
    ...(missing > 0.5 * pitch.x * pitch.y ? ['limb'] : []),
  ];
  const right = torn <= 0 && !joined && size < 1 - DOUBT && loss < 1 - 2 * DOUBT && missing === 0;
  return {
    wrong,
    right,
    figures: {
      size,
      loss,
      missing,
      torn,
      areaMm2: area(cut),
      possibleMm2: area(possible),
      widths: got[0] - want[0],
      heights: got[1] - want[1],
    },
  };
}
