import { expect, it } from 'vitest';
import { NumberQueue } from '../../src/rules/group-chips.js';

it('gives numbers back smallest first, whatever comes in between', () => {
  const queue = new NumberQueue();
  const waiting: number[] = [];
  let seed = 7;
  const next = (): number => {
    seed = (seed * 48_271) % 2_147_483_647;
    return seed;
  };
  for (let step = 0; step < 2000; step += 1) {
    if (next() % 3 > 0) {
      const value = next() % 500;
      queue.push(value);
      waiting.push(value);
    } else {
      waiting.sort((p, q) => p - q);
      expect(queue.pop()).toBe(waiting.shift());
    }
  }
  waiting.sort((p, q) => p - q);
  for (const value of waiting) expect(queue.pop()).toBe(value);
  expect(queue.pop()).toBeUndefined();
});
