import { pushCurve } from './curve.js';
import type { PixelRing } from './follow.js';
import { OutlineBuilder } from './outline-builder.js';
import type { Samples } from './samples.js';

/** placeholder until the next file */
export function fitBits(_ring: PixelRing, samples: Samples): number[] {
  const out = new OutlineBuilder();
  pushCurve(out.flat, samples, 0, samples.count);
  return out.finish();
}
