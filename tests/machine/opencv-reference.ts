import { createRequire } from 'node:module';
import type CV from '@techstark/opencv-js';

// Required, not imported: the module has a `then`, and a promise that resolves to it never settles.
const cv = createRequire(import.meta.url)('@techstark/opencv-js') as typeof CV;

/**
 * Areas by OpenCV (a general imaging library, Apache-2.0), on a fine raster: an outside check of polygon offsets.
 */
type Vec = readonly [number, number];

export interface Frame {
  readonly x0: number;
  readonly y0: number;
  readonly width: number;
  readonly height: number;
}

export function boxOf(rings: readonly (readonly Vec[])[], room: number): Frame {
  const xs = rings.flat().map(([x]) => x);
  const ys = rings.flat().map(([, y]) => y);
  const [x0, y0] = [Math.min(...xs) - room, Math.min(...ys) - room];
  return { x0, y0, width: Math.max(...xs) + room - x0, height: Math.max(...ys) + room - y0 };
}

/** Pixels whose centre lies inside by the even-odd rule. */
export function maskOf(rings: readonly (readonly Vec[])[], frame: Frame, perMm: number): Uint8Array {
  const [w, h] = [Math.round(frame.width * perMm), Math.round(frame.height * perMm)];
  const mask = new Uint8Array(w * h);
  for (let row = 0; row < h; row += 1) {
    const y = frame.y0 + (row + 0.5) / perMm;
    const cuts: number[] = [];
    for (const ring of rings) {
      ring.forEach(([ax, ay], i) => {
        const [bx, by] = ring[(i + 1) % ring.length];
        if (ay > y !== by > y) cuts.push(ax + ((y - ay) / (by - ay)) * (bx - ax));
      });
    }
    cuts.sort((p, q) => p - q);
    for (let i = 0; i + 1 < cuts.length; i += 2) {
      const from = Math.ceil((cuts[i] - frame.x0) * perMm - 0.5);
      const to = Math.ceil((cuts[i + 1] - frame.x0) * perMm - 0.5);
      mask.fill(255, row * w + from, row * w + to);
    }
  }
  return mask;
}

/** Waits until the library has started. */
async function ready(): Promise<void> {
  if (cv.Mat) return;
  await new Promise<void>((resolve) => {
    cv.onRuntimeInitialized = () => resolve();
  });
}

/** Area left after eroding with an ellipse of these full widths, mm². */
export async function erodeMask(
  mask: Uint8Array,
  frame: Frame,
  perMm: number,
  widthX: number,
  widthY: number,
): Promise<number> {
  await ready();
  const [w, h] = [Math.round(frame.width * perMm), Math.round(frame.height * perMm)];
  const source = cv.matFromArray(h, w, cv.CV_8UC1, mask as unknown as number[]);
  const target = new cv.Mat();
  const odd = (mm: number): number => 2 * Math.round((mm * perMm) / 2) + 1;
  const kernel = cv.getStructuringElement(cv.MORPH_ELLIPSE, new cv.Size(odd(widthX), odd(widthY)));
  cv.erode(source, target, kernel);
  const area = cv.countNonZero(target) / perMm ** 2;
  for (const mat of [source, target, kernel]) mat.delete();
  return area;
}
