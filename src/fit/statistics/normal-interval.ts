import { normalUpperTail } from '../window/normal-tail.js';

const STEP = 0.01;
const HIGHEST = 38;

let table: Float64Array | undefined;

/** ln P(Z > z) from a table, z >= 0: five digits, in a few nanoseconds. */
function logTail(z: number): number {
  if (z >= HIGHEST - STEP) return -0.5 * z * z - Math.log(z) - 0.9189385332046727;
  if (!table) {
    table = new Float64Array(Math.round(HIGHEST / STEP) + 2);
    for (let i = 0; i < table.length; i += 1) {
      const at = i * STEP;
      // Beyond 37 the tail itself is below the smallest double.
      table[i] = at < 37 ? Math.log(normalUpperTail(at)) : -0.5 * at * at - Math.log(at) - 0.9189385332046727;
    }
  }
  const place = z / STEP;
  const i = Math.floor(place);
  return table[i] + (place - i) * (table[i + 1] - table[i]);
}

/** ln P(low < Z < high) of the standard normal distribution, also where both lie far out on one side. */
export function logNormalInterval(low: number, high: number): number {
  if (low > 0) {
    const near = logTail(low);
    return near + Math.log1p(-Math.exp(logTail(high) - near));
  }
  if (high < 0) return logNormalInterval(-high, -low);
  return Math.log1p(-Math.exp(logTail(-low)) - Math.exp(logTail(high)));
}
