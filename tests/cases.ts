/** Times as many random cases as in everyday runs: `CASES_TIMES=20 npx vitest run tests/artwork`. */
const TIMES = Number(process.env.CASES_TIMES ?? 1);

/** How many random cases a test takes: a few each time, many where somebody asks for them. */
export const cases = (few: number): number => Math.round(few * TIMES);
