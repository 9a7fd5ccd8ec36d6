/** Columns of a readings file to fill in, in their order. */
export const FORM_COLUMNS = ['feature', 'reading_mm', 'outcome', 'resolution_mm', 'gauge', 'note'] as const;
/** All that a readings file may have: what a program that measures says beside it, too. */
export const READING_COLUMNS = [...FORM_COLUMNS, 'uncertainty_mm', 'gauge_limit_mm'] as const;
export type ReadingColumn = (typeof READING_COLUMNS)[number];
