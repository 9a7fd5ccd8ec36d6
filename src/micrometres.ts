/** A length in micrometres with one digit after the point; rounding leaves no minus before a nought. */
export const micrometres = (lengthMm: number): string => (lengthMm * 1000).toFixed(1).replace(/^-0\.0$/, '0.0');

/** A number's text with its sign before it, a minus as it is printed. */
export const signed = (text: string): string => (text.startsWith('-') ? text.replace('-', '−') : `+${text}`);
