import { Matrix, SVD, solve } from 'ml-matrix';
import { dot } from '../../fit/linear/weighted-qr.js';
import { ringBounds } from '../../geometry/bounds.js';
import type { Affine, Point } from '../../geometry/types.js';
import { grouped } from '../../kept.js';
import { spreadOf } from '../picture/robust.js';

/** One picture of a film: where marks are seen on the glass, and the map from there to the commanded places. */
export interface LaidPicture {
  readonly back: Affine;
  readonly marks: readonly { readonly opening: number; readonly at: Point; readonly seen: Point }[];
}

/** By how much a scanner shows things off their places on its glass: what is bent, not what is stretched or askew. */
export interface OwnBends {
  readonly largestMm: number;
  readonly at: (seen: Point) => Point;
}

/** Parts that turned pictures show by less than this share can't be told from the film's. */
const CLEAR = 0.25;
const ODD = 6;
/** Less than this much better, and smaller than this, mm, they are not worth taking out. */
const LEAST_F = 6;
const LEAST_MM = 0.001;

/**
 * A line of sensors is moved along by a carriage, so what a scanner bends depends on one coordinate at a time. Legendre's
 * polynomials of second and third order, four of each: X along X and along Y, Y along X and along Y.
 */
const TERMS = 8;
function termsAt([x, y]: Point): readonly Point[] {
  return [x, y].flatMap((t) => {
    const [second, third] = [(3 * t * t - 1) / 2, (5 * t * t * t - 3 * t) / 2];
    return [second, third].flatMap((term): Point[] => [[term, 0], [0, term]]); // biome-ignore format: two alike
  });
}

/**
 * Tells the scanner's own bends from the film's: the film's turn with it, the scanner's don't. Of second order all are told
 * by pictures turned by 90 degrees; of third order only what is not alike along both axes, and no more than that is taken.
 *
 * @returns undefined where no picture is turned, or nothing is bent
 */
export function ownBends(pictures: readonly LaidPicture[]): OwnBends | undefined {
  const all = pictures.flatMap(({ marks }) => marks.map(({ seen }) => seen));
  const { minX, minY, maxX, maxY } = ringBounds(all);
  const half = Math.max(maxX - minX, maxY - minY) / 2;
  const unit = ([x, y]: Point): Point => [(x - (minX + maxX) / 2) / half, (y - (minY + maxY) / 2) / half];
  const { plain, terms, values } = equations(pictures, unit, half);
  if (values.length < 4 * (TERMS + (plain[0]?.length ?? 0))) return undefined;
  // What an affine map of each picture explains is none of the scanner's bends.
  const basis = new Matrix(plain);
  const without = (columns: Matrix): Matrix => Matrix.sub(columns, basis.mmul(solve(basis, columns, true)));
  const left = without(Matrix.columnVector(values));
  const seen = without(new Matrix(terms));
  const svd = new SVD(seen, { autoTranspose: true });
  const clear = svd.diagonal.map((one) => one > CLEAR * Math.sqrt(values.length / 2) * 0.4);
  const rank = clear.filter(Boolean).length;
  if (rank === 0) return undefined;
  // What is told: how much each clear part explains.
  const shares = svd.leftSingularVectors
    .transpose()
    .mmul(left)
    .to1DArray()
    .map((share, k) => (clear[k] ? share : 0));
  const parts = Matrix.columnVector(shares.map((share, k) => share / svd.diagonal[k] || 0));
  const weights = svd.rightSingularVectors.mmul(parts).to1DArray();
  const explained = dot(shares, shares);
  const total = left.dot(left);
  const free = values.length / 2 - rank - basis.columns;
  const at = (place: Point): Point => {
    const found = termsAt(unit(place));
    return [0, 1].map((axis) => found.reduce((sum, term, j) => sum + weights[j] * term[axis], 0)) as [number, number];
  };
  const largestMm = Math.max(...all.map((place) => Math.hypot(...at(place))));
  const f = explained / rank / (Math.max(1e-12, total - explained) / Math.max(1, free));
  return f > LEAST_F && largestMm > LEAST_MM ? { largestMm, at } : undefined;
}

/** One row for each axis of each picture of a mark, less the mean of its pictures, in which the film itself goes out. */
function equations(
  pictures: readonly LaidPicture[],
  unit: (seen: Point) => Point,
  half: number,
): { readonly plain: number[][]; readonly terms: number[][]; readonly values: number[] } {
  const marks = pictures.flatMap((picture, k) => picture.marks.map((mark) => ({ ...mark, picture: k })));
  const found: { plain: number[]; terms: number[]; value: number }[] = [];
  for (const group of grouped(marks, ({ opening }) => opening).values()) {
    if (group.length < 2) continue;
    for (const axis of [0, 1] as const) {
      const rows = group.map(({ picture, at, seen }) => {
        const { a, b, c, d, e, f } = pictures[picture].back;
        const back = ([x, y]: Point): number => (axis === 0 ? a * x + b * y : c * x + d * y);
        const affine = [1, at[0] / half, at[1] / half];
        const plain = pictures.slice(1).flatMap((_, k) => {
          const own = k + 1 === picture ? affine : [0, 0, 0];
          return axis === 0 ? [...own, 0, 0, 0] : [0, 0, 0, ...own];
        });
        return { plain, terms: termsAt(unit(seen)).map(back), value: back(seen) + (axis === 0 ? e : f) - at[axis] };
      });
      const less = (of: (row: (typeof rows)[0]) => number[]): number[][] => {
        const lists = rows.map(of);
        const means = lists[0].map((_, j) => lists.reduce((sum, one) => sum + one[j], 0) / lists.length);
        return lists.map((one) => one.map((part, j) => part - means[j]));
      };
      const [plain, terms, values] = [less((row) => row.plain), less((row) => row.terms), less((row) => [row.value])];
      found.push(...rows.map((_, i) => ({ plain: plain[i], terms: terms[i], value: values[i][0] })));
    }
  }
  const room = ODD * Math.max(1e-6, spreadOf(found.map(({ value }) => value)));
  const kept = found.filter(({ value }) => Math.abs(value) < room);
  return {
    plain: kept.map(({ plain }) => plain),
    terms: kept.map(({ terms }) => terms),
    values: kept.map(({ value }) => value),
  };
}
