import { sandwich } from '../linear/small-matrices.js';
import { expit, fisherUpper } from '../statistics/distributions.js';
import { logistic } from './logistic.js';
import { fitOrdered, type OrderedFit } from './ordered.js';
import { CELL_LEVELS, type WindowBoundary, type WindowCell } from './types.js';

/** Level numbers: 0 uncut, 1 partial, 2 through, 3 marked. */
export const THROUGH = 2;
export const MARKED = 3;

/** Own slopes are taken only on strong evidence: with few cells parallel boundaries are the safer picture. */
const OWN_SLOPES_LEVEL = 0.01;

export interface BoundaryModel {
  readonly through: WindowBoundary;
  readonly marked: WindowBoundary;
  readonly model: string;
  /** Assumptions that the readings can't test. */
  readonly assumed: readonly string[];
}

export function levelsOf(cell: WindowCell): number[] {
  return cell.outcomes.map((outcome) => CELL_LEVELS.indexOf(outcome));
}

/** Fits both boundaries of the window. Needs at least one clean cell. */
export function fitBoundaries(cells: readonly WindowCell[]): BoundaryModel {
  const frame = frameOf(cells);
  const levels = [...new Set(cells.flatMap(levelsOf))].sort((a, b) => a - b);
  const assumed = [...frame.assumed];
  if (levels.length === 1 || frame.axes.length === 0) {
    assumed.push('that power divided by speed decides the cut');
    const direction = { ...frame.blank, slopePower: 1, slopeSpeed: -1 };
    return {
      through: throughOutermost(cells, direction, THROUGH),
      marked: throughOutermost(cells, direction, MARKED),
      model: 'none: every cell came out alike',
      assumed,
    };
  }
  const fit = fitOrdered(orderedCells(cells, frame, levels));
  if (!fit) throw new Error('the ordered model has no maximum');
  const parallel = {
    through: boundaryOf(fit, frame, levels, THROUGH),
    marked: boundaryOf(fit, frame, levels, MARKED),
  };
  const own = parallel.through && parallel.marked ? ownSlopes(cells, frame, parallel) : undefined;
  const seen = own ?? parallel;
  const through = seen.through ?? throughOutermost(cells, seen.marked!, THROUGH);
  const marked = seen.marked ?? throughOutermost(cells, seen.through!, MARKED);
  const what = own ? 'two logistic boundaries with slopes of their own' : 'ordered logistic, parallel boundaries';
  return {
    through,
    marked,
    model: `${what}, on ln power and ln speed, Jeffreys' prior`,
    assumed,
  };
}

interface Axis {
  readonly which: 'power' | 'speed';
  readonly mean: number;
  readonly size: number;
}

interface Frame {
  readonly axes: readonly Axis[];
  readonly blank: WindowBoundary;
  readonly assumed: readonly string[];
}

/** What varies in the grid, centred and scaled. */
function frameOf(cells: readonly WindowCell[]): Frame {
  const logs = { power: cells.map((c) => Math.log(c.powerPercent)), speed: cells.map((c) => Math.log(c.speedMmS)) };
  const axes: Axis[] = [];
  const mean = { power: 0, speed: 0 };
  for (const which of ['power', 'speed'] as const) {
    const values = logs[which];
    mean[which] = values.reduce((sum, value) => sum + value, 0) / values.length;
    const size = Math.sqrt(values.reduce((sum, value) => sum + (value - mean[which]) ** 2, 0) / values.length);
    if (size > 1e-9) axes.push({ which, mean: mean[which], size });
  }
  const zero = [0, 0, 0];
  const only = axes.length === 1 ? axes[0].which : undefined;
  return {
    axes,
    blank: {
      constant: 0,
      slopePower: 0,
      slopeSpeed: 0,
      centre: { powerPercent: Math.exp(mean.power), speedMmS: Math.exp(mean.speed) },
      covariance: [zero, zero, zero],
      seen: false,
    },
    assumed:
      only === undefined
        ? []
        : [
            `that power divided by speed decides the cut: only one ${only === 'power' ? 'speed' : 'power'} was tried, so the margin in ${only === 'power' ? 'speed' : 'power'} is taken from that in ${only}`,
          ],
  };
}

function scaledSetting(cell: WindowCell, frame: Frame): number[] {
  return frame.axes.map(
    ({ which, mean, size }) => (Math.log(which === 'power' ? cell.powerPercent : cell.speedMmS) - mean) / size,
  );
}

function orderedCells(cells: readonly WindowCell[], frame: Frame, levels: readonly number[]) {
  return cells.map((cell) => {
    const own = levelsOf(cell);
    return {
      x: scaledSetting(cell, frame),
      counts: levels.map((level) => own.filter((value) => value === level).length),
    };
  });
}

