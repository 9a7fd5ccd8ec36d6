/** The chance of a test, as it is printed. */
export const chanceWords = (p: number): string => (p < 0.0001 ? 'p < 0.0001' : `p = ${p.toPrecision(2)}`);
