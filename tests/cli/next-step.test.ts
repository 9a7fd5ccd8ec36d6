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
const nextAfter = (name: string, ...args: string[]): string | undefined =>
  nextStep(name, [args[0]], { profile: 'my laser.json' }, new Set(), [name, ...args]);

describe('the next step', () => {
  it('says again how the artwork is to be read', () => {
    expect(nextAfter('correct', 'a b.png', '--dpi', '600', '--side=bottom', '--overwrite')).toMatch(
      /apertrue predict "a b\.png" --dpi 600 --side bottom --profile "my laser\.json"$/,
    );
    expect(nextAfter('check', 'a.pdf', '--any-layer', '--page', '2')).toContain(
      'correct a.pdf --any-layer --page 2 --profile',
    );
    expect(nextAfter('predict', 'a.png', '--known-distance', '1,21,46')).toContain(
      'correct a.png --known-distance 1,21,46',
    );
  });

  it('names no file for what came through a pipe', () => {
    expect(nextAfter('correct', '-', '--dpi', '600')).toMatch(/as the coupons$/);
    expect(nextAfter('check', '-', '--dpi', '600')).toContain('correct board.gbr --profile');
  });
});
