/**
 * A piece of film burnt by a virtual laser, to be read along lines.
 *
 * Written without the project's own geometry, as an outside check of it: every run of dark pixels is a rectangle in
 * commanded space, goes through the machine's map as a parallelogram, and grows by the kerf ellipse. What is burnt
 * along a line is worked out from that in closed form (a line through a rounded parallelogram).
 */
export interface HiddenMachine {
  readonly scaleX: number;
  readonly scaleY: number;
  readonly shear: number;
  readonly kerfXMm: number;
  readonly kerfYMm: number;
}

/** Dark pixels; row 0 is the top row, as in the image. */
export interface DarkPixels {
  readonly width: number;
  readonly height: number;
  /** One byte a pixel: 1 is burnt. */
  readonly dark: Uint8Array;
}

type Vec = readonly [number, number];
type Interval = [number, number];

interface Run {
  readonly x0: number;
  readonly x1: number;
}

export class Film {
  private readonly runs: Run[][];

  constructor(
    private readonly machine: HiddenMachine,
    private readonly image: DarkPixels,
    private readonly pitch: { readonly x: number; readonly y: number },
  ) {
    this.runs = Array.from({ length: image.height }, (_, row) => runsOfRow(image, row, pitch.x));
  }

  /** Where a commanded point lands on the film. */
  land([x, y]: Vec): Vec {
    const { scaleX, scaleY, shear } = this.machine;
    return [scaleX * x + shear * y, scaleY * y];
  }

  /** Burnt intervals of the film line from + t (to - from)/|to - from|, t in mm, for t in [tMin, tMax], merged. */
  burntAlong(from: Vec, to: Vec, tMin: number, tMax: number): Interval[] {
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    const u: Vec = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
    const { kerfXMm, kerfYMm, scaleX, scaleY, shear } = this.machine;
    const rx = Math.max(kerfXMm / 2, 1e-9);
    const ry = Math.max(kerfYMm / 2, 1e-9);
    const at = (t: number): Vec => [from[0] + t * u[0], from[1] + t * u[1]];
    const ends = [at(tMin), at(tMax)];
    const yLow = Math.min(ends[0][1], ends[1][1]) - ry;
    const yHigh = Math.max(ends[0][1], ends[1][1]) + ry;
    const found: Interval[] = [];
    const { height } = this.image;
    const firstRow = Math.max(0, Math.floor(height - yHigh / (scaleY * this.pitch.y)) - 1);
    const lastRow = Math.min(height - 1, Math.ceil(height - yLow / (scaleY * this.pitch.y)) + 1);
    for (let row = firstRow; row <= lastRow; row += 1) {
      const yTop = (height - row) * this.pitch.y;
      const yBottom = yTop - this.pitch.y;
      for (const run of this.runs[row]) {
        // In units of the kerf's half widths the ellipse is the unit circle.
        const corner = (x: number, y: number): Vec => [(scaleX * x + shear * y) / rx, (scaleY * y) / ry];
        const polygon = [corner(run.x0, yBottom), corner(run.x1, yBottom), corner(run.x1, yTop), corner(run.x0, yTop)];
        const hit = lineThroughRounded(polygon, [from[0] / rx, from[1] / ry], [u[0] / rx, u[1] / ry]);
        if (hit && hit[1] >= tMin && hit[0] <= tMax) found.push(hit);
      }
    }
    return mergeIntervals(found);
  }
}

function runsOfRow(image: DarkPixels, row: number, pitchX: number): Run[] {
  const runs: Run[] = [];
  const base = row * image.width;
  for (let x = 0; x < image.width; x += 1) {
    if (!image.dark[base + x]) continue;
    const start = x;
    while (x < image.width && image.dark[base + x]) x += 1;
    runs.push({ x0: start * pitchX, x1: x * pitchX });
  }
  return runs;
}

function mergeIntervals(intervals: Interval[]): Interval[] {
  intervals.sort((p, q) => p[0] - q[0]);
  const merged: Interval[] = [];
  for (const [start, end] of intervals) {
    const last = merged[merged.length - 1];
    if (last && start <= last[1] + 1e-9) last[1] = Math.max(last[1], end);
    else merged.push([start, end]);
  }
  return merged;
}

/** Where the line p + t d meets a convex polygon (counter-clockwise) grown by the unit circle. */
function lineThroughRounded(polygon: readonly Vec[], p: Vec, d: Vec): Interval | undefined {
  let hit: Interval | undefined;
  const take = (interval: Interval | undefined): void => {
    if (!interval) return;
    hit = hit ? [Math.min(hit[0], interval[0]), Math.max(hit[1], interval[1])] : interval;
  };
  take(lineThroughConvex(polygon, p, d));
  for (let i = 0; i < polygon.length; i += 1) {
    const a = polygon[i];
    const b = polygon[(i + 1) % polygon.length];
    take(lineThroughCircle(a, p, d));
    const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
    if (length === 0) continue;
    const n: Vec = [(b[1] - a[1]) / length, -(b[0] - a[0]) / length];
    take(lineThroughConvex([a, [a[0] + n[0], a[1] + n[1]], [b[0] + n[0], b[1] + n[1]], b], p, d));
  }
  return hit;
}

function lineThroughCircle(c: Vec, p: Vec, d: Vec): Interval | undefined {
  const ex = p[0] - c[0];
  const ey = p[1] - c[1];
  const a = d[0] * d[0] + d[1] * d[1];
  const b = ex * d[0] + ey * d[1];
  const root = b * b - a * (ex * ex + ey * ey - 1);
  if (root < 0) return undefined;
  return [(-b - Math.sqrt(root)) / a, (-b + Math.sqrt(root)) / a];
}

function lineThroughConvex(polygon: readonly Vec[], p: Vec, d: Vec): Interval | undefined {
  let low = -Infinity;
  let high = Infinity;
  for (let i = 0; i < polygon.length; i += 1) {
    const a = polygon[i];
    const b = polygon[(i + 1) % polygon.length];
    const ex = b[0] - a[0];
    const ey = b[1] - a[1];
    // Inside is to the left of each edge: cross(e, x - a) >= 0.
    const start = ex * (p[1] - a[1]) - ey * (p[0] - a[0]);
    const rate = ex * d[1] - ey * d[0];
    if (rate === 0) {
      if (start < 0) return undefined;
    } else if (rate > 0) low = Math.max(low, -start / rate);
    else high = Math.min(high, -start / rate);
  }
  return low <= high ? [low, high] : undefined;
}
