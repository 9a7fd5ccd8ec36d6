import type { Point } from '../../geometry/types.js';
import { shapeAt } from '../../machine/place-field.js';
import type { FieldShape, PlaceField } from '../../machine/types.js';
import { addedTo, weightedQr } from '../linear/weighted-qr.js';

/** A shape with the period that sines have. */
export interface Shape {
  readonly shape: FieldShape;
  readonly periodMm?: number;
}

export interface AxisMark {
  readonly film: number;
  readonly at: Point;
  /** Off along this axis, mm. */
  readonly value: number;
  readonly weight: number;
}

export type Fitted = ReturnType<AxisFit['fit']>;

/** What must be left of a column beside the others for its gain to be more than rounding. */
const LEAST_LEFT = 3e-5;

/** Least squares of shapes along one axis, beside shift, slope and shear of each film. */
export class AxisFit {
  private readonly straight: Float64Array[];
  private readonly y: Float64Array;
  private readonly weights: Float64Array;

  constructor(
    readonly areaMm: PlaceField['areaMm'],
    readonly marks: readonly AxisMark[],
  ) {
    const [x0, y0, x1, y1] = areaMm;
    const films = [...new Set(marks.map(({ film }) => film))];
    const column = (value: (mark: AxisMark) => number): Float64Array => Float64Array.from(marks, value);
    this.straight = films.flatMap((film) => {
      const own = (value: (p: Point) => number) => column((mark) => (mark.film === film ? value(mark.at) : 0));
      return [
        own(() => 1),
        own(([x]) => (2 * (x - x0)) / (x1 - x0) - 1),
        own(([, y]) => (2 * (y - y0)) / (y1 - y0) - 1),
      ];
    });
    this.y = column(({ value }) => value);
    const mean = marks.reduce((sum, { weight }) => sum + weight, 0) / marks.length;
    this.weights = column(({ weight }) => weight / mean);
  }

  columnOf = ({ shape, periodMm }: Shape): Float64Array =>
    Float64Array.from(this.marks, ({ at }) => shapeAt(shape, periodMm, this.areaMm, at));

  /** By how much further columns would lower the sum of squares. */
  gainOf(shapes: readonly Shape[]): (more: readonly Shape[]) => number {
    const tells = addedTo(weightedQr([...this.straight, ...shapes.map(this.columnOf)], this.y, this.weights));
    return (more) => {
      const { gain, least } = tells(more.map(this.columnOf));
      return least > LEAST_LEFT ? gain : 0;
    };
  }

  /** Of the shapes, without the residual variance, where shift, slope and shear are held. */
  inverseAlone(shapes: readonly Shape[]): readonly (readonly number[])[] {
    return shapes.length === 0 ? [] : weightedQr(shapes.map(this.columnOf), this.y, this.weights).inverse;
  }

  /** @param more - further columns that are fitted beside the shapes and not told */
  fit(shapes: readonly Shape[], more: readonly Float64Array[] = []) {
    const columns = [...this.straight, ...more, ...shapes.map(this.columnOf)];
    const { solution, inverse, leverages } = weightedQr(columns, this.y, this.weights);
    const left = Array.from(this.y, (value, i) => {
      let fitted = 0;
      for (let k = 0; k < columns.length; k += 1) fitted += columns[k][i] * solution[k];
      return value - fitted;
    });
    // What is left of each mark when it had no part in the fit (Allen's PRESS).
    const pressed = left.map((one, i) => one / Math.max(1e-6, 1 - leverages[i]));
    const weighted = (values: readonly number[]): number =>
      values.reduce((sum, one, i) => sum + this.weights[i] * one * one, 0);
    const first = columns.length - shapes.length;
    return {
      /** Of the shapes, mm. */
      values: Array.from(solution.subarray(first)),
      /** Without the residual variance. */
      inverse: inverse.slice(first).map((row) => row.slice(first)),
      left,
      pressed,
      sum: weighted(left),
      press: weighted(pressed),
      dof: this.marks.length - columns.length,
    };
  }
}
