import { fitLine, offLine, type WallLine } from './line.js';
import type { Samples } from './samples.js';

/** Samples in a row that lie on one straight line. */
export interface Run {
  start: number;
  length: number;
  line: WallLine;
}

/** Samples of a row and of a column may lie nearer than this, and then say nothing about the direction; pixels. */
const MIN_APART = 0.6;

/**
 * Cuts a ring's samples into straight runs: as long as the samples stay within a strip, longest runs served first.
 * Every sample belongs to exactly one run; runs come in the ring's order.
 *
 * @param tolerance - half the width of the strip, pixels
 * @param seedTolerance - how near to a line three neighbouring samples must lie to be part of one; samples that have
 * seen a corner stay alone then, and end samples are left out of a line where enough remain. Not given: in 1-bit
 * images, where three samples say nothing
 */
export function straightRuns(samples: Samples, tolerance: number, seedTolerance?: number): Run[] {
  const cleanEnds = seedTolerance !== undefined;
  let runs = cleanEnds ? seeded(samples, tolerance, seedTolerance) : greedy(samples, 0, tolerance);
  if (cleanEnds) grow(samples, runs, tolerance);
  else if (runs.length > 1) {
    // Start again where the longest run ended, which is most likely a real corner.
    const longest = runs.reduce((best, run) => (run.length > best.length ? run : best));
    runs = greedy(samples, (longest.start + longest.length) % samples.count, tolerance);
    grow(samples, runs, tolerance);
  }
  runs = runs.filter((run) => run.length > 0);
  for (const run of runs) run.line = runLine(samples, run, cleanEnds);
  return runs;
}

function runLine(samples: Samples, run: Run, cleanEnds: boolean): WallLine {
  return cleanEnds && run.length >= 5
    ? fitLine(samples, run.start + 1, run.length - 2)
    : fitLine(samples, run.start, run.length);
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

/** Greedy within stretches whose neighbouring triples are all straight; other samples become runs of one. */
function seeded(samples: Samples, tolerance: number, seedTolerance: number): Run[] {
  const { count } = samples;
  const straight = new Uint8Array(count);
  let bent = -1;
  for (let i = 0; i < count; i += 1) {
    straight[i] = isSeed(samples, i, seedTolerance) ? 1 : 0;
    if (straight[i] === 0) bent = i;
  }
  if (bent < 0) return greedy(samples, 0, tolerance);
  const runs: Run[] = [];
  const push = (start: number, length: number): void => {
    runs.push({ start, length, line: fitLine(samples, start, length) });
  };
  // From a bent place on, so that no stretch runs over the end.
  for (let k = 0; k < count; ) {
    let ahead = 0;
    while (k + ahead + 1 < count && straight[(bent + k + ahead + 1) % count] === 1) ahead += 1;
    if (ahead === 0) {
      push((bent + k) % count, 1);
      k += 1;
      continue;
    }
    // Triples around k + 1 … k + ahead: samples k … k + ahead + 1.
    const end = Math.min(count, k + ahead + 2);
    while (k < end) {
      const length = longestFrom(samples, (bent + k) % count, end - k, tolerance);
      push((bent + k) % count, length);
      k += length;
    }
  }
  return runs;
}

/** Whether a sample and its neighbours lie on one line. */
function isSeed(samples: Samples, i: number, tolerance: number): boolean {
  const { xs, ys, count, inRow } = samples;
  const back = farEnough(samples, i, -1);
  const ahead = farEnough(samples, i, 1);
  const start = i >= back ? i - back : i - back + count;
  if (back === 1 && ahead === 1) {
    // Of three samples, the middle one stands off their line by two thirds of its distance from the chord.
    const b = i + 1 === count ? 0 : i + 1;
    const [ux, uy] = [xs[b] - xs[start], ys[b] - ys[start]];
    const cross = (xs[i] - xs[start]) * uy - (ys[i] - ys[start]) * ux;
    const along = inRow[i] === 1 ? Math.abs(uy) : Math.abs(ux);
    if (Math.abs(cross) > 3 * tolerance * along) return false;
  }
  const length = back + ahead + 1;
  const line = fitLine(samples, start, length);
  for (let k = 0; k < length; k += 1)
    if (Math.abs(offLine(samples, line, (start + k) % count)) > tolerance) return false;
  return true;
}

/** How many samples on is the first that doesn't nearly coincide with sample i: 1 or 2. */
function farEnough({ xs, ys, count }: Samples, i: number, step: 1 | -1): number {
  const next = i + step;
  const j = next < 0 ? count - 1 : next === count ? 0 : next;
  return (xs[j] - xs[i]) ** 2 + (ys[j] - ys[i]) ** 2 < MIN_APART * MIN_APART ? 2 : 1;
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
