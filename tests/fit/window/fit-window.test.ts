import { describe, expect, it } from 'vitest';
import type { CellFeature } from '../../../src/coupon/features.js';
import { copyWarnings } from '../../../src/fit/calibration/observations.js';
import { fitWindow } from '../../../src/fit/window/fit-window.js';
import { joinGrids } from '../../../src/fit/window/gather-cells.js';
import type { CellOutcome, Reading } from '../../../src/readings/types.js';
import { cases } from '../../cases.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';
import { gridCells } from './grid-cells.js';
import { anyLaser, judgeWindow, type Grid as VirtualGrid } from './virtual-grids.js';

const POWERS = [20, 30, 40, 50, 60, 80, 100];
const SPEEDS = [5, 8, 12, 20, 30, 50];

interface Grid {
  features: CellFeature[];
  readings: Reading[];
}

/** A grid cut by a machine that marks, cuts or fails by the outcome function. */
function grid(
  outcome: (power: number, speed: number) => CellOutcome | undefined,
  powers = POWERS,
  speeds = SPEEDS,
): Grid {
  const features = gridCells(powers, speeds);
  const readings = features.flatMap(({ id, powerPercent, speedMmS }): Reading[] => {
    const found = outcome(powerPercent, speedMmS);
    return found ? [{ feature: id, outcome: found }] : [];
  });
  return { features, readings };
}

/** Line energy P/v decides: limits for partial, through and marked. */
const byEnergy =
  (partial: number, through: number, marked: number) =>
  (power: number, speed: number): CellOutcome => {
    const energy = power / speed;
    return energy >= marked ? 'marked' : energy >= through ? 'through' : energy >= partial ? 'partial' : 'uncut';
  };

/** Without the map of chances, unless one is asked for. */
const window = ({ readings, features }: Grid, mapSteps = 1) => fitWindow(readings, features, { mapSteps });

describe('the process window of a clean grid', () => {
  const result = window(grid(byEnergy(1.8, 2.6, 6)), 40);

  it('recommends a setting in the middle, in ratio, of the two limits', () => {
    const { powerPercent, speedMmS, probabilityClean } = result.setting!;
    expect(powerPercent / speedMmS).toBeGreaterThan(Math.sqrt(2.6 * 6) / 1.1);
    expect(powerPercent / speedMmS).toBeLessThan(Math.sqrt(2.6 * 6) * 1.1);
    expect(probabilityClean).toBeGreaterThan(0.9);
    expect(POWERS).toContain(powerPercent);
  });

  it('gives margins that match the limits the machine really has', () => {
    const { power, speed, marginPowerPercent } = result.setting!;
    const energy = (p: number, v: number): number => p / v;
    expect(energy(power.from, result.setting!.speedMmS)).toBeCloseTo(2.6, 0);
    expect(energy(power.to, result.setting!.speedMmS)).toBeGreaterThan(5.2);
    expect(energy(power.to, result.setting!.speedMmS)).toBeLessThan(6.8);
    expect(energy(result.setting!.powerPercent, speed.to)).toBeCloseTo(2.6, 0);
    expect(marginPowerPercent).toBeLessThan(Math.min(power.downPercent, power.upPercent));
    // The true margin at the best setting: 1 − sqrt(2.6/6) = 34 %.
    expect(marginPowerPercent).toBeGreaterThan(26);
    expect(marginPowerPercent).toBeLessThan(40);
  });

  it('finds nothing contradictory and warns of nothing', () => {
    expect(result.contradictions).toEqual([]);
    expect(result.warnings).toEqual([]);
    expect(result.refusal).toBeUndefined();
  });

  it('maps the probability over the tested range, high between the limits only', () => {
    const { powersPercent, speedsMmS, probabilityClean } = result.map!;
    expect(powersPercent[0]).toBe(20);
    expect(powersPercent.at(-1)).toBeCloseTo(100, 9);
    expect(speedsMmS.at(-1)).toBeCloseTo(50, 9);
    const at = (p: number, v: number): number => probabilityClean[powersPercent.indexOf(p)][speedsMmS.indexOf(v)];
    expect(at(20, 5)).toBeGreaterThan(0.5);
    expect(probabilityClean[0].at(-1)).toBeLessThan(0.01);
    expect(probabilityClean.at(-1)![0]).toBeLessThan(0.01);
    for (const row of probabilityClean) for (const p of row) expect(p >= 0 && p <= 1).toBe(true);
  });
});

