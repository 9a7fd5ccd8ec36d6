import { describe, expect, it } from 'vitest';
import { fitSpot, type SpotPoint } from '../../../src/fit/spot/fit-spot.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';

/**
 * kerf² = 2 w0² ln[(P/v)/(P/v)th]: Liu, Opt. Lett. 7 (1982) 196–198, taken over to a moving beam. Kerfs worked out by hand
 * for w0 = 0.050 mm at line energies 1.5, 2, e, 4 and e² times the threshold.
 */
const HAND_WORKED: readonly [ratio: number, kerfMm: number][] = [
  [1.5, 0.045],
  [2, 0.0589],
  [Math.E, 0.0707],
  [4, 0.0833],
  [Math.E ** 2, 0.1],
];
const THRESHOLD = 2.5;

const at = (ratio: number, kerfMm: number, extra: Partial<SpotPoint> = {}): SpotPoint => ({
  powerPercent: 60,
  speedMmS: 60 / (THRESHOLD * ratio),
  kerfMm,
  ...extra,
});
const law = (ratio: number, radiusMm = 0.05): number => radiusMm * Math.sqrt(2 * Math.log(ratio));

describe('spot radius and threshold from kerfs', () => {
  it('come back from the hand-worked kerfs to the digits that these have', () => {
    const fit = fitSpot(HAND_WORKED.map(([ratio, kerf]) => at(ratio, kerf)));
    expect(fit.spotRadiusMm).toBeCloseTo(0.05, 4);
    expect(fit.threshold).toBeCloseTo(THRESHOLD, 2);
    expect(fit.leftOut).toEqual([]);
    expect(fit.kerfAt(60, 60 / (THRESHOLD * 4))).toBeCloseTo(0.0833, 4);
    expect(fit.kerfAt(60, 60)).toBe(0);
  });

  it('come back exactly from exact kerfs, with the threshold in joules when the power is known', () => {
    const fit = fitSpot(
      HAND_WORKED.map(([ratio]) => at(ratio, law(ratio))),
      { fullPowerW: 5 },
    );
    expect(fit.spotRadiusMm).toBeCloseTo(0.05, 14);
    expect(fit.threshold).toBeCloseTo(THRESHOLD, 12);
    expect(fit.thresholdJMm).toBeCloseTo(0.125, 12);
    expect(fit.warnings).toEqual([]);
  });

  it.each([false, true])('lie in their 95 %% intervals as often as they should (uncertainties given: %s)', (given) => {
    const random = seeded(82);
    const runs = 600;
    let [radius, threshold] = [0, 0];
    for (let run = 0; run < runs; run++) {
      const fit = fitSpot(
        [1.5, 2, 2.5, 3, 4, 5, 6, 7].map((ratio) =>
          at(ratio, law(ratio) + 0.003 * gaussian(random), given ? { stdUncertaintyMm: 0.003 } : {}),
        ),
      );
      if (Math.abs(fit.spotRadiusMm - 0.05) < fit.radiusInterval95Mm[1] - fit.spotRadiusMm) radius++;
      if (fit.thresholdInterval95[0] < THRESHOLD && THRESHOLD < fit.thresholdInterval95[1]) threshold++;
    }
    for (const share of [radius / runs, threshold / runs]) {
      expect(share).toBeGreaterThan(0.92);
      expect(share).toBeLessThan(0.995);
    }
  });

  it('leaves out kerfs too wide for the law, and says which', () => {
    const points = [1.3, 1.7, 2.2, 3, 4, 6, 8].map((ratio) => at(ratio, law(ratio)));
    const fit = fitSpot([...points, at(40, 0.2), at(60, 0.26)]);
    expect(fit.leftOut.map(({ number }) => number)).toEqual([9, 8]);
    expect(fit.leftOut[0].reason).toContain('2.5 spot radii');
    expect(fit.spotRadiusMm).toBeCloseTo(0.05, 6);
  });

  it('leaves out kerfs below their own uncertainty', () => {
    const points = [1.5, 2, 3, 4].map((ratio) => at(ratio, law(ratio), { stdUncertaintyMm: 0.003 }));
    const fit = fitSpot([...points, at(1.01, 0.002, { stdUncertaintyMm: 0.003 })]);
    expect(fit.leftOut.map(({ number }) => number)).toEqual([5]);
  });

  it('says when the points do not lie on a straight line', () => {
    const random = seeded(5);
    // Real power that goes with the square of the command bends the line.
    const points = [20, 30, 40, 60, 80, 100].map((powerPercent) => ({
      powerPercent,
      speedMmS: 10,
      kerfMm: 0.03 + 0.05 * Math.log(powerPercent / 15) ** 2 * 0.5 + 0.0003 * gaussian(random),
    }));
    expect(fitSpot(points).warnings.map(({ code }) => code)).toContain('NOT_STRAIGHT');
  });

  it.each([
    ['two kerfs', [at(2, 0.05), at(3, 0.07)], 'TOO_FEW_POINTS'],
    ['one line energy', [at(2, 0.05), at(2, 0.051), at(2, 0.052)], 'ONE_LINE_ENERGY'],
    ['kerfs that shrink', [at(2, 0.09), at(3, 0.07), at(4, 0.05)], 'SLOPE_NOT_POSITIVE'],
    ['kerfs that grow by less than they scatter', [at(2, 0.05), at(2.2, 0.08), at(2.4, 0.055)], 'SLOPE_NOT_SURE'],
    ['speed 0', [{ powerPercent: 50, speedMmS: 0, kerfMm: 0.1 }], 'SETTING_NOT_POSITIVE'],
    ['uncertainties for some only', [at(2, 0.05, { stdUncertaintyMm: 0.01 }), at(3, 0.07)], 'UNCERTAINTY_MISSING'],
  ])('refuses %s', (_, points, code) => {
    expect(() => fitSpot(points)).toThrow(expect.objectContaining({ code }));
  });
});
