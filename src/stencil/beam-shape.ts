/** The beam, or a tolerance, in dots: an ellipse that may lean as shear makes it. */
export interface BeamShape {
  readonly halfWidth: number;
  readonly halfHeight: number;
  /** How far its middle moves to the right a dot further down. */
  readonly lean: number;
  /** Of rows of dots: so much of each is film at its upper edge, and as much at its lower one. */
  readonly filmDots: number;
}
