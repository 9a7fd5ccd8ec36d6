import { describe, expect, it } from 'vitest';
import { wallLines } from '../../src/scan/measure/edge.js';
import { crossingNear } from '../../src/scan/measure/strip.js';
import { toneOf } from '../../src/scan/measure/tone.js';

/** Standard normal distribution by the series 26.2.10 of Abramowitz and Stegun. */
function normal(x: number): number {
  let [term, sum] = [x, x];
  for (let n = 1; n < 60; n += 1) {
    term *= -(x * x) / (2 * n);
    sum += term / (2 * n + 1);
  }
  return 0.5 + sum / Math.sqrt(2 * Math.PI);
}

/** An edge of 30 um blur as a scan of 600 dpi samples it, half a dot apart, from film to opening or back. */
const STEP = 25.4 / 1200;
const SIGMA = 0.03;
const edge = (phase: number, step = STEP): Float64Array =>
  Float64Array.from({ length: 25 }, (_, i) => normal(Math.min(4, Math.max(-4, ((i - 12 - phase) * step) / SIGMA))));

describe('places along a profile', () => {
  // Quantiles of the standard normal distribution, Abramowitz and Stegun, table 26.5.
  it.each([
    [0.12, -1.17499],
    [0.5, 0],
    [0.88, 1.17499],
  ])('pass %f where the edge does, however it lies between the samples', (level, quantile) => {
    for (let phase = 0; phase < 1; phase += 0.1) {
      const strip = { rows: 1, columns: 25, stepMm: STEP, firstMm: 0, firstRowMm: 0, rowStepMm: STEP, phases: 0 };
      const levels = edge(phase);
      const all = { ...strip, levels: Float32Array.from(levels) };
      const place = crossingNear(levels, 0, all, level, 12 * STEP, 0.2, true) ?? Number.NaN;
      // A straight line is off by up to 1.9 um.
      expect(Math.abs(place - (12 + phase) * STEP - quantile * SIGMA)).toBeLessThan(0.0006);
    }
  });
});

describe('wallLines', () => {
  it('takes the middle of each wall where it is, however it lies between the samples', () => {
    for (let phase = 0; phase < 1; phase += 0.1) {
      const walls = [-0.3, 0.2 + phase * STEP];
      const columns = 61;
      const row = Array.from({ length: columns }, (_, i) => {
        const at = (i - 30) * STEP;
        const dark = walls.map((wall) => normal(Math.max(-4, Math.min(4, (at - wall + 0.015) / SIGMA))) - normal(Math.max(-4, Math.min(4, (at - wall - 0.015) / SIGMA)))); // biome-ignore format: a wall of 30 um
        return 205 - 130 * (dark[0] + dark[1]);
      });
      const levels = Float32Array.from({ length: 9 * columns }, (_, at) => row[at % columns]);
      const strip = { rows: 9, columns, stepMm: STEP, firstMm: -30 * STEP, firstRowMm: 0, rowStepMm: STEP, phases: 0, levels }; // biome-ignore format: a strip
      const found = wallLines(strip, 0.25, 0.4, undefined);
      if (!found || found === 'missing') throw new Error('no lines');
      expect(Math.abs(found.low.mm - walls[0])).toBeLessThan(0.0003);
      expect(Math.abs(found.high.mm - walls[1])).toBeLessThan(0.0003);
    }
  });
});

describe('a hair beside a wall in clear film', () => {
  const lineAt = (at: number, wall: number, half: number): number =>
    normal(Math.max(-4, Math.min(4, (at - wall + half) / SIGMA))) -
    normal(Math.max(-4, Math.min(4, (at - wall - half) / SIGMA)));

  it.each([0.03, 0.05, 0.07])(
    '%f mm off is told of, and its doubt is no less than what it draws the line by',
    (off) => {
      const columns = 61;
      const row = Array.from({ length: columns }, (_, i) => {
        const at = (i - 30) * STEP;
        return 205 - 130 * (lineAt(at, -0.3, 0.015) + lineAt(at, 0.2, 0.015)) - 90 * lineAt(at, 0.2 + off, 0.015);
      });
      const levels = Float32Array.from({ length: 9 * columns }, (_, at) => row[at % columns]);
      const strip = { rows: 9, columns, stepMm: STEP, firstMm: -30 * STEP, firstRowMm: 0, rowStepMm: STEP, phases: 0, levels }; // biome-ignore format: a strip
      const found = wallLines(strip, 0.25, 0.4, undefined);
      if (!found || found === 'missing') throw new Error('no lines');
      expect(Math.abs(found.low.mm + 0.3)).toBeLessThan(0.0003);
      expect(found.low.share).toBe(1);
      expect(found.high.share).toBe(0);
      expect(2 * found.high.uMm).toBeGreaterThan(Math.abs(found.high.mm - 0.2));
    },
  );
});

describe('toneOf', () => {
  const seen = (phase: number, stepMm: number, tone: (light: number) => number) => {
    const levels = Array.from(edge(phase, stepMm), (share) => tone(40 + 175 * share));
    return { levels, stepMm, phases: 1, inside: tone(40), ground: tone(215) };
  };
  /** As edges of one coupon do: all in one phase. */
  const told = (phase: number, stepMm: number, tone: (light: number) => number) => {
    const edges = Array.from({ length: 12 }, () => seen(phase, stepMm, tone));
    const again = (power: number) =>
      edges.map(({ levels, inside, ground, ...rest }) => {
        const light = (level: number): number => 255 * (level / 255) ** power;
        return { ...rest, levels: levels.map(light), inside: light(inside), ground: light(ground) };
      });
    return toneOf(edges, SIGMA, 2 * stepMm, again);
  };

  it('finds no gamma in light, wherever edges lie between the dots, nor doubts it much at 1200 dpi', () => {
    for (let phase = 0; phase < 1; phase += 0.1) {
      expect(told(phase, STEP, (light) => light).tone).toBeUndefined();
      expect(told(phase, STEP / 2, (light) => light).uMm).toBeLessThan(0.001);
    }
  });

  it.each([0.6, 1.8, 2.2])('finds gamma %f at 1200 dpi', (gamma) => {
    for (const phase of [0, 0.3, 0.6]) {
      const { tone } = told(phase, STEP / 2, (light) => 255 * (light / 255) ** (1 / gamma));
      expect(tone?.gamma).toBeGreaterThan(0.8 * gamma);
      expect(tone?.gamma).toBeLessThan(1.2 * gamma);
    }
  });
});
