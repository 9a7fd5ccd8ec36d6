import type { Film } from './film.js';

type Vec = readonly [number, number];

/** An opening to look for on the film. */
export interface Target {
  /** As asked, mm, outer ring. */
  readonly asked: readonly Vec[];
  /** Directions to measure along, unit vectors. */
  readonly directions: readonly Vec[];
  /** Centre of area as asked, mm. */
  readonly centre: Vec;
  /** The same point as told to the machine, mm from the image's lower left corner. */
  readonly commanded: Vec;
}

export interface StencilErrors {
  readonly measured: number;
  readonly missing: number;
  readonly merged: number;
  readonly rmsWidthMm: number;
  readonly meanWidthMm: number;
  readonly maxWidthMm: number;
  readonly rmsPositionMm: number;
  readonly maxPositionMm: number;
}

const BEYOND_MM = 0.6;

/** Chord of a polygon along a line through a point: the stretch that holds the point. */
function chordOf(ring: readonly Vec[], [cx, cy]: Vec, [ux, uy]: Vec): [number, number] | undefined {
  const hits: number[] = [];
  for (let i = 0; i < ring.length; i += 1) {
    const [ax, ay] = ring[i];
    const [bx, by] = ring[(i + 1) % ring.length];
    const da = -uy * (ax - cx) + ux * (ay - cy);
    const db = -uy * (bx - cx) + ux * (by - cy);
    if (da >= 0 === db >= 0) continue;
    const t = da / (da - db);
    hits.push(ux * (ax + t * (bx - ax) - cx) + uy * (ay + t * (by - ay) - cy));
  }
  const below = hits.filter((t) => t <= 0);
  const above = hits.filter((t) => t > 0);
  return below.length > 0 && above.length > 0 ? [Math.max(...below), Math.min(...above)] : undefined;
}

/** Measures a burnt stencil against what was asked, laid on by the best shift and turn, as a person would lay it. */
export function measureStencil(film: Film, targets: readonly Target[]): StencilErrors {
  const widths: number[] = [];
  const found: { asked: Vec; cut: Vec }[] = [];
  let missing = 0;
  let merged = 0;
  for (const target of targets) {
    const at = film.land(target.commanded);
    let [dx, dy] = [0, 0];
    let complete = true;
    for (const [ux, uy] of target.directions) {
      const asked = chordOf(target.asked, target.centre, [ux, uy]);
      if (!asked) continue;
      const reach = asked[1] - asked[0] + BEYOND_MM;
      const burnt = film.burntAlong(at, [at[0] + ux, at[1] + uy], -reach, reach);
      const around = burnt.find(
        ([start, end]) => start <= (asked[0] + asked[1]) / 2 && end >= (asked[0] + asked[1]) / 2,
      );
      if (!around) {
        complete = false;
        missing += 1;
        break;
      }
      if (around[0] <= -reach || around[1] >= reach) merged += 1;
      widths.push(around[1] - around[0] - (asked[1] - asked[0]));
      const shift = (around[0] + around[1] - asked[0] - asked[1]) / 2;
      dx += shift * ux;
      dy += shift * uy;
    }
    if (complete) found.push({ asked: target.centre, cut: [at[0] + dx, at[1] + dy] });
  }
  const distances = residualsAfterAlignment(found);
  const rms = (values: readonly number[]): number =>
    Math.sqrt(values.reduce((s, v) => s + v * v, 0) / Math.max(1, values.length));
  return {
    measured: found.length,
    missing,
    merged,
    rmsWidthMm: rms(widths),
    meanWidthMm: widths.reduce((s, v) => s + v, 0) / Math.max(1, widths.length),
    maxWidthMm: Math.max(0, ...widths.map(Math.abs)),
    rmsPositionMm: rms(distances),
    maxPositionMm: Math.max(0, ...distances),
  };
}

function residualsAfterAlignment(pairs: readonly { asked: Vec; cut: Vec }[]): number[] {
  const n = Math.max(1, pairs.length);
  const mean = (pick: (p: (typeof pairs)[number]) => Vec): Vec => [
    pairs.reduce((s, p) => s + pick(p)[0], 0) / n,
    pairs.reduce((s, p) => s + pick(p)[1], 0) / n,
  ];
  const ma = mean((p) => p.asked);
  const mc = mean((p) => p.cut);
  let dot = 0;
  let cross = 0;
  for (const { asked, cut } of pairs) {
    const [px, py] = [cut[0] - mc[0], cut[1] - mc[1]];
    const [qx, qy] = [asked[0] - ma[0], asked[1] - ma[1]];
    dot += px * qx + py * qy;
    cross += px * qy - py * qx;
  }
  const angle = Math.atan2(cross, dot);
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  return pairs.map(({ asked, cut }) => {
    const [px, py] = [cut[0] - mc[0], cut[1] - mc[1]];
    return Math.hypot(c * px - s * py - (asked[0] - ma[0]), s * px + c * py - (asked[1] - ma[1]));
  });
}
