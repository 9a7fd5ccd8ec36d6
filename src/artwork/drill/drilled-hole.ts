import type { Point } from '../../geometry/types.js';

/** A drilled hole or slot, mm. */
export interface DrilledHole {
  readonly x: number;
  readonly y: number;
  readonly diameterMm: number;
  /** The other end of a slot. A routed arc comes as several slots end to end. */
  readonly slotTo?: Point;
}
