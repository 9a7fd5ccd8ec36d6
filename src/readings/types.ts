export type CellOutcome = 'uncut' | 'partial' | 'through' | 'marked';
/** `gone`: a web that burnt away; `closed`: an opening that did not come through. */
export type Outcome = CellOutcome | 'gone' | 'closed';

/** Contract 2: one row of a readings file. At least one of `readingMm` and `outcome` is there. */
export interface Reading {
  readonly feature: string;
  readonly readingMm?: number;
  readonly outcome?: Outcome;
  /** Resolution of the gauge (one digital step or one scale division), mm. */
  readonly resolutionMm?: number;
  /** Standard uncertainty of the reading alone, mm, where a program measured it; what a gauge's readings share is not in it. */
  readonly uncertaintyMm?: number;
  /** Name of the gauge; not given: one for the spans and one for the widths of a coupon. */
  readonly gauge?: string;
  readonly note?: string;
  /** Left out of the fit because the user said so; kept in the profile, so that it stays out. */
  readonly dropped?: boolean;
  /** Where it came from, for messages. */
  readonly file?: string;
  readonly line?: number;
}

/** Columns of a readings file to fill in, in their order. */
export const FORM_COLUMNS = ['feature', 'reading_mm', 'outcome', 'resolution_mm', 'gauge', 'note'] as const;
/** All that a readings file may have: what a program that measures says beside it, too. */
export const READING_COLUMNS = [...FORM_COLUMNS, 'uncertainty_mm', 'gauge_limit_mm'] as const;
export type ReadingColumn = (typeof READING_COLUMNS)[number];
