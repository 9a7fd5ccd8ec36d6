import { fitLine, offLine, type WallLine } from './lines-and-circles.js';
import type { Samples } from './samples.js';

/** Samples in a row that lie on one straight line. */
export interface Run {
  start: number;
  length: number;
  line: WallLine;
}

/**
 * Cuts a ring's samples into straight runs: as long as the samples stay within a strip, longest runs served first.
 * Every sample belongs to exactly one run; runs come in the ring's order.
 *
 * @param tolerance - half the width of the strip, pixels
 */
export function straightRuns(samples: Samples, tolerance: number): Run[] {
  let runs = greedy(samples, 0, tolerance);
  if (runs.length > 1) {
    // Start again where the longest run ended, which is most likely a real corner.
    const longest = runs.reduce((best, run) => (run.length > best.length ? run : best));
    runs = greedy(samples, (longest.start + longest.length) % samples.count, tolerance);
    grow(samples, runs, tolerance);
  }
  runs = runs.filter((run) => run.length > 0);
  for (const run of runs) {
    // The samples at its ends may have seen a corner.
    const less = run.length >= 5 ? 1 : 0;
    run.line = fitLine(samples, run.start + less, run.length - 2 * less);
  }
  return runs;
}

function greedy(samples: Samples, first: number, tolerance: number): Run[] {
  const { count } = samples;
  const runs: Run[] = [];
  let done = 0;
  while (done < count) {
    const start = (first + done) % count;
    const length = longestFrom(samples, start, count - done, tolerance);
    runs.push({ start, length, line: fitLine(samples, start, length) });
    done += length;
  }
  return runs;
}

/** Doubles the length while the samples stay straight, then halves the step. */
function longestFrom(samples: Samples, start: number, most: number, tolerance: number): number {
  if (most <= 2) return most;
  let good = 2;
  let bad = most + 1;
  let step = 2;
  while (good + 1 < bad) {
    const length = Math.min(good + step, bad - 1);
    if (isStraight(samples, start, length, tolerance)) {
      good = length;
      step *= 2;
    } else {
      bad = length;
      step = Math.max(1, (bad - good) >> 1);
    }
  }
  return good;
}

function isStraight(samples: Samples, start: number, length: number, tolerance: number): boolean {
  const line = fitLine(samples, start, length);
  let low = Infinity;
  let high = -Infinity;
  for (let k = 0; k < length; k += 1) {
    const off = offLine(samples, line, (start + k) % samples.count);
    if (off < low) low = off;
    if (off > high) high = off;
    if (high - low > 2 * tolerance) return false;
  }
  return true;
}

/** Lets long runs take fitting samples from shorter neighbours, so that cuts fall at corners. */
function grow(samples: Samples, runs: Run[], tolerance: number): void {
  const order = runs.map((_, i) => i).sort((p, q) => runs[q].length - runs[p].length || p - q);
  const { count } = samples;
  for (const i of order) {
    const run = runs[i];
    if (run.length < 3) break;
    for (const side of [1, -1]) {
      const neighbour = runs[(i + side + runs.length) % runs.length];
      if (neighbour === run || neighbour.length >= run.length) continue;
      while (neighbour.length > 0) {
        const next = side === 1 ? (run.start + run.length) % count : (run.start - 1 + count) % count;
        if (Math.abs(offLine(samples, run.line, next)) > tolerance) break;
        run.length += 1;
        neighbour.length -= 1;
        if (side === 1) neighbour.start = (neighbour.start + 1) % count;
        else run.start = next;
      }
    }
    run.line = fitLine(samples, run.start, run.length);
  }
}

/** Runs that are straight beyond doubt: long enough, and their middle stands out from their ends by less than so much. */
export function straightSides(samples: Samples, runs: readonly Run[], least: number, mostBulgePx: number): Run[] {
  return runs
    .filter((run) => run.length >= least && bulgeOf(samples, run) < mostBulgePx)
    .map((run) => outward(samples, run));
}

/** How far the middle of a run stands out from its ends, by the best parabola, pixels. */
function bulgeOf(samples: Samples, { start, length, line }: Run): number {
  if (length < 4) return 0;
  let [sum, curve] = [0, 0];
  for (let k = 0; k < length; k += 1) {
    const t = (2 * k) / (length - 1) - 1;
    const shape = t * t - (length + 1) / (3 * (length - 1));
    const i = (start + k) % samples.count;
    sum += shape * shape;
    curve += shape * (line.nx * samples.xs[i] + line.ny * samples.ys[i] - line.c);
  }
  return sum > 0 ? Math.abs(curve / sum) : 0;
}

/** Turns a run's normal away from the opening: to the right of the walk, y down. */
function outward(samples: Samples, run: Run): Run {
  const { xs, ys, count } = samples;
  const last = (run.start + run.length - 1) % count;
  const tx = xs[last] - xs[run.start];
  const ty = ys[last] - ys[run.start];
  const { nx, ny, c } = run.line;
  if (!(nx * -ty + ny * tx >= 0)) run.line = { nx: -nx, ny: -ny, c: -c };
  return run;
}
