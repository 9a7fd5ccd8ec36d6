import type { Affine } from '../../geometry/types.js';
import type { Clip } from '../paint/drawing.js';
import type { Pen } from '../paint/stroke.js';
import { type ColourSpace, GREY } from './colour-space.js';

export interface PaintState {
  readonly space: ColourSpace;
  readonly rgb: readonly [number, number, number];
  /** Painted with a pattern. */
  readonly pattern: boolean;
}

/** The graphics state (ISO 32000-1, section 8.4), as far as it matters here. Copied on `q`. */
export interface GraphicsState {
  /** From user space to mm. */
  map: Affine;
  clip: Clip | undefined;
  fill: PaintState;
  stroke: PaintState;
  fillAlpha: number;
  strokeAlpha: number;
  /** Of the transparency groups around, together. */
  groupAlpha: number;
  /** Lengths in user space. */
  pen: Pen;
  /** Whether light paint is without effect: multiplying blend modes never make anything lighter. */
  onlyDarkens: boolean;
  softMask: boolean;
  textMode: number;
}

const BLACK_INK: PaintState = { space: GREY, rgb: [0, 0, 0], pattern: false };

export function initialState(map: Affine): GraphicsState {
  return {
    map,
    clip: undefined,
    fill: BLACK_INK,
    stroke: BLACK_INK,
    fillAlpha: 1,
    strokeAlpha: 1,
    groupAlpha: 1,
    pen: { widthMm: 1, cap: 'butt', join: 'miter', miterLimit: 10, dashMm: [], dashOffsetMm: 0 },
    onlyDarkens: false,
    softMask: false,
    textMode: 0,
  };
}

export const CAPS = ['butt', 'round', 'square'] as const;
export const JOINS = ['miter', 'round', 'bevel'] as const;
