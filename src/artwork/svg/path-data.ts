import type { Point } from '../../geometry/types.js';
import { PathBuilder, quadratic, type Segment, type Subpath } from '../paint/subpath.js';
import { NUMBER } from './numbers.js';

const COUNTS: Readonly<Record<string, number>> = { M: 2, L: 2, H: 1, V: 1, C: 6, S: 4, Q: 4, T: 2, A: 7, Z: 0 };

export interface PathData {
  readonly subpaths: readonly Subpath[];
  /** Where the data could not be read; what came before is drawn, as SVG 2 (section 9.5.4) asks. */
  readonly errorAt?: number;
}

/** Reads the `d` attribute of a path (SVG 2, chapter 9). */
export function parsePathData(d: string): PathData {
  const path = new PathBuilder();
  const pen = new Pen(path);
  const number = new RegExp(`[\\s,]*(${NUMBER})`, 'y');
  const flag = /[\s,]*([01])/y;
  const letter = /[\s,]*([A-Za-z])/y;
  let at = 0;
  let command = '';
  for (;;) {
    letter.lastIndex = at;
    const match = letter.exec(d);
    if (match) {
      command = match[1];
      at = letter.lastIndex;
    } else if (/^[\s,]*$/.test(d.slice(at, at + 4096)) && d.slice(at).trim().replace(/,/g, '') === '') {
      return { subpaths: path.finish() };
    }
    const count = COUNTS[command.toUpperCase()];
    // A path starts with a move; Z takes no numbers.
    if (
      count === undefined ||
      (count === 0 && !match) ||
      (path.isEmpty && !pen.moved && command.toUpperCase() !== 'M')
    ) {
      return { subpaths: path.finish(), errorAt: at };
    }
    const values: number[] = [];
    for (let i = 0; i < count; i += 1) {
      const next = command.toUpperCase() === 'A' && (i === 3 || i === 4) ? flag : number;
      next.lastIndex = at;
      const value = next.exec(d);
      if (!value) return { subpaths: path.finish(), errorAt: at };
      values.push(Number(value[1]));
      at = next.lastIndex;
    }
    pen.draw(command, values);
    // Further pairs after a move are lines.
    if (command === 'M') command = 'L';
    if (command === 'm') command = 'l';
  }
}

class Pen {
  moved = false;
  private control: Point | undefined;
  private controlKind = '';

  constructor(private readonly path: PathBuilder) {}

  draw(command: string, n: readonly number[]): void {
    const { path } = this;
    const upper = command.toUpperCase();
    const [ox, oy] = command === upper ? [0, 0] : path.at;
    const point = (i: number): Point => [ox + n[i], oy + n[i + 1]];
    const from = path.at;
    const mirrored = (kinds: string): Point =>
      this.control && kinds.includes(this.controlKind)
        ? [2 * from[0] - this.control[0], 2 * from[1] - this.control[1]]
        : from;
    let control: Point | undefined;
    if (upper === 'M') {
      path.moveTo(point(0));
      this.moved = true;
    } else if (upper === 'Z') path.close();
    else if (upper === 'L') path.lineTo(point(0));
    else if (upper === 'H') path.lineTo([ox + n[0], from[1]]);
    else if (upper === 'V') path.lineTo([from[0], oy + n[0]]);
    else if (upper === 'C') path.add({ kind: 'cubic', c1: point(0), c2: (control = point(2)), to: point(4) });
    else if (upper === 'S') path.add({ kind: 'cubic', c1: mirrored('CS'), c2: (control = point(0)), to: point(2) });
    else if (upper === 'Q') path.add(quadratic(from, (control = point(0)), point(2)));
    else if (upper === 'T') path.add(quadratic(from, (control = mirrored('QT')), point(0)));
    else for (const segment of endpointArc(from, n, point(5))) path.add(segment);
    this.control = control;
    this.controlKind = upper;
  }
}

/**
 * An arc given by its ends, as quarter turns at most (SVG 2, appendix B.2.4: from endpoint to centre parameters).
 */
function endpointArc(from: Point, n: readonly number[], to: Point): Segment[] {
  let rx = Math.abs(n[0]);
  let ry = Math.abs(n[1]);
  if (from[0] === to[0] && from[1] === to[1]) return [];
  if (rx === 0 || ry === 0) return [{ kind: 'line', to }];
  const angle = (n[2] * Math.PI) / 180;
  const [cos, sin] = n[2] % 90 === 0 ? quarterTurn(n[2]) : [Math.cos(angle), Math.sin(angle)];
  const dx = (from[0] - to[0]) / 2;
  const dy = (from[1] - to[1]) / 2;
  const x = cos * dx + sin * dy;
  const y = -sin * dx + cos * dy;
  const excess = (x / rx) ** 2 + (y / ry) ** 2;
  if (excess > 1) {
    rx *= Math.sqrt(excess);
    ry *= Math.sqrt(excess);
  }
  const inside = Math.max(0, 1 / Math.max(excess, Number.MIN_VALUE) - 1);
  const factor = (n[3] !== n[4] ? 1 : -1) * Math.sqrt(excess > 1 ? 0 : inside);
  const cx = (factor * rx * y) / ry;
  const cy = (-factor * ry * x) / rx;
  const centre: Point = [cos * cx - sin * cy + (from[0] + to[0]) / 2, sin * cx + cos * cy + (from[1] + to[1]) / 2];
  const start = Math.atan2((y - cy) / ry, (x - cx) / rx);
  let sweep = Math.atan2((-y - cy) / ry, (-x - cx) / rx) - start;
  if (n[4] === 1 && sweep < 0) sweep += 2 * Math.PI;
  if (n[4] === 0 && sweep > 0) sweep -= 2 * Math.PI;
  const u: Point = [rx * cos, rx * sin];
  const v: Point = [-ry * sin, ry * cos];
  return quarters(start, sweep).map(([a, b], i, all): Segment => {
    const end: Point =
      i === all.length - 1
        ? to
        : [centre[0] + u[0] * Math.cos(b) + v[0] * Math.sin(b), centre[1] + u[1] * Math.cos(b) + v[1] * Math.sin(b)];
    return { kind: 'arc', centre, u, v, start: a, sweep: b - a, to: end };
  });
}

function quarterTurn(degrees: number): [number, number] {
  const turn = ((degrees % 360) + 360) % 360;
  return turn === 0 ? [1, 0] : turn === 90 ? [0, 1] : turn === 180 ? [-1, 0] : [0, -1];
}

/** Splits a turn where it passes the ends of the half axes, so that these are corners of the polygon. */
function quarters(start: number, sweep: number): [number, number][] {
  const quarter = Math.PI / 2;
  const end = start + sweep;
  const sign = Math.sign(sweep);
  const parts: [number, number][] = [];
  let at = start;
  for (let i = 0; i < 6 && Math.abs(end - at) > 1e-9; i += 1) {
    const k = sign > 0 ? Math.floor(at / quarter + 1e-9) + 1 : Math.ceil(at / quarter - 1e-9) - 1;
    const next = k * quarter;
    const b = sign > 0 ? Math.min(next, end) : Math.max(next, end);
    parts.push([at, Math.abs(end - b) < 1e-9 ? end : b]);
    at = b;
  }
  return parts.length > 0 ? parts : [[start, end]];
}
