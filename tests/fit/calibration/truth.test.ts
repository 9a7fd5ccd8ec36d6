import { beforeAll, describe, expect, it } from 'vitest';
import type { DimensionalFeature } from '../../../src/coupon/features.js';
import { startParameters } from '../../../src/fit/calibration/design.js';
import { determinedBy } from '../../../src/fit/calibration/determined.js';
import { fitSessions } from '../../../src/fit/calibration/fit-sessions.js';
import { gaugesOf } from '../../../src/fit/calibration/gauges.js';
import { gatherObservations } from '../../../src/fit/calibration/observations.js';
import { coarseGauges } from '../../../src/fit/calibration/rounded-readings.js';
import { weightedFit } from '../../../src/fit/calibration/weighted-fit.js';
import { studentQuantile } from '../../../src/fit/statistics/distributions.js';
import { machineModel } from '../../../src/machine/machine-model.js';
import { SCENARIOS, sheets, truthOf } from '../../bench/truth-fit.js';
import { seeded } from '../../virtual-laser/random.js';
import { type Machine, randomMachine, readFilm } from './virtual-bench.js';

// A small share of `npm run bench:truth:fit`: an independent virtual laser, edge by edge, with faults and gauges.
let all: Awaited<ReturnType<typeof sheets>>;
beforeAll(async () => {
  all = await sheets();
});
const scenario = (name: string) => SCENARIOS.find((one) => one.name.startsWith(name))!;

