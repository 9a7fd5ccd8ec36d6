/** A number (mm, unless the key says otherwise), or an expression such as "width - 10", "12.2 mil" or "pitchX * 4". */
export type Expression = number | string;

/** A coupon's plan: elements that are laid out on the bed and snapped to its dots. */
export interface Pattern {
  readonly $schema?: string;
  readonly format: 'apertrue-pattern';
  readonly version: 1;
  readonly name: string;
  readonly title: string;
  /** First letters of all feature ids, so that ids of different coupons never meet. */
  readonly prefix: string;
  /** A bed that is surely large enough, mm; may use the pitch but not the bed itself. */
  readonly smallestBedMm: readonly [Expression, Expression];
  /** The canvas is made no larger than this, mm; for coupons that go into the margin of something else. */
  readonly largestBedMm?: readonly [Expression, Expression];
  /** Names that the expressions below may use, evaluated in order. `width`, `height`, `pitchX`, `pitchY`, `kerf` are given. */
  readonly parameters?: Readonly<Record<string, Expression>>;
  /** Free film around everything that is measured; default 0.8. */
  readonly clearanceMm?: Expression;
  /** Cap height of labels; default 1.8. */
  readonly letteringMm?: Expression;
  /** What the operator does with it, in order. */
  readonly steps: readonly string[];
  readonly elements: readonly PatternElement[];
}

interface ElementBase {
  /** Laid out only when this is true, for example "height >= 250". */
  readonly when?: string;
  /** Left out where the bed has no room for it; the last such element goes first. */
  readonly optional?: boolean;
}

/** Slots in a row and spans between their near edges. Slots stand square to the axis; each gets a letter and a number. */
export interface RulerElement extends ElementBase {
  readonly kind: 'ruler';
  readonly axis: 'x' | 'y';
  /** Lower left corner of the first slot. */
  readonly at: readonly [Expression, Expression];
  /** From the near edge of the first slot to that of the last; expressions in `spans` may use `length`. */
  readonly lengthMm: Expression;
  /** Width along the axis and length across it. */
  readonly slotMm: readonly [Expression, Expression];
  /** Distances along the ruler from the first near edge; in order of importance, most important first. */
  readonly spans: readonly (readonly [Expression, Expression])[];
  /** Cut a label beside every slot; default true. */
  readonly labels?: boolean;
  /** The slots are windows for the jaws of a caliper: each span is read with the inside and with the outside jaws. */
  readonly jaws?: boolean;
}

/** Equal slanted slots on one line, edges square to it, moved to the nearest free place. Spans between all of them. */
export interface DiagonalElement extends ElementBase {
  readonly kind: 'diagonal';
  readonly from: readonly [Expression, Expression];
  readonly to: readonly [Expression, Expression];
  readonly slots: 2 | 3;
  readonly slotMm: readonly [Expression, Expression];
}

/** One row of a ladder; the row runs along `axis`, and so does what is measured. */
export interface LadderRow {
  readonly measures: 'opening' | 'web' | 'square' | 'circle';
  readonly axis: 'x' | 'y';
  readonly sizesMm: readonly Expression[];
}

/** Rows of openings and webs of rising size, as one block. */
export interface LadderElement extends ElementBase {
  readonly kind: 'ladder';
  /** Where the block goes in the room that it leaves free: 0 left or bottom, 0.5 middle, 1 right or top. */
  readonly place: readonly [Expression, Expression];
  readonly rows: readonly LadderRow[];
  /** Length of slots, across what is measured. */
  readonly slotLengthMm: Expression;
  /** Width of the openings on both sides of a web. */
  readonly webSideMm?: Expression;
  /** Film between two items; default 1.8. */
  readonly gapMm?: Expression;
  /** Film between two rows; default 1.6. */
  readonly rowGapMm?: Expression;
  /** Cut a letter for the row and a number for each item; default true. */
  readonly labels?: boolean;
}

/** Two combs to read by eye. */
export interface VernierElement extends ElementBase {
  readonly kind: 'vernier';
  readonly measures: 'kerf' | 'row-shift';
  readonly axis: 'x' | 'y';
  readonly place: readonly [Expression, Expression];
  /** Shift from one line to the next; made a whole number of dots. */
  readonly stepMm: Expression;
  /** Largest shift that can be read. */
  readonly rangeMm: Expression;
}

/** Filled cells, each burnt with a power and a speed of its own. */
export interface PowerGridElement extends ElementBase {
  readonly kind: 'power-grid';
  readonly cellMm: readonly [Expression, Expression];
  readonly gapMm: Expression;
  readonly powersPercent: readonly number[];
  readonly speedsMmS: readonly number[];
}

/** Squares all over the free bed whose places are read; laid after everything else that is to be there. */
export interface MarksElement extends ElementBase {
  readonly kind: 'marks';
  readonly sizeMm: Expression;
  readonly spacingMm: Expression;
}

/** A text. */
export interface LabelElement extends ElementBase {
  readonly kind: 'label';
  readonly text: string;
  readonly at: readonly [Expression, Expression];
  readonly heightMm?: Expression;
  readonly turnDeg?: 0 | 90;
}

export type PatternElement =
  | RulerElement
  | DiagonalElement
  | LadderElement
  | VernierElement
  | PowerGridElement
  | MarksElement
  | LabelElement;
