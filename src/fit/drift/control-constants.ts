import { logGamma } from '../statistics/special.js';
import { normalUpperTail } from '../window/normal-tail.js';

/** Factors of control charts for subgroups of one size, for limits of three standard deviations. */
export interface ControlConstants {
  /** Mean range over the standard deviation. */
  readonly d2: number;
  /** Standard deviation of the range over that of single values. */
  readonly d3: number;
  /** Mean of the sample standard deviation (divisor n − 1) over the true one. */
  readonly c4: number;
  /** Limits of the mean from the mean range. */
  readonly A2: number;
  /** Limits of the mean from the mean standard deviation. */
  readonly A3: number;
  readonly B3: number;
  readonly B4: number;
  readonly D3: number;
  readonly D4: number;
}

/** Ranges of normal values beyond this many standard deviations have a chance below 1e-18 up to size 1000. */
const FARTHEST = 14;
const LARGEST = 1000;
/** Trapezoid steps of an analytic integrand that dies out at both ends gain digits faster than any power. */
const STEP = 0.0625;
const RANGE_STEPS = 448;

const known = new Map<number, ControlConstants>();

/**
 * The factors for subgroups of `size` values, worked out from their definitions for the normal distribution.
 *
 * @param size - whole number, 2 to 1000
 * @remarks P(R ≤ w) = n ∫ φ(x) (Φ(x + w) − Φ(x))ⁿ⁻¹ dx (H. O. Hartley, Biometrika 32 (1942) 334–348); d2 = ∫ P(R > w) dw
 *   and d2² + d3² = 2 ∫ w P(R > w) dw, by Boole's rule. c4 = √(2/(n − 1)) Γ(n/2)/Γ((n − 1)/2). Which factor is which:
 *   NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1; ISO 7870-2.
 * @throws {RangeError} for other sizes
 * @example controlConstants(5).d2 // 2.3259289…
 */
export function controlConstants(size: number): ControlConstants {
  if (!Number.isInteger(size) || size < 2 || size > LARGEST) {
    throw new RangeError(`expected a subgroup size from 2 to ${LARGEST}, found ${size}.`);
  }
  const before = known.get(size);
  if (before) return before;
  const { d2, d3 } = rangeMoments(size);
  const c4 = Math.sqrt(2 / (size - 1)) * Math.exp(logGamma(size / 2) - logGamma((size - 1) / 2));
  const sdOfS = Math.sqrt(1 - c4 * c4);
  const root = Math.sqrt(size);
  const constants = {
    d2,
    d3,
    c4,
    A2: 3 / (d2 * root),
    A3: 3 / (c4 * root),
    B3: Math.max(0, 1 - (3 * sdOfS) / c4),
    B4: 1 + (3 * sdOfS) / c4,
    D3: Math.max(0, 1 - (3 * d3) / d2),
    D4: 1 + (3 * d3) / d2,
  };
  known.set(size, constants);
  return constants;
}

function rangeMoments(size: number): { d2: number; d3: number } {
  const h = FARTHEST / RANGE_STEPS;
  const side = Math.round(FARTHEST / STEP);
  // Both grids share steps of h, so Φ is worked out once per place.
  const places = 2 * side + 1;
  const ratio = Math.round(STEP / h);
  const below = Float64Array.from({ length: (places - 1) * ratio + 1 + RANGE_STEPS }, (_, k) =>
    normalUpperTail(FARTHEST - k * h),
  );
  let first = 0;
  let second = 0;
  for (let m = 0; m <= RANGE_STEPS; m += 1) {
    let inside = 0;
    for (let i = 0; i < places; i += 1) {
      const x = (i - side) * STEP;
      const share = below[i * ratio + m] - below[i * ratio];
      if (share > 0) inside += Math.exp(-0.5 * x * x) * share ** (size - 1);
    }
    const beyond = 1 - (size * inside * STEP) / Math.sqrt(2 * Math.PI);
    const weight = m === 0 || m === RANGE_STEPS ? 7 : [14, 32, 12, 32][m % 4];
    const share = weight * ((2 * h) / 45) * beyond;
    first += share;
    second += share * 2 * m * h;
  }
  return { d2: first, d3: Math.sqrt(second - first * first) };
}