describe('faults of the machine are named', () => {
  it.each(SCENARIOS.filter(({ finds }) => finds))('$name', (one) => {
    // At length: found in all but 2 of 110 waves of 40 mm, told with the right cause and size in 9 of 10 or more.
    // Such waves are only just above what 48 spans show, and eight windows hardly say what a caliper scatters by.
    const isFaint = /, 40 mm$|^ruler cut/.test(one.name);
    const { found, told, covered } = truthOf(one, all, isFaint ? 3 : one.finds?.startsWith('FIELD') ? 2 : 1, 7);
    if (isFaint) expect(found).toBeGreaterThan(0.6);
    else expect(found).toBe(1);
    expect(told).toBeGreaterThan(0.6);
    // What differs from place to place is in the uncertainty of scale and shear: at length in 60 of 60.
    if (one.finds?.startsWith('FIELD')) expect(covered.slice(0, 3)).toEqual([1, 1, 1]);
  });

  it('a wave nearly as long as the bed is no slip, which has fewer columns and is rarer by chance alone', () => {
    const random = seeded(23);
    const machine: Machine = [1.002, 0.999, 0.001, 0.14, 0.13];
    // 23 of 24 such waves; the one that chance makes least had been a slip, or a bend, for 20.
    const place = (_: number, y: number): [number, number] => [0, 0.0127 * Math.sin((2 * Math.PI * y) / 80 + (4 / 3) * Math.PI)]; // biome-ignore format: one thought
    const codes = Array.from({ length: 4 }, () => {
      const sessions = all.map(({ coupon, features }) => ({ coupon, features, readings: readFilm(features, machine, random, () => ({ noiseMm: 0.005, resolutionMm: 0.01 }), { place }) })); // biome-ignore format: one list
      return fitSessions(sessions).faults.flatMap(({ found, code }) => (found ? code : []));
    });
    expect(codes.filter(([only, ...more]) => only === 'FIELD_WAVES' && more.length === 0).length).toBeGreaterThan(2);
  });

  it('webs that melt are told up to their own size, and leave the kerf of all others true', () => {
    const random = seeded(29);
    const machine: Machine = [1.002, 0.999, 0.001, 0.08, 0.09];
    const melt = { kerf: (_x: number, _y: number, { kind, nominalMm }: DimensionalFeature) => (kind === 'web' && nominalMm < 0.27 ? 0.03 : 0) }; // biome-ignore format: one fault
    const told = Array.from({ length: 3 }, () => {
      const sessions = all.map(({ coupon, features }) => ({ coupon, features, readings: readFilm(features, machine, random, () => ({ noiseMm: 0.005, resolutionMm: 0.01 }), melt) })); // biome-ignore format: one list
      const { warnings, fit } = fitSessions(sessions);
      const { message } = warnings.find(({ code }) => code === 'KERF_BY_SIZE')!;
      const isTrue = Math.abs(fit.kerfXMm.value - machine[3]) < 0.003;
      return [/told 0\.25 mm wide or less/.test(message), isTrue];
    });
    expect(told).toEqual(told.map(() => [true, true]));
  });

  it('openings that get less kerf the smaller they are are told so, and leave the kerf of large ones true', () => {
    const random = seeded(31);
    const fades = { kerf: (_x: number, _y: number, { kind, nominalMm }: DimensionalFeature) => (kind === 'opening' ? -0.04 * Math.exp(-nominalMm / 0.4) : 0) }; // biome-ignore format: one fault
    const off = Array.from({ length: 8 }, () => {
      const machine: Machine = [1.002, 0.999, 0.001, 0.12, 0.13];
      const sessions = all.map(({ coupon, features }) => ({ coupon, features, readings: readFilm(features, machine, random, () => ({ noiseMm: 0.005, resolutionMm: 0.01 }), fades) })); // biome-ignore format: one list
      const { warnings, parameters } = fitSessions(sessions);
      const [, most] = /^openings told 0\.1 mm wide come out (\d+) µm narrower than the kerf says, those \S+ mm wide by half of that/.exec(warnings.find(({ code }) => code === 'KERF_BY_SIZE')!.message)!; // biome-ignore format: one line
      expect(Number(most)).toBeGreaterThan(20);
      expect(Number(most)).toBeLessThan(40);
      return parameters
        .slice(3)
        .map(({ value, interval95: [low, high] }, k) => (value - machine[3 + k]) / (high - low));
    });
    // With one limit for what is small the kerfs were 2 µm too small, outside of half of their intervals.
    expect(off.flat().filter((share) => Math.abs(share) > 0.5).length).toBeLessThan(4);
  });

  it('a slip is found wherever it came: no opening of a ladder, and no window, is torn by the place it is told at', () => {
    const random = seeded(23);
    const machine: Machine = [1.002, 0.999, 0.001, 0.14, 0.13];
    const spans = all[0].features.flatMap((one) => (one.kind === 'span' ? [one.from[0], one.to[0]] : []));
    const edges = [...new Set(spans)].sort((a, b) => a - b).filter((mm) => mm > 30 && mm < 120);
    // Just before each edge of the ruler: there it lies as far as can be from the one that stands before it.
    const missed = edges.slice(1).filter((edge, i) => {
      if (edge - edges[i] < 3) return false;
      const place = (x: number): [number, number] => [x > edges[i] + 1 ? 0.06 : 0, 0];
      const sessions = all.map(({ coupon, features }) => ({ coupon, features, readings: readFilm(features, machine, random, () => ({ noiseMm: 0.005, resolutionMm: 0.01 }), { place }) })); // biome-ignore format: one list
      const codes = fitSessions(sessions).faults.flatMap(({ found, code }) => (found ? code : []));
      return codes[0] !== 'FIELD_SLIPS';
    });
    expect(missed).toEqual([]);
  });

  it('a ladder read with X for Y is told by the kerfs of the ruler’s windows, and one read alone can’t tell', () => {
    const random = seeded(5);
    for (const [kerfX, kerfY] of [
      [0.15, 0.12],
      [0.1, 0.14],
    ]) {
      const code = (ladderX: number, ladderY: number) => {
        const sessions = all.map(({ coupon, features }, i) => {
          const machine: Machine =
            i === 0 ? [1.002, 0.999, 0.001, kerfX, kerfY] : [1.002, 0.999, 0.001, ladderX, ladderY];
          return { coupon, features, readings: readFilm(features, machine, random, () => ({ noiseMm: 0.005, resolutionMm: 0.01 })) }; // biome-ignore format: one record
        });
        return fitSessions(sessions).faults.find(({ found }) => found)?.code;
      };
      expect(code(kerfY, kerfX)).toBe('KERF_AXES_INTERCHANGED');
      expect(code(kerfX, kerfY)).toBeUndefined();
    }
  });

  it('and what so few readings would not show is said', () => {
    const random = seeded(3);
    const unchecked = (name: string): readonly string[] => {
      const chosen = scenario(name).choose?.(all, random) ?? all;
      const machine = randomMachine(random);
      const careful = () => ({ noiseMm: 0.005, resolutionMm: 0.01 });
      const sessions = chosen.map(({ coupon, features }) => ({ coupon, features, readings: readFilm(features, machine, random, careful) })); // biome-ignore format: one list
      return fitSessions(sessions).unchecked;
    };
    expect(unchecked('full sheets, 5 µm')).toEqual([]);
    const few = unchecked('the plain 25').join('; ');
    expect(few).toMatch(
      /waves of 0\.1 % along X.*kerf that differs by 50 µm between left and right.*squares that differ/,
    );
    expect(few).not.toMatch(/barrel/);
  });
});

