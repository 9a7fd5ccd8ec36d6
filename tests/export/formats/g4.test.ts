import { describe, expect, it } from 'vitest';
import { emptyBitmap, isBurnt } from '../../../src/dots/bitmap.js';
import { rowsOf } from '../../../src/dots/rows.js';
import { writeTiff } from '../../../src/export/formats/tiff.js';
import { seeded } from '../../virtual-laser/random.js';
import { bySharp } from '../read-back.js';

const PITCH = { x: 0.0254, y: 0.0254 };

/** Whether libtiff (inside sharp) reads every dot back. */
async function readsBack(bitmap: ReturnType<typeof emptyBitmap>, negative: boolean): Promise<boolean> {
  const { grey, width, height } = await bySharp(writeTiff(rowsOf(bitmap), { pitch: PITCH, negative }));
  if (width !== bitmap.width || height !== bitmap.height) return false;
  return grey.every((v, i) => v < 128 === (isBurnt(bitmap, i % width, Math.floor(i / width)) !== negative));
}

function set(bitmap: ReturnType<typeof emptyBitmap>, column: number, row: number): void {
  bitmap.data[row * bitmap.rowBytes + (column >> 3)] |= 0x80 >> (column & 7);
}

describe('group 4 coding is read back by libtiff', () => {
  it('every run length from 0 to 2700 dots, black and white', async () => {
    // Rows that share no change with the one above are coded by run lengths alone.
    const bitmap = emptyBitmap(5600, 2 * 2700);
    for (let length = 0; length < 2700; length += 1) {
      for (let k = 0; k < length; k += 1) set(bitmap, length + k, 2 * length);
    }
    expect(await readsBack(bitmap, false)).toBe(true);
  });

  it.each([false, true])('random pictures whose rows resemble each other, negative %s', async (negative) => {
    const random = seeded(11);
    for (const [width, height, rate] of [
      [1, 1, 0.5],
      [7, 9, 0.5],
      [8, 40, 0.5],
      [333, 200, 0.2],
      [3000, 200, 0.002],
    ]) {
      const bitmap = emptyBitmap(width, height);
      for (let row = 0; row < height; row += 1) {
        let burnt = 0;
        for (let column = 0; column < width; column += 1) {
          const above = row > 0 && isBurnt(bitmap, column, row - 1) ? 1 : 0;
          if (row % 4 === 0 ? random() < rate : random() < rate / 4) burnt ^= 1;
          if (row % 4 === 0 ? burnt : above ^ (random() < rate / 8 ? 1 : 0)) set(bitmap, column, row);
        }
      }
      expect(await readsBack(bitmap, negative)).toBe(true);
    }
  });
});
