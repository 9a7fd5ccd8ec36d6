import { InputError } from '../errors.js';
import { invert, mapRing } from '../geometry/affine.js';
import { boundsOf, ringBounds } from '../geometry/bounds.js';
import { rectangle } from '../geometry/shapes.js';
import type { Box, Opening } from '../geometry/types.js';
import { machineMap } from '../machine/machine-map.js';
import type { MachineModel } from '../machine/types.js';

/** Distance between two neighbouring dots, mm. */
export interface Pitch {
  readonly x: number;
  readonly y: number;
}

/** The canvas, commanded mm, and where its lower left corner lies in the corrected openings' coordinates. */
export interface Frame {
  readonly canvas: { readonly widthMm: number; readonly heightMm: number };
  readonly originMm: readonly [number, number];
}

/** Where to put corrected openings. */
export interface FrameOptions {
  /** Free film around the openings, mm; default {@link DEFAULT_MARGIN_MM}. */
  readonly marginMm?: number;
  /** A fixed canvas, commanded mm. Not given: the openings and the margin. */
  readonly canvas?: { readonly widthMm: number; readonly heightMm: number };
  /** Where the lower left corner of the openings goes on a fixed canvas, commanded mm. Not given: in the middle. */
  readonly atMm?: { readonly x: number; readonly y: number };
}

export const DEFAULT_MARGIN_MM = 5;

/** A length filled up to whole dots; one that is a whole number but for rounding noise stays. */
const wholeDots = (mm: number, pitch: number): number => Math.ceil(mm / pitch - 1e-6) * pitch;

/**
 * The canvas around corrected openings.
 *
 * @param openings - commanded mm
 * @throws {InputError} CANVAS_TOO_SMALL
 */
export function frameAround(
  openings: readonly Opening[],
  pitchMm: Pitch,
  { marginMm = DEFAULT_MARGIN_MM, canvas, atMm }: FrameOptions,
): Frame {
  const box: Box = boundsOf(openings) ?? { minX: 0, minY: 0, maxX: 0, maxY: 0 };
  const width = box.maxX - box.minX;
  const height = box.maxY - box.minY;
  if (!canvas) {
    // Half a dot of room on each side for the rounding to whole dots.
    const room = { x: marginMm + pitchMm.x, y: marginMm + pitchMm.y };
    const widthMm = wholeDots(width + 2 * room.x, pitchMm.x);
    const heightMm = wholeDots(height + 2 * room.y, pitchMm.y);
    return {
      canvas: { widthMm, heightMm },
      originMm: [box.minX - (widthMm - width) / 2, box.minY - (heightMm - height) / 2],
    };
  }
  const lowerLeft = atMm ?? { x: (canvas.widthMm - width) / 2, y: (canvas.heightMm - height) / 2 };
  const over = {
    x: Math.max(width - canvas.widthMm, lowerLeft.x + width - canvas.widthMm, -lowerLeft.x),
    y: Math.max(height - canvas.heightMm, lowerLeft.y + height - canvas.heightMm, -lowerLeft.y),
  };
  if (over.x > 1e-9 || over.y > 1e-9) {
    throw new InputError({
      code: 'CANVAS_TOO_SMALL',
      message: `the openings take ${width.toFixed(3)} x ${height.toFixed(3)} mm as told to the machine and reach beyond the canvas of ${canvas.widthMm} x ${canvas.heightMm} mm by ${Math.max(over.x, 0).toFixed(3)} mm across X and ${Math.max(over.y, 0).toFixed(3)} mm across Y.`,
      hint: 'Give a larger --canvas-mm, another --at-mm, or turn the stencil with --rotate 90.',
    });
  }
  return { canvas, originMm: [box.minX - lowerLeft.x, box.minY - lowerLeft.y] };
}

/** The canvas that makes a sheet of film of this size, mm. */
export function frameOfSheet(
  { widthMm, heightMm }: { readonly widthMm: number; readonly heightMm: number },
  model: MachineModel,
  pitchMm: Pitch,
): Frame {
  const box = ringBounds(mapRing(invert(machineMap(model)), rectangle(0, 0, widthMm, heightMm)));
  return {
    canvas: {
      widthMm: wholeDots(box.maxX - box.minX, pitchMm.x),
      heightMm: wholeDots(box.maxY - box.minY, pitchMm.y),
    },
    originMm: [box.minX, box.minY],
  };
}