/** Constant and slopes in ln units from a fit on scaled settings; a missing axis follows P/v. */
function unscaled(
  values: readonly number[],
  covariance: readonly (readonly number[])[],
  frame: Frame,
): Pick<WindowBoundary, 'constant' | 'slopePower' | 'slopeSpeed' | 'covariance'> {
  const back = [[1, ...frame.axes.map(() => 0)]];
  for (const which of ['power', 'speed']) {
    const k = frame.axes.findIndex((axis) => axis.which === which);
    const row = new Array<number>(1 + frame.axes.length).fill(0);
    if (k >= 0) row[1 + k] = 1 / frame.axes[k].size;
    else row[1] = -1 / frame.axes[0].size;
    back.push(row);
  }
  const [constant, slopePower, slopeSpeed] = back.map((row) => row.reduce((sum, f, k) => sum + f * values[k], 0));
  return { constant, slopePower, slopeSpeed, covariance: sandwich(back, covariance) };
}

/** The boundary below `level` in the ordered fit; undefined when no cell lies on one of its sides. */
function boundaryOf(
  fit: OrderedFit,
  frame: Frame,
  levels: readonly number[],
  level: number,
): WindowBoundary | undefined {
  const j = levels.findIndex((value) => value >= level);
  if (j <= 0) return undefined;
  const slopesAt = levels.length - 1;
  const indices = [j - 1, ...frame.axes.map((_, k) => slopesAt + k)];
  const values = indices.map((i) => fit.parameters[i]);
  const covariance = indices.map((a) => indices.map((b) => fit.covariance[a][b]));
  return { ...frame.blank, ...unscaled(values, covariance, frame), seen: true };
}

/** A boundary that no reading shows, laid through the outermost cell on its side: the margin is at least that. */
function throughOutermost(cells: readonly WindowCell[], like: WindowBoundary, level: number): WindowBoundary {
  const logits = cells
    .filter((cell) => levelsOf(cell).includes(THROUGH))
    .map((cell) => boundaryLogit(like, cell.powerPercent, cell.speedMmS) - like.constant);
  const edge = level === MARKED ? Math.max(...logits) : Math.min(...logits);
  const zero = [0, 0, 0];
  return { ...like, constant: -edge, covariance: [zero, zero, zero], seen: false };
}

export function boundaryLogit(boundary: WindowBoundary, powerPercent: number, speedMmS: number): number {
  return (
    boundary.constant +
    boundary.slopePower * Math.log(powerPercent / boundary.centre.powerPercent) +
    boundary.slopeSpeed * Math.log(speedMmS / boundary.centre.speedMmS)
  );
}

/** Probabilities of coming through, and of being marked; of a boundary that was not seen, those of the clean side. */
export function chancesAt({ through, marked }: BoundaryModel, powerPercent: number, speedMmS: number) {
  return {
    through: through.seen ? expit(boundaryLogit(through, powerPercent, speedMmS)) : 1,
    marked: marked.seen ? expit(boundaryLogit(marked, powerPercent, speedMmS)) : 0,
  };
}

/** Two separate logistic fits, if they explain the cells clearly better than parallel boundaries and do not cross. */
function ownSlopes(
  cells: readonly WindowCell[],
  frame: Frame,
  parallel: { through?: WindowBoundary; marked?: WindowBoundary },
): { through: WindowBoundary; marked: WindowBoundary } | undefined {
  if (frame.axes.length < 2) return undefined;
  const rows = cells.map((cell) => [1, ...scaledSetting(cell, frame)]);
  const trials = cells.map((cell) => cell.outcomes.length);
  const [through, marked] = [THROUGH, MARKED].map((level) => {
    const y = cells.map((cell) => levelsOf(cell).filter((value) => value >= level).length);
    const fit = logistic(rows, y, { trials, penalty: 'firth', names: ['constant', 'ln power', 'ln speed'] });
    return { ...frame.blank, ...unscaled(fit.coefficients, fit.covariance, frame), seen: true };
  });
  const gain = 2 * (twoSided(cells, through, marked) - twoSided(cells, parallel.through!, parallel.marked!));
  // Chi-square with two degrees of freedom (a second pair of slopes) as F with infinite ones below.
  const chance = fisherUpper(gain / 2, 2, 1e9);
  const crossed = cells.some(
    (cell) =>
      boundaryLogit(through, cell.powerPercent, cell.speedMmS) <=
      boundaryLogit(marked, cell.powerPercent, cell.speedMmS),
  );
  return chance < OWN_SLOPES_LEVEL && !crossed ? { through, marked } : undefined;
}

/** Log-likelihood of the two yes/no questions "through?" and "marked?". */
function twoSided(cells: readonly WindowCell[], through: WindowBoundary, marked: WindowBoundary): number {
  let total = 0;
  for (const cell of cells) {
    const logits = [through, marked].map((b) => boundaryLogit(b, cell.powerPercent, cell.speedMmS));
    for (const level of levelsOf(cell)) {
      [THROUGH, MARKED].forEach((from, k) => {
        total -= Math.log1p(Math.exp(level >= from ? -logits[k] : logits[k]));
      });
    }
  }
  return total;
}
