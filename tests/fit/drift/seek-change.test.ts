import { describe, expect, it } from 'vitest';
import { seekChange } from '../../../src/fit/drift/drift-chart.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';

const ALPHA = 0.0005;

function course(count: number, seed: number, growth: (i: number) => number = () => 0, between = 0) {
  const random = seeded(seed);
  return Array.from({ length: count }, (_, i) => ({
    value: growth(i) + Math.hypot(1, between) * gaussian(random),
    variance: 1,
  }));
}

const found = (of: ReturnType<typeof course>): boolean => seekChange(of, { alpha: ALPHA }).some(({ beyond }) => beyond);

describe('looking for a change in a course of days', () => {
  it('gives fewer false alarms than it is allowed', () => {
    let alarms = 0;
    for (let seed = 0; seed < 1000; seed += 1) if (found(course(5 + (seed % 50), seed))) alarms += 1;
    // 0.0005 of 1000 is one half.
    expect(alarms).toBeLessThanOrEqual(2);
  });

  it('keeps that chance when days differ by more than their readings, once it has seen enough of them', () => {
    let alarms = 0;
    for (let seed = 0; seed < 500; seed += 1) if (found(course(20 + (seed % 30), seed, () => 0, 2))) alarms += 1;
    expect(alarms).toBeLessThanOrEqual(3);
  });

  it('sees five standard deviations with the second day at the latest, in nearly all courses', () => {
    let seen = 0;
    for (let seed = 0; seed < 200; seed += 1) {
      const days = course(20, seed, (i) => (i >= 18 ? 5 : 0));
      if (found(days.slice(0, 19)) || found(days)) seen += 1;
    }
    expect(seen).toBeGreaterThanOrEqual(188);
  });

  it('shares the chance of a false alarm among the tests that there are, so that the first day has all of it', () => {
    const anchor = { value: 0, variance: 1 };
    const alike = (count: number) => Array.from({ length: count }, () => ({ value: 3, variance: 1 }));
    const [only] = seekChange(alike(1), { alpha: ALPHA, anchor });
    expect(only.chance).toBe(only.pValue);
    for (const count of [2, 4, 30]) {
      const shares = seekChange(alike(count), { alpha: ALPHA, anchor }).map(({ pValue, chance }) =>
        chance < 1 ? pValue / chance : 0,
      );
      expect(shares.reduce((sum, share) => sum + share, 0)).toBeLessThan(1 + 1e-9);
    }
  });

  it('gives a step the size of the difference of the means, a trend that of the fitted line', () => {
    const flat = Array.from({ length: 12 }, (_, i) => ({ value: i < 10 ? 0 : 3, variance: 0.01 }));
    const step = seekChange(flat, { alpha: ALPHA }).find(({ kind, days }) => kind === 'step' && days === 2)!;
    expect(step.size).toBeCloseTo(3, 12);
    const rising = Array.from({ length: 12 }, (_, i) => ({ value: 0.5 * i, variance: 0.01 }));
    const trend = seekChange(rising, { alpha: ALPHA }).find(({ kind }) => kind === 'trend')!;
    expect(trend.size).toBeCloseTo(5.5, 12);
    expect(trend.beyond).toBe(true);
  });

  it('holds the first days against what is known from elsewhere, and forgets that when there are days enough', () => {
    const off = (count: number) => Array.from({ length: count }, () => ({ value: 8, variance: 1 }));
    expect(seekChange(off(1), { alpha: ALPHA, anchor: { value: 0, variance: 0.2 } })[0].beyond).toBe(true);
    expect(seekChange(off(12), { alpha: ALPHA, anchor: { value: 0, variance: 0.2 } })[0].beyond).toBe(false);
  });
});
