/** A point, mm; x to the right, y up. */
export type Point = readonly [x: number, y: number];

/** Two values: one along X, one along Y. */
export interface PerAxis {
  readonly x: number;
  readonly y: number;
}

/** A size, mm. */
export interface Size {
  readonly widthMm: number;
  readonly heightMm: number;
}

/** A closed polygon, mm. The last point joins the first, which is not repeated. At least three points. */
export type Ring = readonly Point[];

/** An area with a boundary: one outer ring (counter-clockwise) and rings cut out of it (clockwise). */
export interface Region {
  readonly outer: Ring;
  /** Film left standing inside; clockwise rings that lie within `outer`. */
  readonly islands: readonly Ring[];
}

/** An axis-parallel box, mm. */
export interface Box {
  readonly minX: number;
  readonly minY: number;
  readonly maxX: number;
  readonly maxY: number;
}

/** The map p -> [[a, b], [c, d]] p + [e, f]: x' = a x + b y + e, y' = c x + d y + f. */
export interface Affine {
  readonly a: number;
  readonly b: number;
  readonly c: number;
  readonly d: number;
  readonly e: number;
  readonly f: number;
}

/** What the artwork said about an opening. All of it optional, none of it needed for geometry. */
export interface OpeningTag {
  /** How it was drawn; `traced` for one found in an image, `mixed` for several objects that touch. */
  readonly drawn?: 'flash' | 'stroke' | 'region' | 'path' | 'traced' | 'mixed';
  /** Shape family as the artwork names it, for example `circle`, `rectangle`, `obround`, `polygon`, a macro's name. */
  readonly shape?: string;
  /** Component reference designator (Gerber .C or .P object attribute). */
  readonly component?: string;
  /** Pin number or name (Gerber .P object attribute). */
  readonly pin?: string;
  /** Other attributes by name, values joined by commas. */
  readonly attributes?: Readonly<Record<string, string>>;
  /** Line of the source file on which it was drawn. */
  readonly line?: number;
  /** Traced ones: what was drawn alike may differ by so much, mm. */
  readonly stepMm?: number;
}

/** One hole that the finished film shall have, mm. */
export interface Opening extends Region {
  readonly tag?: OpeningTag;
}
