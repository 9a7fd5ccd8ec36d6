import { describe, expect, it } from 'vitest';
import { pChart, uChart } from '../../../src/fit/drift/attribute-charts.js';
import { controlConstants } from '../../../src/fit/drift/control-constants.js';
import { meanAndRangeCharts, meanAndSdCharts } from '../../../src/fit/drift/subgroup-charts.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';

const random = seeded(5);
const groups = Array.from({ length: 25 }, () => Array.from({ length: 5 }, () => 10 + 2 * gaussian(random)));
const mean = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0) / values.length;

describe('charts of means with ranges or standard deviations', () => {
  it('have the handbook’s limits: A2, D3, D4 on the mean range; A3, B3, B4 on the mean standard deviation', () => {
    // NIST/SEMATECH e-Handbook 6.3.2.1, the formulas; worked here on 25 groups of 5.
    const ranges = groups.map((group) => Math.max(...group) - Math.min(...group));
    const sds = groups.map((group) => Math.sqrt(group.reduce((sum, x) => sum + (x - mean(group)) ** 2, 0) / 4));
    const centre = mean(groups.map(mean));
    const { A2, A3, B3, B4, D3, D4 } = controlConstants(5);
    const byRange = meanAndRangeCharts(groups);
    expect(byRange.means.centre).toBeCloseTo(centre, 12);
    expect(byRange.means.upperLimits[0]).toBeCloseTo(centre + A2 * mean(ranges), 10);
    expect(byRange.scatter.upperLimits[3]).toBeCloseTo(D4 * mean(ranges), 10);
    expect(byRange.scatter.lowerLimits[3]).toBeCloseTo(D3 * mean(ranges), 10);
    expect(byRange.scatter.centre).toBeCloseTo(mean(ranges), 12);
    const bySd = meanAndSdCharts(groups);
    expect(bySd.means.lowerLimits[0]).toBeCloseTo(centre - A3 * mean(sds), 10);
    expect(bySd.scatter.upperLimits[0]).toBeCloseTo(B4 * mean(sds), 10);
    expect(bySd.scatter.lowerLimits[0]).toBeCloseTo(B3 * mean(sds), 10);
  });

  it('reproduce a textbook’s limits: mean 1.5056, mean range 0.32521, groups of 5', () => {
    // D. C. Montgomery, Introduction to Statistical Quality Control, flow width of hard-bake: 1.69325, 1.31795 and
    // 0.68749, with A2 = 0.577 and D4 = 2.114 (from memory). Two groups with that mean and mean range stand for the data.
    const group = [-0.5, 0, 0, 0, 0.5].map((part) => 1.5056 + 0.32521 * part);
    const { means, scatter } = meanAndRangeCharts([group, group]);
    expect(means.upperLimits[0]).toBeCloseTo(1.69325, 3);
    expect(means.lowerLimits[0]).toBeCloseTo(1.31795, 3);
    expect(scatter.upperLimits[0]).toBeCloseTo(0.68749, 3);
  });

  it('find the true scatter, whatever the sizes of the groups', () => {
    const many = Array.from({ length: 4000 }, (_, i) =>
      Array.from({ length: 2 + (i % 6) }, () => 3 * gaussian(random)),
    );
    expect(meanAndRangeCharts(many).sd).toBeCloseTo(3, 1);
    expect(meanAndSdCharts(many).sd).toBeCloseTo(3, 1);
    // 3 standard deviations: 27 of 10,000 means, and nothing depends on the size.
    expect(meanAndSdCharts(many).means.outside.length / 4000).toBeLessThan(0.006);
  });

  it('take limits from the baseline and name the groups outside from 1', () => {
    const later = [...groups, groups[0].map((x) => x + 4), groups[1].map((x) => 10 + 5 * (x - 10))];
    const { means, scatter } = meanAndRangeCharts(later, { baselineCount: 25 });
    expect(means.outside).toContain(26);
    expect(scatter.outside).toContain(27);
  });

  it.each([
    ['one group', () => meanAndRangeCharts([[1, 2]])],
    ['a group of one', () => meanAndSdCharts([[1, 2], [1]])],
  ])('refuse %s', (_, run) => expect(run).toThrow(expect.objectContaining({ code: 'TOO_FEW_VALUES' })));
});

describe('charts of faulty shares and of faults per unit', () => {
  it('p: the handbook’s and textbook’s 30 samples of 50', () => {
    // Montgomery's juice cans, as in NIST/SEMATECH 6.3.3.2 (data from memory; their sum 347 is printed): 0.2313, limits
    // 0.0524 and 0.4102, samples 15 and 23 outside.
    const faulty = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]; // biome-ignore format: data
    expect(faulty.reduce((a, b) => a + b)).toBe(347);
    const chart = pChart(faulty.map((count) => ({ faulty: count, size: 50 })));
    expect(chart.centre.toFixed(4)).toBe('0.2313');
    expect(chart.upperLimits[0].toFixed(4)).toBe('0.4102');
    expect(chart.lowerLimits[0].toFixed(4)).toBe('0.0524');
    expect(chart.outside).toEqual([15, 23]);
  });

  it('u: 20 samples of 5 units', () => {
    // Montgomery's personal computers (from memory): mean 1.93, limits 3.79 and 0.07.
    const faults = [10, 12, 8, 14, 10, 16, 11, 7, 10, 15, 9, 5, 7, 11, 12, 6, 8, 10, 7, 5];
    const chart = uChart(faults.map((faulty) => ({ faulty, size: 5 })));
    expect(chart.centre.toFixed(2)).toBe('1.93');
    expect(chart.upperLimits[0].toFixed(2)).toBe('3.79');
    expect(chart.lowerLimits[0].toFixed(2)).toBe('0.07');
    expect(chart.outside).toEqual([]);
  });

  it('have a limit of its own for each size, never below 0 or above 1', () => {
    const chart = pChart([{ faulty: 1, size: 3 }, { faulty: 30, size: 100 }, { faulty: 300, size: 1000 }]); // biome-ignore format: short
    expect(chart.upperLimits[0]).toBe(1);
    expect(chart.lowerLimits[0]).toBe(0);
    expect(chart.upperLimits[2]).toBeCloseTo(331 / 1103 + 3 * Math.sqrt(((331 / 1103) * (772 / 1103)) / 1000), 12);
  });

  it.each([
    ['more faulty ones than there are', () => pChart([{ faulty: 4, size: 3 }]), 'NOT_A_COUNT'],
    ['a size of 0', () => uChart([{ faulty: 4, size: 0 }]), 'NOT_A_COUNT'],
    ['nothing', () => pChart([]), 'TOO_FEW_VALUES'],
    ['no number', () => uChart([{ faulty: Number.NaN, size: 1 }]), 'NOT_FINITE'],
  ])('refuse %s', (_, run, code) => expect(run).toThrow(expect.objectContaining({ code })));
});
