import { describe, expect, it } from 'vitest';
import { toFullInk } from '../../../src/artwork/pdf/render.js';

const WIDTH = 60;
const HEIGHT = 20;

/** Squares of 10 px, 4.5 px from the top, half of the pixels along their left walls covered. */
function squares(...levels: readonly number[]): Uint8Array {
  const ink = new Uint8Array(WIDTH * HEIGHT);
  levels.forEach((level, k) => {
    for (let y = 5; y < 15; y += 1) {
      for (let x = 0; x < 10; x += 1) ink[y * WIDTH + 4 + 20 * k + x] = x === 0 ? level / 2 : level;
    }
  });
  return ink;
}

describe('ink as the renderer shows it', () => {
  it.each([
    ['one pale ink', [224]],
    ['a black of printing inks beside a spot colour', [224, 100]],
    ['full ink beside pale ink', [255, 180]],
  ])('%s: the middle becomes full and half stays half', (_, levels) => {
    const ink = squares(...levels);
    toFullInk(ink, WIDTH, HEIGHT);
    levels.forEach((_level, k) => {
      expect(ink[10 * WIDTH + 10 + 20 * k]).toBe(255);
      expect(Math.abs(ink[10 * WIDTH + 4 + 20 * k] - 127.5)).toBeLessThan(1.5);
      expect(ink[10 * WIDTH + 16 + 20 * k]).toBe(0);
    });
  });

  it('full ink alone, ink paler than a quarter and the edge of the picture are left alone', () => {
    for (const ink of [squares(255), squares(60), squares(255, 60), new Uint8Array(WIDTH * HEIGHT).fill(255)]) {
      const before = ink.slice();
      toFullInk(ink, WIDTH, HEIGHT);
      expect(ink).toEqual(before);
    }
  });

  it('a picture of one row or column is no trouble', () => {
    for (const [width, height] of [
      [5, 1],
      [1, 5],
      [2, 2],
    ]) {
      const ink = new Uint8Array(width * height).fill(200);
      toFullInk(ink, width, height);
      expect(ink).toEqual(new Uint8Array(width * height).fill(200));
    }
  });
});
