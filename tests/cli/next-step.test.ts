import { describe, expect, it } from 'vitest';
import { nextStep } from '../../src/cli/next-step.js';

describe('what comes next', () => {
  const next = (name: string, files: string[], values = {}): string | undefined =>
    nextStep(name, files, values, new Set());

  it('a grid of marks is scanned, other coupons are read', () => {
    expect(next('coupon', ['field-grid'], { out: 'my bench' })).toContain(
      `apertrue scan "scans/*.png" --features "my bench/field-grid.features.json" --out read`,
    );
    expect(next('coupon', ['scale-ruler'], { out: 'bench' })).toBe(
      'cut it, then: apertrue enter scale-ruler --out bench',
    );
    expect(next('coupon', ['scale-ruler', 'field-grid'])).toMatch(
      /^cut them, then for each: apertrue enter scale-ruler/,
    );
  });

  it('nothing is said of a list', () => expect(next('coupon', [], { list: true })).toBeUndefined());
});
