export const MM_PER_INCH = 25.4;

/** Dots per inch in words, for a distance of dots. */
export const dpiWords = (pitchMm: number): string => `${Number((MM_PER_INCH / pitchMm).toFixed(2))}`;