describe('95 % intervals of few readings', () => {
  // The weighted fit alone, without the search for slips and faults, which makes it 20 times as dear.
  const covered = (name: string, sets: number): number[] => {
    const { choose, drawn, gauge = () => ({ noiseMm: 0.005, resolutionMm: 0.01 }) } = scenario(name);
    const random = seeded(11);
    const hits = [0, 0, 0, 0, 0];
    const told = [0, 0, 0, 0, 0];
    for (let c = 0; c < sets; c += 1) {
      const machine = randomMachine(random);
      const gaugeFor = drawn?.(random) ?? gauge;
      const chosen = choose!(all, random).filter(({ features }) => features.length > 0);
      const sessions = chosen.map(({ coupon, features }) => ({ coupon, features, readings: readFilm(features, machine, random, gaugeFor) })); // biome-ignore format: one list
      const { lengths } = gatherObservations(sessions);
      const start = startParameters(lengths);
      const { design, assumed } = determinedBy(lengths, gaugesOf(lengths, sessions, undefined), start);
      const fit = weightedFit(design, start);
      assumed.forEach((is, k) => {
        if (is) return;
        told[k] += 1;
        const half = Math.sqrt(fit.covariance[k][k]) * studentQuantile(0.05, Math.max(1, fit.parameterDof[k]));
        if (Math.abs(fit.parameters[k] - machine[k]) <= half) hits[k] += 1;
      });
    }
    return hits.map((count, k) => count / told[k]);
  };

  // 200 sets: three standard deviations of each share are 4.6 points, of the mean of five about 2.
  it.each([
    ['the plain 25', 0.95],
    ['two gauges, random 24', 0.95],
    ['random 12, all by one gauge', 0.955],
    // Two gauges are taken where none is named, and 3 spans hardly say what theirs scatters by: wide where it is the other's.
    ['random 12', 0.975],
    ['any two gauges, random 12', 0.965],
  ])('%s hold the truth in about %d', (name, share) => {
    const shares = covered(name, 200);
    for (const own of shares) expect(Math.abs(own - share)).toBeLessThan(0.046);
    expect(Math.abs(shares.reduce((sum, own) => sum + own, 0) / 5 - share)).toBeLessThan(0.02);
  });

  it('a few fine readings that agree by chance are not taken for those of a coarse gauge', () => {
    const random = seeded(12);
    let taken = 0;
    for (let c = 0; c < 100; c += 1) {
      const chosen = scenario('random 24').choose!(all, random).filter(({ features }) => features.length > 0);
      const machine = randomMachine(random);
      const careful = () => ({ noiseMm: 0.005, resolutionMm: 0.01 });
      const sessions = chosen.map(({ coupon, features }) => ({ coupon, features, readings: readFilm(features, machine, random, careful) })); // biome-ignore format: one list
      const { lengths } = gatherObservations(sessions);
      const start = startParameters(lengths);
      if (coarseGauges(weightedFit(determinedBy(lengths, [], start).design, start)).length > 0) taken += 1;
    }
    // One in twenty of each of two gauges is what the test allows; without it, it had been one in four.
    expect(taken).toBeLessThanOrEqual(15);
  });

  it('a plastic caliper’s rounding is no fault of a right machine', () => {
    const { named, alarmed } = truthOf(scenario('coarse: a plastic caliper at 0.1, 10'), all, 2, 15);
    expect(named).toBe(0);
    expect(alarmed).toBe(0);
  });
});

describe('what the readings can’t tell', () => {
  it('is assumed, never given the other axis’s interval', () => {
    const { assumed, covered } = truthOf(scenario('first 12 rows'), all, 4, 8);
    expect(assumed[1]).toBe(1);
    expect(covered[0]).toBeGreaterThanOrEqual(0.5);
  });

  it.each(['zero of the loupe', 'zero of the caliper'])('%s is taken out and told of', (name) => {
    const { covered, named } = truthOf(scenario(name), all, 6, 9);
    expect(named).toBeGreaterThanOrEqual(0.5);
    expect(covered.reduce((sum, share) => sum + share, 0) / 5).toBeGreaterThan(0.8);
  });
});

describe('numbers that no machine has', () => {
  const right = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.1, kerfYMm: 0.1 };
  it.each([
    ['a scale of 7e138', { scaleX: 7e138 }, /between 1\/60 and 60/],
    ['a scale typed as percent', { scaleX: 100.35 }, /looks like percent: 100.35 % is 1.0035/],
    ['ten times too large along X alone', { scaleX: 10 }, /8 times apart.*decimal point that slipped/],
    ['ten times too large and no kerf', { scaleX: 10, kerfXMm: 0, kerfYMm: 0 }, /decimal point that slipped/],
    ['a kerf in micrometres', { kerfXMm: 140 }, /looks like micrometres/],
    ['a shear of 30°', { shear: 0.577 }, /fifth of the scale/],
  ])('%s is refused', (_what, over, words) => {
    expect(() => machineModel({ ...right, ...over })).toThrow(words);
  });

  it.each([25.4, 25.4 / 96, 1 / 25.4])('a scale of %d, which programs bring about, is not', (scale) => {
    expect(machineModel({ ...right, scaleX: scale, scaleY: scale }).scaleX).toBe(scale);
  });
});