describe('cells that contradict each other', () => {
  it('names the cell that was misread, with a sentence, and still finds the window', () => {
    const good = byEnergy(1.8, 2.6, 6);
    const result = window(grid((p, v) => (p === 60 && v === 8 ? 'uncut' : good(p, v))));
    expect(result.contradictions.map(({ id }) => id)).toEqual(['P60V8']);
    // Of the others only the nearest one's outcome is told: not all read the same.
    expect(result.contradictions[0].say).toMatch(
      /^P60V8 \(60 %, 8 mm\/s\) reads uncut, although P\d+V\d+ \([^)]+\), with less energy, reads (partial|through|marked), and \d+ more cells speak against it\. Look/,
    );
    const energy = result.setting!.powerPercent / result.setting!.speedMmS;
    expect(energy).toBeGreaterThan(3);
    expect(energy).toBeLessThan(5.5);
    const without = result.settingWithoutContradictions!;
    expect(without.probabilityClean).toBeGreaterThan(0.99);
  });

  it('leaves a cell out only when told', () => {
    const good = byEnergy(1.8, 2.6, 6);
    const { readings, features } = grid((p, v) => (p === 60 && v === 8 ? 'uncut' : good(p, v)));
    const told = fitWindow(readings, features, { ignore: ['P60V8'] });
    expect(told.contradictions).toEqual([]);
    expect(told.cells).toHaveLength(41);
  });

  it('refuses a grid that was read upside down', () => {
    const result = window(grid((p, v) => byEnergy(2, 3, 8)(120 - p, 58 - v)));
    expect(result.refusal?.code).toBe('CONTRADICTORY');
    expect(result.refusal?.remedies[0]).toContain('upside down or mirrored');
    expect(result.setting).toBeUndefined();
  });
});

