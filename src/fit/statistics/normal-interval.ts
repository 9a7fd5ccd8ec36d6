import { normalUpperTail } from './normal-tail.js';

const STEP = 0.004;
/** Beyond this the tail nears the smallest double. */
const HIGHEST = 36;

let table: Float64Array | undefined;

/** P(Z > z) from a table, z >= 0: five digits, in a few nanoseconds. */
function tail(z: number): number {
  if (z >= HIGHEST - STEP) return 0;
  if (!table)
    table = Float64Array.from({ length: Math.round(HIGHEST / STEP) + 1 }, (_, i) => normalUpperTail(i * STEP));
  const place = z / STEP;
  const i = Math.floor(place);
  return table[i] + (place - i) * (table[i + 1] - table[i]);
}

/** P(low < Z < high) of the standard normal distribution; to digits of its own where both lie far out on one side. */
function normalInterval(low: number, high: number): number {
  if (low > 0) return tail(low) - tail(high);
  if (high < 0) return tail(-high) - tail(-low);
  return 1 - tail(-low) - tail(high);
}

/** ln P(Z > z), z > 0, by its leading term: where all that counts is which of two unlikely things is less so. */
const logFarTail = (z: number): number => -0.5 * z * z - Math.log(z) - 0.9189385332046727;

/** Factors that are multiplied before a logarithm is taken, which costs more than they do. */
const LEAST_PRODUCT = 1e-150;

/**
 * Logarithm of the chance that values scattered normally about some places all come out within ± half of them.
 *
 * @param off - how far each value lies from its place, of which `members` count; in the unit of `half` and `sd`
 */
export function logWithin(off: Float64Array, members: readonly number[], half: number, sd: number): number {
  let sum = 0;
  let product = 1;
  for (let m = 0; m < members.length; m += 1) {
    const e = off[members[m]];
    const chance = normalInterval((e - half) / sd, (e + half) / sd);
    if (chance < LEAST_PRODUCT) {
      sum += logFarTail((Math.abs(e) - half) / sd);
      continue;
    }
    product *= chance;
    if (product < LEAST_PRODUCT) {
      sum += Math.log(product);
      product = 1;
    }
  }
  return sum + Math.log(product);
}
