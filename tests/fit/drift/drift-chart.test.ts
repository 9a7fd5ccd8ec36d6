import { describe, expect, it } from 'vitest';
import { driftChart } from '../../../src/fit/drift/drift-chart.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';

function history(count: number, drift: (i: number) => number, seed = 3) {
  const random = seeded(seed);
  return Array.from({ length: count }, (_, i) => ({
    label: `job ${i + 1}`,
    value: 0.11 + 0.002 * gaussian(random) + drift(i),
  }));
}

describe('a value of the machine over time', () => {
  it('is in control when it only scatters', () => {
    const chart = driftChart(history(30, () => 0));
    expect(chart.outside).toEqual([]);
    expect(chart.sentences[0]).toContain('the usual scatter');
    expect(chart.change?.beyond).toBe(false);
    expect(chart.farOff).toEqual([]);
  });

  it('shows a jump as a single point outside, by its label', () => {
    const chart = driftChart(history(30, (i) => (i === 20 ? 0.02 : 0)));
    expect(chart.individuals!.outside).toContain(21);
    expect(chart.sentences[0]).toContain('job 21');
    expect(chart.farOff).toEqual([21]);
  });

  it('shows a slow drift in the moving average while single values are still inside', () => {
    const chart = driftChart(
      history(40, (i) => (i < 25 ? 0 : 0.00035 * (i - 25))),
      { baselineCount: 25 },
    );
    const first = chart.ewma!.outside[0];
    expect(first).toBeGreaterThan(26);
    expect(chart.individuals!.outside.filter((n) => n <= first)).toEqual([]);
  });

  it('says from when on it has changed, and by how much', () => {
    const chart = driftChart(
      history(30, (i) => (i < 27 ? 0 : 0.02)),
      { format: (mm) => `${mm.toFixed(3)} mm` },
    );
    expect(chart.change?.beyond).toBe(true);
    expect(chart.sentences[0]).toMatch(/^Changed by \+0\.0(19|20|21) mm from job 28 on\./);
  });

  it('never takes its limits from a refused day', () => {
    const points = history(12, (i) => (i >= 8 ? 0.02 : 0)).map((point, i) => ({ ...point, refused: i >= 8 }));
    const chart = driftChart(points);
    expect(chart.individuals!.centre).toBeLessThan(0.115);
    expect(chart.outside).toEqual(expect.arrayContaining([9, 10, 11, 12]));
  });

  it('judges the newest day, and doubtful ones, by those before them: they don’t widen their own limits', () => {
    const steady = history(12, () => 0).map((point) => ({ ...point, stdUncertainty: 0.002 }));
    const before = driftChart(steady.slice(0, -1), { baselineCount: 10 }).individuals!;
    for (const off of [0.01, 0.05, 0.25]) {
      const chart = driftChart(steady.map((point, i) => (i > 9 ? { ...point, value: point.value + off, doubtful: i === 10 } : point))); // biome-ignore format: one thought
      expect(chart.individuals!.upperLimit).toBeCloseTo(before.upperLimit, 12);
      expect(chart.individuals!.outside).toEqual([11, 12]);
      const few = [...steady.slice(0, 2), { ...steady[2], value: steady[2].value + off }];
      expect(driftChart(few).individuals!.outside).toEqual(off > 0.01 ? [3] : []);
    }
  });

  it('calls few days that only scatter outside no more often than limits do', () => {
    const random = seeded(8);
    let outside = 0;
    for (let i = 0; i < 2000; i += 1) {
      const days = [0, 1, 2].map((n) => ({ label: `${n}`, value: gaussian(random), stdUncertainty: 1 }));
      outside += driftChart(days).individuals!.outside.length;
    }
    expect(outside).toBeLessThan(0.0027 * 2000 + 8);
  });

  it('takes limits from the first twenty of a long history, so that a lasting change does not move them', () => {
    const chart = driftChart(history(60, (i) => (i < 40 ? 0 : 0.02)));
    expect(chart.individuals!.outside).toEqual(Array.from({ length: 20 }, (_, i) => 41 + i));
    expect(chart.sentences).toContain('Outside the limits: all 20 from job 41 to job 60.');
  });

  it('has limits no narrower than the values’ own uncertainties explain', () => {
    const points = [1, 1, 1, 1.5].map((value, i) => ({ label: String(i), value, stdUncertainty: 0.5 }));
    const chart = driftChart(points);
    expect(chart.individuals!.sd).toBeCloseTo(0.5, 12);
    expect(chart.outside).toEqual([]);
  });

  it('has no limits from one reading, and says so', () => {
    const chart = driftChart(history(1, () => 0));
    expect(chart.individuals).toBeUndefined();
    expect(chart.sentences[0]).toContain('at least two');
  });
});
