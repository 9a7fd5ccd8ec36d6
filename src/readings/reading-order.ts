import type { Feature } from '../coupon/features.js';

/** In which order to read: that of the coupon, whose pattern names the most telling first. */
export function planOf(features: readonly Feature[]): readonly Feature[] {
  return features;
}
