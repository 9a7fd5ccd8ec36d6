import type { Problem } from '../errors.js';

/** After so many of one kind the reader knows. */
const MOST_OF_A_KIND = 5;

/** The first five problems of each kind and file, and how many more rows have it; the order stays. */
export function capProblems(problems: readonly Problem[]): Problem[] {
  const counts = new Map<string, { seen: number; readonly last: number }>();
  const kindOf = ({ code, place }: Problem): string => JSON.stringify([code, place?.file, place?.key]);
  problems.forEach((problem, i) => {
    const before = counts.get(kindOf(problem));
    counts.set(kindOf(problem), { seen: (before?.seen ?? 0) + 1, last: i });
  });
  const shown = new Map<string, number>();
  return problems.flatMap((problem, i): Problem[] => {
    const kind = kindOf(problem);
    const { seen, last } = counts.get(kind) ?? { seen: 0, last: -1 };
    const number = (shown.get(kind) ?? 0) + 1;
    shown.set(kind, number);
    // A single one more is told sooner than counted.
    if (number <= MOST_OF_A_KIND || seen === MOST_OF_A_KIND + 1) return [problem];
    if (i !== last) return [];
    const more = seen - MOST_OF_A_KIND;
    return [
      {
        code: problem.code,
        place: { file: problem.place?.file },
        message: `and ${more} more rows like these, the last in line ${problem.place?.line ?? '?'}.`,
      },
    ];
  });
}