describe('an honest refusal', () => {
  it('when nothing came through it says how much slower to go', () => {
    const { refusal, setting } = fitWindow(
      ...(Object.values(grid((p, v) => (p / v > 15 ? 'partial' : 'uncut'))).reverse() as [Reading[], CellFeature[]]),
      { passes: 1, thicknessMm: 0.1 },
    );
    expect(setting).toBeUndefined();
    expect(refusal?.code).toBe('NOT_THROUGH');
    expect(refusal?.message).toContain('100 %, 5 mm/s');
    expect(refusal?.remedies.join(' ')).toMatch(/slower than 5 mm\/s.*2 passes.*thinner than 0.1 mm/);
    expect(Math.max(...refusal!.nextGrid!.speedsMmS)).toBe(5);
  });

  it('when everything is marked it says how much gentler to go', () => {
    const { refusal } = window(grid(() => 'marked'));
    expect(refusal?.code).toBe('ALL_MARKED');
    expect(Math.min(...refusal!.nextGrid!.speedsMmS)).toBe(50);
    expect(Math.max(...refusal!.nextGrid!.powersPercent)).toBe(20);
  });

  it('when cells jump from partial to marked it proposes a finer grid across the jump', () => {
    const { refusal } = window(grid(byEnergy(0, 3.05, 3.05)));
    expect(refusal?.code).toBe('NO_CLEAN_CELL');
    const { powersPercent, speedsMmS } = refusal!.nextGrid!;
    const energies = powersPercent.flatMap((p) => speedsMmS.map((v) => p / v));
    expect(Math.min(...energies)).toBeLessThan(3.05);
    expect(Math.max(...energies)).toBeGreaterThan(3.05);
    expect(refusal?.remedies[0]).toContain('finer grid');
  });

  it.each<[string, (power: number, speed: number) => CellOutcome | undefined]>([
    ['in the strongest corner', (power, speed) => (power === 100 && speed === 5 ? 'through' : 'partial')],
    ['in the gentlest corner', (power, speed) => (power === 20 && speed === 50 ? 'through' : 'marked')],
    ['and no other was read', (power, speed) => (power === 40 && speed === 12 ? 'through' : undefined)],
  ])('when a single cell is clean %s there is no room around it, and a grid with it inside is next', (_, outcome) => {
    const { refusal, setting } = window(grid(outcome));
    expect(setting).toBeUndefined();
    expect(refusal?.code).toBe('NO_MARGIN');
    expect(refusal?.message).toMatch(/^only P\d+V\d+ is clean/);
    const { powersPercent, speedsMmS } = refusal!.nextGrid!;
    const [, power, speed] = /P(\d+)V(\d+)/.exec(refusal!.message)!.map(Number);
    expect(Math.min(...powersPercent)).toBeLessThan(power);
    expect(Math.max(...powersPercent)).toBe(Math.min(100, 1.4 * power));
    expect(Math.min(...speedsMmS)).toBeLessThan(speed);
    expect(Math.max(...speedsMmS)).toBeGreaterThan(speed);
  });

  it('warns when the window is narrow', () => {
    const codes = window(grid(byEnergy(1, 3.9, 4.1))).warnings.map(({ code }) => code);
    expect(codes).toContain('NARROW_WINDOW');
  });
});

describe('what is told of a few cells holds', () => {
  const powers = [20, 30, 40, 50, 60, 70, 80];
  const random = seeded(7);
  const runs = Array.from({ length: 84 }, (_, i) => {
    const on: VirtualGrid = i % 2 ? [powers, [100]] : [[60], [5, 8, 12, 20, 30, 45, 70]];
    return judgeWindow(on, anyLaser(on, random, { width: 0.35 + 0.35 * (i % 3) }), random).judged;
  }).filter((one) => one !== undefined);
  const mean = (values: readonly number[]): number => values.reduce((sum, one) => sum + one, 0) / values.length;
  const both = runs.filter(({ edges }) => edges === 2);
  const one = runs.filter(({ edges }) => edges === 1);

  it('on most lasers, with both edges seen and with one', () => {
    expect(both.length).toBeGreaterThan(21);
    expect(one.length).toBeGreaterThan(10);
  });

  it.each([
    ['both edges were seen', both],
    ['one edge was never seen', one],
  ])('when %s: the lower bound of the margin, and how likely a clean cut is', (_, list) => {
    expect(mean(list.map(({ holds }) => Number(holds)))).toBeGreaterThan(0.9);
    expect(Math.abs(mean(list.map(({ told, clean }) => told - clean)))).toBeLessThan(0.06);
  });

  it('the margin to the nearer edge, whichever that is: the smaller of both sides would be points too good', () => {
    expect(mean(both.map(({ marginPercent, truePercent }) => marginPercent - truePercent))).toBeLessThan(2);
  });

  it('and two clean cells of six are enough to cut with', () => {
    const made = grid((p) => (p >= 65 ? 'marked' : p >= 36 ? 'through' : 'uncut'), [20, 28, 40, 55, 75, 100], [100]);
    const { setting, warnings } = window(made);
    expect(setting!.probabilityClean).toBeGreaterThan(0.85);
    expect(setting!.probabilityClean).toBeLessThan(0.98);
    expect(warnings.map(({ code }) => code)).toEqual(['ASSUMED']);
  });
});

