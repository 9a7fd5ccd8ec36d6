/** A length in micrometres with one digit after the point; rounding leaves no minus before a nought. */
export const micrometres = (lengthMm: number): string => (lengthMm * 1000).toFixed(1).replace(/^-0\.0$/, '0.0');
