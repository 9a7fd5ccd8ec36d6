import type { Point, Size } from '../geometry/types.js';
import {
  type Bends,
  type FieldShape,
  PARAMETER_NAMES,
  type PlaceField,
  type Profile,
  type ProfileFit,
  type ReadingSession,
} from './types.js';

/** P1, P2 and P3 (Legendre): without a constant, and from P2 on without a slope. Source: NIST DLMF, table 18.6.1. */
const LEGENDRE = [
  () => 1,
  (t: number) => t,
  (t: number) => (3 * t * t - 1) / 2,
  (t: number) => (5 * t ** 3 - 3 * t) / 2,
];

type Area = PlaceField['areaMm'];
/** What a field says, without how sure it is. */
type Terms = Pick<PlaceField, 'areaMm' | 'terms'>;

/** Value of a shape at a commanded place, 1 being its unit. */
export function shapeAt(shape: FieldShape, periodMm: number | undefined, area: Area, [x, y]: Point): number {
  const [x0, y0, x1, y1] = area;
  const [dx, dy] = [x - (x0 + x1) / 2, y - (y0 + y1) / 2];
  if (periodMm !== undefined) {
    const angle = (2 * Math.PI * (shape.endsWith('u') ? dx : dy)) / periodMm;
    return shape.startsWith('sin') ? Math.sin(angle) : Math.cos(angle);
  }
  const us = [...shape].filter((letter) => letter === 'u').length;
  return LEGENDRE[us]((2 * dx) / (x1 - x0)) * LEGENDRE[shape.length - us]((2 * dy) / (y1 - y0));
}

/** e(p): by how much the machine is off at a place of the bed, commanded mm; beyond the area as at its border. */
export function fieldAt({ areaMm, terms }: Terms, [x, y]: Point): [number, number] {
  const [x0, y0, x1, y1] = areaMm;
  const inside: Point = [Math.min(x1, Math.max(x0, x)), Math.min(y1, Math.max(y0, y))];
  let [ex, ey] = [0, 0];
  for (const { moves, shape, periodMm, mm } of terms) {
    const value = mm * shapeAt(shape, periodMm, areaMm, inside);
    if (moves === 'x') ex += value;
    else ey += value;
  }
  return [ex, ey];
}

/** Standard uncertainty of the place along both axes, mm (JCGM 100:2008, 5.2.2). */
export function fieldUncertainty({ areaMm, terms, covariance }: PlaceField, at: Point): number {
  const values = terms.map(({ shape, periodMm }) => shapeAt(shape, periodMm, areaMm, at));
  const variance = (axis: 'x' | 'y'): number => {
    const own = values.map((value, i) => (terms[i].moves === axis ? value : 0));
    return own.reduce((sum, p, i) => sum + own.reduce((s, q, j) => s + p * q * covariance[i][j], 0), 0);
  };
  return Math.sqrt(Math.max(0, variance('x'), variance('y')));
}

/** Where a straight machine would have been told to go. */
export function bend(field: Terms, [x, y]: Point): Point {
  const [ex, ey] = fieldAt(field, [x, y]);
  return [x + ex, y + ey];
}

/** Below what any file says, mm; a field whose slope is a few percent gets there in a few steps. */
const SAME_MM = 1e-10;
const MOST_STEPS = 60;

/** What to command so that the machine goes where a straight one would: the inverse of {@link bend}, exact. */
export function unbend(field: Terms, [x, y]: Point): Point {
  let [px, py] = [x, y];
  for (let step = 0; step < MOST_STEPS; step += 1) {
    const [ex, ey] = fieldAt(field, [px, py]);
    const [nx, ny] = [x - ex, y - ey];
    const moved = Math.abs(nx - px) + Math.abs(ny - py);
    [px, py] = [nx, ny];
    if (moved < SAME_MM) break;
  }
  return [px, py];
}

/** Canvases that differ by less were meant to be the same: whole dots, mm. */
const SAME_CANVAS_MM = 0.5;

export const isSameCanvas = (a: Size, b: Size): boolean =>
  Math.abs(a.widthMm - b.widthMm) <= SAME_CANVAS_MM && Math.abs(a.heightMm - b.heightMm) <= SAME_CANVAS_MM;

/**
 * Sessions as if a machine without bends had been told what cuts the same: each length is as long as the bends made it.
 * What lies on another canvas, such as a witness in a margin, lies nobody knows where on the bed, and stays.
 */
export function straightened(sessions: readonly ReadingSession[], field: PlaceField | undefined): ReadingSession[] {
  if (!field) return [...sessions];
  return sessions.map((session) =>
    session.canvas && isSameCanvas(session.canvas, field.canvasMm)
      ? { ...session, features: session.features.map((feature) => straight(feature, field)) }
      : session,
  );
}

type Feature = ReadingSession['features'][number];

/** Its direction stays: what the bends turn is of second order in its length. */
function straight(feature: Feature, field: Bends): Feature {
  if (!('from' in feature)) return feature;
  const { from, to, nominalMm } = feature;
  const [p, q] = [bend(field, from), bend(field, to)];
  const u = [(to[0] - from[0]) / nominalMm, (to[1] - from[1]) / nominalMm];
  const along = (q[0] - p[0]) * u[0] + (q[1] - p[1]) * u[1];
  return { ...feature, to: [from[0] + along * u[0], from[1] + along * u[1]], nominalMm: along };
}

/** A profile whose sessions are straightened by its own field. */
export const straightProfile = (profile: Profile): Profile => ({
  ...profile,
  sessions: straightened(profile.sessions, profile.field),
});

/** Features laid where a machine without bends would have been told them, as long as the bends make them. */
export function laidStraight<F extends Feature>(features: readonly F[], field: Bends): F[] {
  return features.map((feature) => {
    const own = straight(feature, field);
    if (!('from' in own)) return feature;
    const [x, y] = bend(field, own.from);
    const [dx, dy] = [x - own.from[0], y - own.from[1]];
    return { ...feature, ...own, from: [x, y], to: [own.to[0] + dx, own.to[1] + dy] };
  });
}

/**
 * Variance of Σ gradient · number, by the law of propagation; infinite when an assumed number takes part, since nobody
 * knows how far off that is.
 *
 * @param gradient - by the five numbers in the order of PARAMETER_NAMES
 * Source: JCGM 100:2008 (GUM), 5.2.2 equation (13).
 */
export function fitVariance(fit: ProfileFit, gradient: ArrayLike<number>): number {
  const moving = PARAMETER_NAMES.map((name, k) => ({ name, k })).filter(({ k }) => gradient[k] !== 0);
  if (moving.some(({ name }) => fit[name].assumed)) return Number.POSITIVE_INFINITY;
  let sum = 0;
  for (const { k: j, name } of moving) {
    for (const { k } of moving) {
      // A profile written by hand states uncertainties at most.
      const stated = fit.covariance[j]?.[k] || (j === k ? fit[name].stdUncertainty ** 2 : 0);
      sum += gradient[j] * gradient[k] * stated;
    }
  }
  return Math.max(0, sum);
}
