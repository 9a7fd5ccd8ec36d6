import { execFileSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { ROOT } from './source-graph.js';

const walks: Record<'alike' | 'another' | 'pixels' | 'reading', string[]> = JSON.parse(
  execFileSync(process.execPath, ['--import', 'tsx', 'tests/house/walk.ts'], { cwd: ROOT, encoding: 'utf8' }),
);

describe('what one datum passes, from bytes to bytes', () => {
  it('is some 40 files for a pad of a new shape, fewer for one more of the same', () => {
    const { alike, another } = walks;
    expect(alike).toContain('artwork/gerber/operate');
    expect(alike.length, alike.join(' ')).toBeLessThanOrEqual(37);
    expect(another).toEqual(expect.arrayContaining(['machine/correct-openings', 'dots/fit-dots', 'stencil/look']));
    expect(another.length, another.join(' ')).toBeLessThanOrEqual(44);
  });

  it('is some 40 files for the pixels of one', () => {
    const { pixels } = walks;
    expect(pixels).toEqual(expect.arrayContaining(['artwork/image/trace/follow', 'machine/correct-openings']));
    expect(pixels.length, pixels.join(' ')).toBeLessThanOrEqual(43);
  });

  it('is some 30 files for a reading, from a row to a profile', () => {
    const { reading } = walks;
    expect(reading).toEqual(expect.arrayContaining(['readings/parse-readings', 'fit/calibration/weighted-fit']));
    expect(reading.length, reading.join(' ')).toBeLessThanOrEqual(30);
  });
});
