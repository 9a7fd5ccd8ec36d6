import type { Tone } from './tone.js';

/** An overshoot of this share of the contrast is no noise: a driver has sharpened. */
export const HALO = 0.04;

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
  /** Wide openings that were looked at. */
  readonly count: number;
  readonly tone?: Tone;
  /** How far each edge may be off because levels are not light, mm: what was undone leaves some, and little is not told. */
  readonly uToneMm: number;
}
