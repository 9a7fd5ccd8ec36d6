import { describe, expect, it } from 'vitest';
import { scatterChart } from '../../../src/fit/drift/charts.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';

const day = (i: number): string => `day ${i + 1}`;

describe('scatter of the readings within a date', () => {
  it('has the s chart’s limits where all days have as many readings', () => {
    // B3, B4 and c4 as NIST/SEMATECH e-Handbook 6.3.2.1 prints them (from memory) for groups of 8: 7 degrees of freedom.
    const chart = scatterChart([4, 6, 5, 5].map((sd, i) => ({ label: day(i), sdMm: sd / 1000, dof: 7 })))!.chart;
    const [c4, B3, B4] = [0.965, 0.185, 1.815];
    const usual = Math.sqrt((16 + 36 + 25 + 25) / 4) / 1000;
    expect(chart.centre).toBeCloseTo(usual, 12);
    expect(chart.upperLimits[0]).toBeCloseTo(B4 * c4 * usual, 5);
    expect(chart.lowerLimits[0]).toBeCloseTo(B3 * c4 * usual, 5);
  });

  it('stays in control for normal readings, whatever their number', () => {
    const random = seeded(2);
    const points = Array.from({ length: 400 }, (_, i) => {
      const dof = 3 + (i % 20);
      const sum = Array.from({ length: dof }, () => gaussian(random) ** 2).reduce((a, b) => a + b);
      return { label: day(i), sdMm: 0.005 * Math.sqrt(sum / dof), dof };
    });
    const { chart, wide, sentences } = scatterChart(points)!;
    // Three standard deviations leave some out, which is no finding.
    expect([wide, chart.outside.length > 0, sentences[0]]).toEqual([[], true, expect.stringMatching(/^Outside the limits: .* no more than chance may do\./)]); // biome-ignore format: one thought
    expect(chart.centre / 0.005).toBeGreaterThan(0.97);
    expect(chart.centre / 0.005).toBeLessThan(1.03);
    expect(chart.outside.length / 400).toBeLessThan(0.015);
  });

  it('names the day on which another gauge was used', () => {
    const points = [5, 6, 5, 4, 5, 15].map((sd, i) => ({ label: day(i), sdMm: sd / 1000, dof: 8 }));
    const result = scatterChart(points, { baselineCount: 5 })!;
    expect([result.chart.outside, result.wide]).toEqual([[6], [6]]);
    expect(result.sentences[0]).toContain('day 6 (15.0 µm)');
  });

  it('needs two days with readings to spare', () => {
    expect(
      scatterChart([
        { label: 'a', sdMm: 0.005, dof: 7 },
        { label: 'b', sdMm: 0, dof: 0 },
      ]),
    ).toBeUndefined();
  });
});
