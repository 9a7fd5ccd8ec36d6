import { beforeAll, describe, expect, it } from 'vitest';
import type { VernierFeature } from '../../src/coupon/features.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import type { Coupon } from '../../src/coupon/types.js';

const PITCHES: [number, number][] = [
  [0.0254, 0.0254],
  [0.05, 0.0254],
  [0.1, 0.1],
];

interface Bar {
  /** Extent along the vernier's axis and across it, mm. */
  readonly s0: number;
  readonly s1: number;
  readonly t0: number;
  readonly t1: number;
}

function barsIn(coupon: Coupon, { box, axis }: VernierFeature): Bar[] {
  return coupon.openings
    .map(({ outer }) => {
      const [xs, ys] = [outer.map(([x]) => x), outer.map(([, y]) => y)];
      const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
      return {
        box: [x0, y0, x1, y1],
        bar: axis === 'x' ? { s0: x0, s1: x1, t0: y0, t1: y1 } : { s0: y0, s1: y1, t0: x0, t1: x1 },
      };
    })
    .filter(({ box: [x0, y0, x1, y1] }) => x0 >= box[0] && y0 >= box[1] && x1 <= box[2] && y1 <= box[3])
    .map(({ bar }) => bar);
}

/** Bars of one comb merged by their place along the axis, in order; the first comb is the upper or the left one. */
function combs(bars: readonly Bar[], { axis, box }: VernierFeature): [number[][], number[][]] {
  const middle = axis === 'x' ? (box[1] + box[3]) / 2 : (box[0] + box[2]) / 2;
  const side = (upper: boolean): number[][] => {
    const own = bars.filter((bar) => (bar.t0 + bar.t1) / 2 > middle === upper);
    const places = new Map(own.map((bar) => [bar.s0.toFixed(6), [bar.s0, bar.s1]]));
    return [...places.values()].sort((p, q) => p[0] - q[0]);
  };
  return axis === 'x' ? [side(true), side(false)] : [side(false), side(true)];
}

/** The line at which two edges are most nearly in line; lines count from 1. */
function bestLine(gaps: readonly number[]): number {
  return 1 + gaps.reduce((best, gap, i) => (Math.abs(gap) < Math.abs(gaps[best]) ? i : best), 0);
}

describe.each(PITCHES)('the vernier at %f x %f mm', (pitchXMm, pitchYMm) => {
  let coupon: Coupon;
  const features = (measures: string): VernierFeature[] =>
    coupon.features.features.filter((f): f is VernierFeature => f.kind === 'vernier' && f.measures === measures);
  beforeAll(async () => {
    coupon = await generateCoupon('vernier', { widthMm: 100, heightMm: 60, pitchXMm, pitchYMm });
  });

  it('has kerf and row shift along X and Y, at least eleven lines each', () => {
    for (const measures of ['kerf', 'row-shift']) {
      expect(features(measures).map(({ axis }) => axis)).toEqual(['x', 'y']);
      for (const { lines, stepMm, axis } of features(measures)) {
        expect(lines).toBeGreaterThanOrEqual(11);
        const dots = stepMm / (axis === 'x' ? pitchXMm : pitchYMm);
        expect(Math.abs(dots - Math.round(dots))).toBeLessThan(1e-6);
      }
    }
  });

  it('two combs differ by one part in a whole number of their pitch', () => {
    for (const feature of features('kerf')) {
      const [upper, lower] = combs(barsIn(coupon, feature), feature);
      expect([upper.length, lower.length]).toEqual([feature.lines, feature.lines]);
      const [p, q] = [upper[1][0] - upper[0][0], lower[1][0] - lower[0][0]];
      expect(q - p).toBeCloseTo(feature.stepMm, 6);
      expect(p / feature.stepMm).toBeCloseTo(Math.round(p / feature.stepMm), 4);
    }
  });

  it('(k - zeroLine) * stepMm at the line that coincides is the kerf, to half a step', () => {
    for (const feature of features('kerf')) {
      const [upper, lower] = combs(barsIn(coupon, feature), feature);
      for (const kerf of [0, 0.05, 0.08, 0.123, 0.2, 0.29]) {
        // Burning moves the far edge of the upper slot and the near edge of the lower slot by half a kerf each.
        const gaps = upper.map(([, s1], i) => lower[i][0] - kerf / 2 - (s1 + kerf / 2));
        const read = (bestLine(gaps) - feature.zeroLine) * feature.stepMm;
        expect(Math.abs(read - kerf)).toBeLessThanOrEqual(feature.stepMm / 2 + 1e-9);
      }
    }
  });

  it('(k - zeroLine) * stepMm is the row shift, and the kerf drops out', () => {
    for (const feature of features('row-shift')) {
      const bars = barsIn(coupon, feature);
      const thin = bars.filter(({ t0, t1 }) => t1 - t0 < 0.3);
      const pitch = feature.axis === 'x' ? pitchYMm : pitchXMm;
      const [upper, lower] = combs(thin, feature);
      expect([upper.length, lower.length]).toEqual([feature.lines, feature.lines]);
      // The two combs use rows of opposite parity only, and the bars at both ends every row of both.
      const parity = (bar: Bar): number => Math.round(bar.t0 / pitch) % 2;
      const middle = (Math.min(...bars.map((b) => b.t0)) + Math.max(...bars.map((b) => b.t1))) / 2;
      const [above, below] = [thin.filter((b) => b.t0 > middle), thin.filter((b) => b.t0 < middle)];
      expect([new Set(above.map(parity)).size, new Set(below.map(parity)).size]).toEqual([1, 1]);
      expect(parity(above[0])).not.toBe(parity(below[0]));
      const ends = bars.filter((b) => b.t1 - b.t0 > 1);
      expect(ends).toHaveLength(2);
      for (const end of ends) expect(thin.every((b) => b.t0 >= end.t0 - 1e-9 && b.t1 <= end.t1 + 1e-9)).toBe(true);
      for (const shift of [-0.2, -0.07, 0, 0.03, 0.11, 0.22]) {
        for (const kerf of [0, 0.2]) {
          const gaps = upper.map(([s0], i) => lower[i][0] - kerf / 2 - (s0 + shift - kerf / 2));
          const read = (bestLine(gaps) - feature.zeroLine) * feature.stepMm;
          expect(Math.abs(read - shift)).toBeLessThanOrEqual(feature.stepMm / 2 + 1e-9);
        }
      }
    }
  });
});
