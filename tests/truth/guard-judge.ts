import { stampFromRows } from '../../src/dots/stamp.js';
import type { DotImage } from '../../src/export/write.js';
import { invert, mapPoint } from '../../src/geometry/affine.js';
import { orientedBox } from '../../src/geometry/oriented-box.js';
import { rectangle } from '../../src/geometry/shapes.js';
import type { Opening, Point } from '../../src/geometry/types.js';
import { checkCommanded, makeStencil } from '../../src/stencil/make-stencil.js';
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
const PLACE_DOTS = 0.75;
const LOSS_SHARE = 0.05;
/** What can be cut and lies farther than this from what is, is missing, dots; parts of less than a dot are tips of corners. */
const LIMB_DOTS = 1;
const TIP_DOTS2 = 1;
/** What lies this near to a limit may be told either way: the measurements differ by arcs and bands. */
const DOUBT = 0.06;
/** A shape whose straight walls are shorter than this share of it is nearly round. */
const ROUND_SHARE = 0.25;
const ALL_ROUND_DEG = [0, 10, 20, 30, 40, 50, 60, 70, 80];
/** A tip of less than this may not be told of, as a share of the least that must be. */
const LEAST_TIP = 0.25;

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
      const sides = kind === 'triangle' ? longestWall(turn.outer).angleDeg : angleDeg;
      pads.push({ kind, opening: { ...turn, islands }, angleDeg: sides });
    }
  }
  return pads.slice(0, count);
}

function longestWall(ring: readonly Point[]): { readonly angleDeg: number; readonly length: number } {
  const walls = ring.map(([x, y], i) => [ring[(i + 1) % ring.length][0] - x, ring[(i + 1) % ring.length][1] - y]);
  const [[dx, dy]] = walls.sort((p, q) => Math.hypot(q[0], q[1]) - Math.hypot(p[0], p[1]));
  return { angleDeg: (Math.atan2(dy, dx) * 180) / Math.PI, length: Math.hypot(dx, dy) };
}

/** Whether the guard listed an opening for something that the measurement finds right. */
export const isListedFalsely = ({ right, faults }: GuardVerdict): boolean => right && faults.length > 0;

/** Whether something is wrong beyond doubt, and neither fault nor narrow part tells of it. */
export const isUnlisted = ({ wrong, faults, narrow }: GuardVerdict): boolean =>
  wrong.length > 0 && faults.length === 0 && !narrow;

/** Rows of runs of the k-th stamp, to be spoilt. */
type Spoil = (rows: readonly (readonly number[])[], k: number) => readonly (readonly number[])[];

/** Makes a stencil of a board in dots, and measures each opening's cut; the dots may be spoilt before the guard looks. */
export function judgeGuard(pads: readonly Pad[], { model, pitch }: Laser, spoil?: Spoil): GuardVerdict[] {
  const stencil = makeStencil({ openings: pads.map(({ opening }) => opening) }, model, {
    pitchMm: pitch,
    formats: ['png'],
  });
  const { commanded } = stencil;
  const { corrected } = commanded;
  const dots = commanded.dots && { ...commanded.dots, image: spoiltImage(commanded.dots.image, spoil) };
  if (!dots) throw new Error('no dots');
  const { faults } = checkCommanded(stencil.asked.openings, { ...commanded, dots }, model);
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
      const runs = stamp.rows[r];
      for (let i = 0; i < runs.length; i += 2) {
        const run = rectangle(column + runs[i], row + r, column + runs[i + 1], row + r + 1);
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
    const fault = faults.find(({ opening }) => opening === i + 1);
    return { kind: pad.kind, wrong, right, figures, faults: fault?.what ?? [], narrow: narrow.has(i + 1) };
  });
}

