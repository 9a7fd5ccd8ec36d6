/** The beam, or a tolerance, in dots: an ellipse that may lean as shear makes it. */
export interface BeamShape {
  readonly halfWidth: number;
  readonly halfHeight: number;
  /** How far its middle moves to the right a dot further down. */
  readonly lean: number;
}
