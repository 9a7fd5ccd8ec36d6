import type { Warning } from '../../errors.js';
import { invert, mapPoint } from '../../geometry/affine.js';
import type { Affine, Point } from '../../geometry/types.js';
import { grouped, present } from '../../kept.js';
import { fitAffine } from '../picture/fit-affine.js';
import { medianOf } from '../picture/robust.js';
import { type OwnBends, ownBends } from './own-bends.js';
import type { ScannerFit } from './scanner.js';

/** Where one picture shows the middle of an opening, mm of the scanner, y down as in the picture. */
export interface SeenMark {
  readonly opening: number;
  /** As commanded. */
  readonly at: Point;
  readonly seen: Point;
  readonly uMm: number;
}

/** The middle of an opening on the film, mm, in axes of its own: shift and turn are free. */
export interface FilmMark extends SeenMark {
  /** Pictures that showed it. */
  readonly pictures: number;
}

export interface FilmMarks {
  readonly marks: readonly FilmMark[];
  /** By how much pictures differ about a mark along one axis, mm; undefined for one picture. */
  readonly betweenMm?: number;
  /** What the scanner itself bends, at most, mm: taken out of the marks. Undefined where it can't be told, or is nothing. */
  readonly scannerBendsMm?: number;
  /** Two pictures show the film more than 45 degrees apart. */
  readonly turned: boolean;
}

/** Fewer say nothing of a bed. */
export const LEAST_MARKS = 20;

/**
 * Puts together where several pictures show the marks of one film. Each is laid on the commanded places by an affine map of
 * its own, so that only what departs from straight lines is averaged. Of a film that was turned, the scanner's own bends
 * are told by how the pictures differ, and taken out first; what is left of them is in the uncertainty.
 */
export function marksOnFilm(
  pictures: readonly (readonly SeenMark[])[],
  { strain }: Pick<ScannerFit, 'strain'>,
): FilmMarks {
  const [eX, eY, k] = strain;
  const stretch: Affine = { a: Math.exp(eX), b: k / 2, c: k / 2, d: Math.exp(eY), e: 0, f: 0 };
  const lay = (marks: readonly SeenMark[]) => {
    const map = fitAffine(marks.map(({ at, seen }) => [at, seen]))?.map;
    return map && marks.length >= LEAST_MARKS ? [{ map, back: invert(map), marks }] : [];
  };
  const bent = pictures
    .map((marks) => marks.map((mark) => ({ ...mark, seen: mapPoint(stretch, mark.seen) })))
    .flatMap(lay);
  if (bent.length === 0) return { marks: [], turned: false };
  const turned = isTurned(bent.map(({ map }) => map));
  const bends = turned ? ownBends(bent) : undefined;
  const laid = bends ? bent.flatMap(({ marks }) => lay(marks.map((mark) => unbent(mark, bends)))) : bent;
  const seen = laid.flatMap(({ back, marks }) =>
    marks.map((mark) => {
      const [x, y] = mapPoint(back, mark.seen);
      return { ...mark, off: [x - mark.at[0], y - mark.at[1]] };
    }),
  );
  const all = [...grouped(seen, ({ opening }) => opening).values()];
  const differences = all.flatMap(([{ off: one }, other]) =>
    other === undefined ? [] : [0, 1].map((axis) => Math.abs(one[axis] - other.off[axis])),
  );
  const betweenMm = differences.length > 0 ? (1.4826 * medianOf(differences)) / Math.SQRT2 : undefined;
  // Of a film that lay upside down the map mirrors, and its own axes would be left-handed.
  const { map } = laid[0];
  const upright: Affine = map.a * map.d - map.b * map.c > 0 ? map : { ...map, c: -map.c, d: -map.d, f: -map.f };
  return {
    marks: all.map((group) => {
      const [{ opening, at }] = group;
      const mean = (axis: 0 | 1): number => medianOf(group.map(({ off }) => off[axis]));
      const uMm = Math.max(
        Math.hypot(...group.map((one) => one.uMm)) / group.length,
        (betweenMm ?? 0) / Math.sqrt(group.length),
      );
      return { opening, at, seen: mapPoint(upright, [at[0] + mean(0), at[1] + mean(1)]), uMm, pictures: group.length };
    }),
    ...{ betweenMm, scannerBendsMm: bends?.largestMm, turned },
  };
}

function unbent(mark: SeenMark, { at }: OwnBends): SeenMark {
  const [x, y] = at(mark.seen);
  return { ...mark, seen: [mark.seen[0] - x, mark.seen[1] - y] };
}

/** Quarter turns show what half turns don't. */
function isTurned(maps: readonly Affine[]): boolean {
  const [first, ...others] = maps.map(({ a, c }): Point => [a / Math.hypot(a, c), c / Math.hypot(a, c)]);
  return others.some(([x, y]) => Math.abs(x * first[0] + y * first[1]) < Math.SQRT1_2);
}

/** Pictures that differ by more are not of one mind, mm. */
const UNSTEADY_MM = 0.01;

/** What the places of a film deserve to be told. @param reversed - whether films were turned between their pictures at all */
export function placeWarnings(
  coupon: string,
  { turned, betweenMm = 0 }: Pick<FilmMarks, 'turned' | 'betweenMm'>,
  { reversed }: { readonly reversed: boolean },
): Warning[] {
  const bends = !turned && reversed;
  return present(
    bends && {
      code: 'SCAN_BENDS',
      message: `no two pictures of ${coupon} that lie turned against each other show enough of its places: these hold the scanner’s own bends, too.`,
      hint: 'Scan all of it once more, turned by 90 degrees.',
    },
    !bends &&
      betweenMm >= UNSTEADY_MM && {
        code: 'SCAN_UNSTEADY',
        message: `pictures of ${coupon} differ by ${(1000 * betweenMm).toFixed(0)} µm about its places: the carriage is jerky, or the film did not lie flat. That is in their uncertainty.`,
        hint: 'Scan it a few times more, at other places of the glass: what differs averages out.',
      },
  );
}
