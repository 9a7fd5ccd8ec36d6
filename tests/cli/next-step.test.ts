import { describe, expect, it } from 'vitest';
import { nextStep } from '../../src/cli/next-step.js';

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