function spoiltImage(image: DotImage, spoil?: Spoil): DotImage {
  if (!spoil) return image;
  const placed = image.placed.map((one, k) => {
    const { stamp } = one;
    const changed = stampFromRows(
      spoil(
        stamp.rows.map((row) => [...row]),
        k,
      ),
    );
    return { stamp: changed.stamp, column: one.column + changed.column, row: one.row + changed.row };
  });
  return { ...image, placed };
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

function middleOfBox(paths: Paths): Vec {
  const points = paths.flat();
  const middleOf = (values: readonly number[]): number => (Math.min(...values) + Math.max(...values)) / 2;
  return [middleOf(points.map(([x]) => x)), middleOf(points.map(([, y]) => y))];
}

function measure({ opening, angleDeg }: Pad, cut: Paths, others: readonly Paths[], { model, pitch }: Laser) {
  const asked = pathsOf([opening]);
  const whole = area(asked);
  if (cut.length === 0) return { wrong: ['missing'], right: false, figures: {} as Record<string, number> };
  const possible = opened(asked, model);
  const sizeAlong = (along: number): number => {
    const turn = (along * Math.PI) / 180;
    const dots = [turn, turn + Math.PI / 2].map((t) => Math.hypot(Math.cos(t) * pitch.x, Math.sin(t) * pitch.y));
    const [want, got] = [extents(asked, along), extents(cut, along)];
    // A beam rounds tips: what it can cut at best is right, and so is what was asked.
    const best = possible.length > 0 ? extents(possible, along) : want;
    return Math.max(...[0, 1].map((k) => Math.max(best[k] - got[k], got[k] - want[k]) / dots[k] / SIZE_DOTS));
  };
  // What is nearly round has no sides of its own: it is wrong where it is so whichever way it is measured, and right likewise.
  const round = longestWall(opening.outer).length < ROUND_SHARE * Math.max(...extents(asked, angleDeg));
  const box = sizeAlong(orientedBox(opening.outer).angleDeg);
  const own = (round ? ALL_ROUND_DEG.map((deg) => angleDeg + deg) : [angleDeg]).map(sizeAlong);
  const sizes = [...own, box];
  // Where dots lie is another question than which there are: half a dot of rounding is taken out.
  const wanted = possible.length > 0 ? possible : asked;
  const [dx, dy] = middle(wanted).map((v, k) => v - middle(cut)[k]);
  const away = [0, 1].map((k) => {
    const by = (at: (paths: Paths) => Vec): number[] =>
      [wanted, asked].map((paths) => Math.abs(at(paths)[k] - at(cut)[k]));
    return Math.min(...by(middle), ...by(middleOfBox));
  });
  const place = Math.max(away[0] / pitch.x, away[1] / pitch.y) / PLACE_DOTS;
  const laidOn = cut.map((ring) => ring.map(([x, y]): Vec => [x + dx, y + dy]));
  const torn = pieces(cut) - pieces(asked);
  const joined = others.some((other) => area(common(cut, other)) > 1e-7);
  const missing =
    possible.length > 0 ? minus(possible, grown(laidOn, 2 * LIMB_DOTS * pitch.x, 2 * LIMB_DOTS * pitch.y)) : [];
  const limb = Math.max(0, ...missing.map((ring) => area([ring]))) / (pitch.x * pitch.y) / TIP_DOTS2;
  // An upright rectangle has the nearest number of dots, and its area follows from that.
  const upright = opening.outer.length === 4 && angleDeg % 90 === 0 && Math.max(...sizes) * SIZE_DOTS <= 0.5 + DOUBT;
  const loss = Math.abs(area(cut) - whole) / whole / (upright ? 2 * LOSS_SHARE : LOSS_SHARE);
  const size = round ? Math.min(...sizes) : Math.max(...sizes);
  const wrong = [
    ...(torn > 0 ? ['torn'] : []),
    ...(joined ? ['joined'] : []),
    ...(size > 1 + DOUBT ? ['size'] : []),
    ...(loss > 1 + 2 * DOUBT ? ['area'] : []),
    ...(limb > 1 + 2 * DOUBT ? ['limb'] : []),
    ...(place > 1 + DOUBT ? ['place'] : []),
  ];
  const near = Math.max(...sizes, place) < 1 - DOUBT && loss < 1 - 2 * DOUBT;
  const right = torn <= 0 && !joined && near && limb < LEAST_TIP;
  return {
    wrong,
    right,
    figures: {
      size,
      loss,
      limb,
      place,
      torn,
      areaMm2: area(cut),
      possibleMm2: area(possible),
    },
  };
}
