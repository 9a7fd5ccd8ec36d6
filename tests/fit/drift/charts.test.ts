import { describe, expect, it } from 'vitest';
import { ewmaChart, individualsChart } from '../../../src/fit/drift/charts.js';

/** All published numbers: NIST/SEMATECH e-Handbook of Statistical Methods, section named at each. */

describe('individuals chart', () => {
  // 6.3.2.2
  const VALUES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

  it('gives the printed limits of the handbook', () => {
    const chart = individualsChart(VALUES);
    expect(chart.centre.toFixed(2)).toBe('50.81');
    expect(chart.meanMovingRange.toFixed(4)).toBe('1.8778');
    expect(chart.upperLimit.toFixed(4)).toBe('55.8041');
    expect(chart.lowerLimit.toFixed(4)).toBe('45.8159');
    expect(chart.outside).toEqual([]);
  });

  it('takes limits from the baseline only and numbers the points outside from 1', () => {
    const chart = individualsChart([...VALUES, 60, 50, 40], { baselineCount: 10 });
    expect(chart.upperLimit.toFixed(4)).toBe('55.8041');
    expect(chart.outside).toEqual([11, 13]);
    expect(chart.upperLimits).toHaveLength(13);
  });

  it('moves and stretches with the unit', () => {
    const inches = individualsChart(VALUES.map((value) => value / 25.4 + 3));
    expect((inches.upperLimit - 3) * 25.4).toBeCloseTo(individualsChart(VALUES).upperLimit, 10);
  });
});

describe('moving average chart', () => {
  // 6.3.2.4: lambda 0.3, target 50, s 2.0539
  const VALUES = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6,
    52.1,
  ];
  const PRINTED =
    '50.00 50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33 50.11 49.36 49.52 50.05 49.38 49.92 50.73 51.23 51.94 51.99';
  const chart = ewmaChart(VALUES, { lambda: 0.3, target: 50, sd: 2.0539 });

  it('gives every printed average of the handbook', () => {
    expect(chart.ewma.map((value) => value.toFixed(2)).join(' ')).toBe(PRINTED);
    expect(chart.outside).toEqual([]);
  });

  it('gives the printed limits (the handbook cuts off the lower one instead of rounding)', () => {
    expect(chart.factor.toFixed(4)).toBe('0.4201');
    expect(chart.upperLimit.toFixed(4)).toBe('52.5884');
    expect(Math.floor(chart.lowerLimit * 1e4) / 1e4).toBe(47.4115);
  });

  it('with lambda 1 is the individuals chart', () => {
    const one = ewmaChart(VALUES, { lambda: 1 });
    const single = individualsChart(VALUES);
    expect(one.points).toEqual(single.points);
    expect(one.upperLimit).toBeCloseTo(single.upperLimit, 12);
  });
});

describe('what charts refuse', () => {
  it.each([
    ['one value', () => individualsChart([1]), 'TOO_FEW_VALUES'],
    ['no number', () => ewmaChart([1, Number.NaN]), 'NOT_FINITE'],
    ['lambda 0', () => ewmaChart([1, 2], { lambda: 0 }), 'LAMBDA'],
  ])('%s', (_, run, code) => {
    expect(run).toThrow(expect.objectContaining({ code }));
  });
});
