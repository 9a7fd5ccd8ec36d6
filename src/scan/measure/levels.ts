import type { Tone } from './tone.js';

/** An overshoot of this share of the contrast is no noise: a driver has sharpened. */
export const HALO = 0.04;

/** Edges softer than this, mm, are no flatbed's that is in focus; and softer than so many dots no resolution's. */
const SOFT_MM = 0.055;
const SOFT_DOTS = 0.8;
/** From here on, mm, openings' and webs' levels run into each other, and widths are off by such a share of what is more. */
const MIXED_MM = 0.07;
const MIXED_SHARE = 0.4;

/** Whether a picture is softer than its scanner's dots account for. */
export const isOutOfFocus = ({ sigmaMm }: Sharpness, dotMm: number): boolean =>
  sigmaMm > Math.max(SOFT_MM, SOFT_DOTS * dotMm);

/** By how much widths may be off because edges are too soft, mm; found on simulated scans up to 110 um. */
export const softDoubtMm = ({ sigmaMm }: Sharpness): number => MIXED_SHARE * Math.max(0, sigmaMm - MIXED_MM);

/** What is known of a picture's own sharpness and contrast, from its wide openings. */
export interface Sharpness {
  /** Blur as the standard deviation of the edge's spread, mm. */
  readonly sigmaMm: number;
  /** Level of an opening as a share of the film's beside it: light that falls off leaves it as it is. */
  readonly openShare: number;
  /** By how much the film's side of an edge overshoots, as a share of the contrast: a driver has sharpened it. */
  readonly halo: number;
  /** Share of wide openings whose film or opening lies at the end of the scale. */
  readonly clipped: number;
  readonly tone?: Tone;
  /** How far each edge may be off because levels are not light, mm: what was undone leaves some, and little is not told. */
  readonly uToneMm: number;
}