describe('cells that say anything', () => {
  it('give no window, and no margin beyond what was tried', () => {
    const random = seeded(16);
    const outcomes: CellOutcome[] = ['uncut', 'partial', 'through', 'marked'];
    for (let run = 0; run < cases(5); run++) {
      const { refusal, setting } = window(grid(() => outcomes[Math.floor(4 * random())]));
      expect(setting).toBeUndefined();
      expect(['CONTRADICTORY', 'NO_CLEAN_CELL']).toContain(refusal?.code);
    }
    const { power, speed } = window(grid(byEnergy(1.2, 1.5, 9))).setting!;
    expect(power.to).toBeLessThanOrEqual(100.0001);
    expect(speed.to).toBeLessThanOrEqual(50.0001);
  });
});

describe('grids that are not whole', () => {
  it('says that the marked side was not found, and claims only what was tried', () => {
    const result = window(grid(byEnergy(1, 3, 1e9)));
    expect(result.warnings.map(({ code }) => code)).toEqual(['BOUNDARY_NOT_SEEN']);
    const { setting } = result;
    // The strongest clean cell is 100 % at 5 mm/s.
    expect(setting!.power.to / setting!.speedMmS).toBeLessThan(21);
    expect(setting!.powerPercent / setting!.speedMmS).toBeGreaterThan(4.5);
  });

  it('works with all cells clean', () => {
    const result = window(grid(() => 'through'));
    expect(result.setting!.probabilityClean).toBeGreaterThan(0.99);
    // Three cells that came through are no certainty.
    expect(window(grid(() => 'through', [40, 50, 60], [12])).setting!.probabilityClean).toBeLessThan(0.99);
    expect(result.warnings.filter(({ code }) => code === 'BOUNDARY_NOT_SEEN')).toHaveLength(2);
  });

  it.each([
    ['one power', [60], SPEEDS],
    ['one speed', POWERS, [12]],
  ])('with %s only takes the other margin from P/v and says so', (_, powers, speeds) => {
    const result = window(grid(byEnergy(1.8, 2.6, 6), powers, speeds));
    const energy = result.setting!.powerPercent / result.setting!.speedMmS;
    expect(energy).toBeGreaterThan(2.6);
    expect(energy).toBeLessThan(6);
    expect(result.warnings.map(({ code }) => code)).toEqual(['ASSUMED']);
    const { marginPowerPercent, marginSpeedPercent } = result.setting!;
    expect(Math.min(marginPowerPercent, marginSpeedPercent)).toBeGreaterThan(10);
  });

  it('with a single clean cell show no room around it', () => {
    const result = window(grid(() => 'through', [60], [12]));
    expect(result.refusal?.code).toBe('NO_MARGIN');
    expect(result.setting).toBeUndefined();
  });

  it('passes over cells that were not read, with a note', () => {
    const result = window(grid((p, v) => (p === 50 ? undefined : byEnergy(1.8, 2.6, 6)(p, v))));
    expect(result.cells).toHaveLength(36);
    expect(result.warnings.map(({ code }) => code)).toEqual(['CELLS_NOT_READ']);
    const energy = result.setting!.powerPercent / result.setting!.speedMmS;
    expect(energy).toBeGreaterThan(3.2);
    expect(energy).toBeLessThan(4.8);
  });

  it('joins two grids whose cells share names but not settings, and takes rows that were copied once', () => {
    const once = grid(byEnergy(1.8, 2.6, 6));
    const coarse = { ...once, coupon: 'grid', readings: [...once.readings, ...once.readings] };
    const fine = grid(byEnergy(1.8, 2.6, 6), [45, 50, 55], [10, 14, 18]);
    const renamed = {
      coupon: 'grid',
      features: fine.features.map((feature, i) => ({ ...feature, id: coarse.features[i].id })),
      readings: fine.readings.map((reading, i) => ({ ...reading, feature: coarse.features[i].id })),
    };
    const joined = joinGrids([coarse, renamed]);
    const result = fitWindow(joined.readings, joined.features);
    expect(result.cells).toHaveLength(51);
    expect(result.cells.every(({ outcomes }) => outcomes.length === 1)).toBe(true);
    expect(copyWarnings([coarse, renamed])).toEqual([expect.objectContaining({ message: expect.stringMatching(/^42 readings of cells repeat/) })]); // biome-ignore format: one thought
    expect(result.contradictions).toEqual([]);
  });

  it('keeps repeat readings of one cell apart from each other', () => {
    const { readings, features } = grid(byEnergy(1.8, 2.6, 6));
    const again: Reading = { feature: 'P50V20', outcome: 'through' };
    const result = fitWindow([...readings, again], features);
    expect(result.cells.find(({ id }) => id === 'P50V20')!.outcomes).toEqual(['partial', 'through']);
  });

  it.each([
    ['an outcome of another kind', [{ feature: 'P50V8', outcome: 'gone' as const }], 'CELL_OUTCOME'],
    ['a cell row without outcome', [{ feature: 'P50V8', readingMm: 1 }], 'CELL_OUTCOME'],
    ['no cell at all', [], 'NO_CELLS'],
  ])('refuses %s', (_, readings, code) => {
    const { features } = grid(() => 'through');
    expect(() => fitWindow(readings, features)).toThrow(expect.objectContaining({ code }));
  });
});

