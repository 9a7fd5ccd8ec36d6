import { beforeAll, describe, expect, it } from 'vitest';
import { fitSessions } from '../../../src/fit/calibration/index.js';
import { machineModel } from '../../../src/machine/machine-model.js';
import { SCENARIOS, sheets, truthOf } from '../../bench/truth-fit.js';
import { seeded } from '../../virtual-laser/random.js';
import { randomMachine, readFilm } from './virtual-bench.js';

// A small share of `npm run bench:truth:fit`: an independent virtual laser, edge by edge, with faults and gauges.
let all: Awaited<ReturnType<typeof sheets>>;
beforeAll(async () => {
  all = await sheets();
});
const scenario = (name: string) => SCENARIOS.find((one) => one.name.startsWith(name))!;

describe('faults of the machine are named', () => {
  it.each(SCENARIOS.filter(({ finds }) => finds))('$name', (one) => {
    const { found, covered } = truthOf(one, all, 3, 7);
    expect(found).toBeGreaterThan(0.6);
    // What differs from place to place is in the uncertainty of scale and shear.
    if (one.finds?.startsWith('FIELD')) for (const share of covered.slice(0, 3)) expect(share).toBeGreaterThan(0.6);
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
