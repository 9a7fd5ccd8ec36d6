import type { Feature } from '../../coupon/features.js';
import { couponOrder } from './coupon-order.js';

/** In which order to read: the most telling first; as the coupon has it where there is nothing to choose. */
export function planOf(features: readonly Feature[]): readonly Feature[] {
  return couponOrder({ features: { features } })?.features ?? features;
}
