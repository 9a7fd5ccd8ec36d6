import type { Point, Size } from '../../geometry/types.js';
import { leastSquares } from '../linear/least-squares.js';
import { median } from '../statistics/averages.js';

/** Where a mark of a coupon was commanded, and where it was seen on the film. */
export interface MarkPlace {
  readonly at: Point;
  /** In axes of the gauge's own: any shift and turn. mm. */
  readonly seen: Point;
  /** Standard uncertainty of the place along one axis, mm. */
  readonly uMm?: number;
}

/** The marks of one film, seen without moving it. */
export interface FilmPlaces {
  readonly coupon: string;
  readonly canvas: Size;
  readonly marks: readonly MarkPlace[];
}

/** No scan knows a place better, mm. */
const LEAST_U_MM = 0.0005;
const USUAL_U_MM = 0.01;
const LEAST_OF_A_FILM = 6;

/**
 * Takes shift, turn, scale and shear of each film out, marks that lie far off all others counting nothing.
 *
 * @returns each mark, and how far it lies from where its film's own affine map puts it, commanded mm
 */
export function straightResiduals(films: readonly FilmPlaces[]) {
  return films.flatMap(({ marks }, film) => {
    if (marks.length < LEAST_OF_A_FILM) return [];
    let kept = marks;
    let back = mapOf(kept);
    for (let round = 0; round < 4; round += 1) {
      const off = marks.map((mark) => Math.hypot(...offOf(mark, back)));
      const limit = 8 * (median(off) ?? 0) + 0.02;
      const next = marks.filter((_, i) => off[i] < limit);
      if (next.length === kept.length || next.length < LEAST_OF_A_FILM) break;
      kept = next;
      back = mapOf(kept);
    }
    return marks.map((mark) => ({
      film,
      at: mark.at,
      off: offOf(mark, back),
      uMm: Math.max(LEAST_U_MM, mark.uMm ?? USUAL_U_MM),
    }));
  });
}

/** From the film's axes back to the commanded ones. */
type Back = (seen: Point) => Point;

const offOf = ({ at, seen }: MarkPlace, back: Back): Point => {
  const [x, y] = back(seen);
  return [x - at[0], y - at[1]];
};

function mapOf(marks: readonly MarkPlace[]): Back {
  const rows = marks.map(({ seen }) => [1, seen[0], seen[1]]);
  const [x, y] = [0, 1].map(
    (k) =>
      leastSquares(
        rows,
        marks.map(({ at }) => at[k]),
      ).coefficients,
  );
  return ([u, v]) => [x[0] + x[1] * u + x[2] * v, y[0] + y[1] * u + y[2] * v];
}
