import { describe, expect, it } from 'vitest';
import type { Opening } from '../../src/geometry/types.js';
import { groupOpenings } from '../../src/rules/group.js';
import { measureOpenings } from '../../src/rules/measure.js';
import { balls, chip, disc, dualRow, leadless, mixedBoard, pad, placed } from './board.js';

const groups = (openings: readonly Opening[]) => groupOpenings(openings, measureOpenings(openings));
const kinds = (openings: readonly Opening[]) => groups(openings).map(({ kind }) => kind);

describe('groupOpenings', () => {
  it.each([0, 45, 12])('finds the pads around a thermal pad, turned by %i degrees', (angle) => {
    const found = groups(placed(leadless(8, 0.5, 0.25, 0.8, 4.9, 3.1), 20, 10, angle));
    expect(found).toHaveLength(1);
    expect(found[0]).toMatchObject({ kind: 'ring', centre: [33], padCount: 32 });
    expect(found[0].pitchMm).toBeCloseTo(0.5, 6);
    expect(found[0].padMm[0]).toBeCloseTo(0.25, 6);
  });

  it('takes a thermal pad that is drawn as panes', () => {
    const part = leadless(8, 0.5, 0.25, 0.8, 4.9, 3.1).slice(0, 32);
    const panes = [-0.7, 0.7].flatMap((x) => [-0.7, 0.7].map((y) => pad(x, y, 1.1, 1.1)));
    const found = groups([...part, ...panes]);
    expect(found.map(({ kind }) => kind)).toEqual(['ring']);
    expect(found[0].centre).toEqual([33, 34, 35, 36]);
  });

  it('finds two rows of leads, and not the row of the part beside it', () => {
    const found = groups([
      ...placed(dualRow(7, 1.27, 0.6, 1.5, 5.4), 0, 0),
      ...placed(dualRow(7, 1.27, 0.6, 1.5, 5.4), 8, 0),
    ]);
    expect(found.map(({ kind }) => kind)).toEqual(['rows', 'rows']);
  });

  it('finds a ball grid with its pitch and web', () => {
    const [grid] = groups(balls(8, 8, 0.5, 0.28));
    expect(grid).toMatchObject({ kind: 'grid', padCount: 64 });
    expect(grid.pitchMm).toBeCloseTo(0.5, 6);
    expect(grid.webMm).toBeCloseTo(0.22, 3);
  });

  it.each([0, 30, 90])('finds the two pads of a chip at %i degrees', (angle) => {
    expect(kinds(placed(chip(0.5, 0.6, 0.96), 3, 3, angle))).toEqual(['pair']);
  });

  it('finds chips in a bank, far apart and close together', () => {
    for (const spacing of [2, 1.0, 0.8]) {
      const bank = Array.from({ length: 5 }, (_, i) => placed(chip(0.5, 0.6, 0.96), 0, i * spacing)).flat();
      expect(kinds(bank)).toEqual(['pair', 'pair', 'pair', 'pair', 'pair']);
    }
  });

  it('takes a transistor for no chip', () => {
    expect(kinds([pad(-0.95, 1.2, 0.6, 0.9), pad(0.95, 1.2, 0.6, 0.9), pad(0, -1.2, 0.6, 0.9)])).toEqual(['rows']);
  });

  it('follows the component that the artwork names', () => {
    const named = (openings: Opening[], component: string) =>
      openings.map((o, i) => ({ ...o, tag: { component, pin: String(i + 1) } }));
    const found = groups([...named(chip(0.5, 0.6, 0.96), 'R1'), ...named(chip(0.5, 0.6, 0.96), 'R2'), disc(9, 9, 1)]);
    expect(found.map(({ component, kind, openings }) => [component, kind, openings])).toEqual([
      ['R1', 'pair', [1, 2]],
      ['R2', 'pair', [3, 4]],
    ]);
  });

  it('puts no opening into two groups', () => {
    const all = groups(mixedBoard()).flatMap(({ openings }) => openings);
    expect(new Set(all).size).toBe(all.length);
  });
});