describe('machines with hidden limits', () => {
  it('gets a setting inside the true window every time, with most of the possible margin', () => {
    const random = seeded(20310409);
    const shares: number[] = [];
    for (let run = 0; run < cases(12); run++) {
      // Power enters with an exponent of its own, and every cell's limit wavers by 3 %.
      const exponent = 0.7 + 0.8 * random();
      const ratio = 1.5 + 2 * random();
      const centre = (45 ** exponent / 14) * Math.exp(random() - 0.5);
      const [through, marked] = [centre / Math.sqrt(ratio), centre * Math.sqrt(ratio)];
      const dose = (p: number, v: number): number => p ** exponent / v;
      const made = grid((p, v) => {
        const d = dose(p, v) * Math.exp(0.03 * gaussian(random));
        return d >= marked ? 'marked' : d >= through ? 'through' : d >= 0.7 * through ? 'partial' : 'uncut';
      });
      const { setting } = window(made);
      const d = dose(setting!.powerPercent, setting!.speedMmS);
      expect(d).toBeGreaterThan(through);
      expect(d).toBeLessThan(marked);
      shares.push(Math.log(Math.min(d / through, marked / d)) / (Math.log(ratio) / 2));
    }
    shares.sort((a, b) => a - b);
    expect(shares[shares.length >> 1]).toBeGreaterThan(0.85);
    expect(shares[1]).toBeGreaterThan(0.6);
  });

  it('gives boundaries slopes of their own when the cells demand it', () => {
    const fine = (from: number, to: number, n: number) =>
      Array.from({ length: n }, (_, k) => Number((from * (to / from) ** (k / (n - 1))).toPrecision(3)));
    const made = grid(
      (p, v) => (p ** 2 / v >= 1200 ? 'marked' : p ** 0.7 / v >= 0.8 ? 'through' : 'uncut'),
      fine(15, 100, 12),
      fine(2, 60, 12),
    );
    const result = window(made);
    const { through, marked } = result.boundaries!;
    expect(-through.slopeSpeed / through.slopePower).toBeGreaterThan(1.25);
    expect(-marked.slopeSpeed / marked.slopePower).toBeLessThan(0.7);
    const { powerPercent: p, speedMmS: v } = result.setting!;
    expect(p ** 0.7 / v).toBeGreaterThan(0.8);
    expect(p ** 2 / v).toBeLessThan(1200);
  });
});

it('a cell without power says nothing of a window', () => {
  const [cell] = gridCells([40], [100]);
  const wrong = { ...cell, powerPercent: 0 };
  expect(() => fitWindow([{ feature: cell.id, outcome: 'through' }], [wrong])).toThrow(
    expect.objectContaining({ code: 'SETTING_NOT_POSITIVE' }),
  );
});
