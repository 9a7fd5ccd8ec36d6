import { pushArc } from './arc.js';
import { fillChords } from './curve.js';
import type { WallLine } from './line.js';

/** Collects a ring's points and remembers which chords follow a curve. */
export class OutlineBuilder {
  readonly flat: number[] = [];
  private readonly curved: boolean[] = [];

  /** Says of all points pushed since the last call whether the chords after them are curved. */
  mark(curved: boolean): void {
    while (this.curved.length < this.flat.length / 2) this.curved.push(curved);
  }

  finish(): number[] {
    this.mark(false);
    return fillChords(this.flat, this.curved);
  }
}

/** Appends a rounded corner of radius `radius` that touches two lines which cross at (x, y). */
export function pushFillet(out: number[], p: WallLine, q: WallLine, x: number, y: number, radius: number): void {
  const turn = signedTurn(p, q);
  if (radius < 0.02) {
    out.push(x, y);
    return;
  }
  // The centre lies at the radius from both lines, on the side to which the corner turns.
  const side = turn > 0 ? 1 : -1;
  const det = p.nx * q.ny - p.ny * q.nx;
  const cp = p.c + side * radius;
  const cq = q.c + side * radius;
  const cx = (cp * q.ny - cq * p.ny) / det;
  const cy = (p.nx * cq - q.nx * cp) / det;
  const from = Math.atan2(-side * p.ny, -side * p.nx);
  pushArc(out, cx, cy, radius, from, turn);
}

/** Signed turn from one outward normal to the next, radians, y down: negative turns left, round a convex corner. */
export function signedTurn(p: WallLine, q: WallLine): number {
  return Math.atan2(p.nx * q.ny - p.ny * q.nx, p.nx * q.nx + p.ny * q.ny);
}
