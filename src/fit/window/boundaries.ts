import { expit, fisherUpper } from '../statistics/distributions.js';
import { fitOrdered } from './ordered.js';
import { CELL_LEVELS, type WindowBoundary, type WindowCell } from './types.js';

/** Level numbers: 0 uncut, 1 partial, 2 through, 3 marked. */
export const THROUGH = 2;
export const MARKED = 3;

/** Own slopes are taken only on strong evidence: with few cells parallel boundaries are the safer picture. */
const OWN_SLOPES_LEVEL = 0.01;

export interface Boundaries {
  readonly through: WindowBoundary;
  readonly marked: WindowBoundary;
}

/** The most likely boundaries, and how else they may lie. */
export interface BoundaryModel extends Boundaries {
  draws(): readonly Boundaries[];
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
    const only = {
      through: throughOutermost(cells, direction, THROUGH),
      marked: throughOutermost(cells, direction, MARKED),
    };
    return { ...only, draws: () => [only], model: 'none: every cell came out alike', assumed };
  }
  const parallel = parallelBoundaries(cells, orderedModel(cells, frame, levels));
  const own = parallel.through.seen && parallel.marked.seen ? ownSlopes(cells, frame, parallel) : undefined;
  const what = own ? 'two logistic boundaries with slopes of their own' : 'ordered logistic, parallel boundaries';
  return { ...(own ?? parallel), model: `${what}, on ln power and ln speed, Jeffreys' prior`, assumed };
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
  const only = axes.length === 1 ? axes[0].which : undefined;
  return {
    axes,
    blank: {
      constant: 0,
      slopePower: 0,
      slopeSpeed: 0,
      centre: { powerPercent: Math.exp(mean.power), speedMmS: Math.exp(mean.speed) },
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

/** Constant and slopes in ln units from those on scaled settings; a missing axis follows P/v. */
function unscaled([constant, ...slopes]: readonly number[], frame: Frame): WindowBoundary {
  const slope = (which: Axis['which']): number => {
    const k = frame.axes.findIndex((axis) => axis.which === which);
    return k >= 0 ? slopes[k] / frame.axes[k].size : -slopes[0] / frame.axes[0].size;
  };
  return { ...frame.blank, constant, slopePower: slope('power'), slopeSpeed: slope('speed'), seen: true };
}

/** Where the boundary below a level lies, by parameters of the ordered model. */
type BoundaryOf = (parameters: readonly number[]) => WindowBoundary;

/**
 * The ordered model of levels that begin at each of some cuts.
 *
 * @returns its fit, and the boundary below a level; undefined when no cell lies on one of its sides
 */
function orderedModel(cells: readonly WindowCell[], frame: Frame, cuts: readonly number[]) {
  const counted = cells.map((cell) => ({
    x: scaledSetting(cell, frame),
    counts: cuts.map((cut, j) => levelsOf(cell).filter((level) => level >= cut && !(level >= cuts[j + 1])).length),
  }));
  const fit = fitOrdered(counted);
  if (!fit) throw new Error('the ordered model has no maximum');
  const below = (level: number): BoundaryOf | undefined => {
    const j = cuts.findIndex((cut) => cut >= level);
    return j <= 0 ? undefined : (values) => unscaled([values[j - 1], ...values.slice(cuts.length - 1)], frame);
  };
  return { fit, below };
}

function parallelBoundaries(
  cells: readonly WindowCell[],
  { fit, below }: ReturnType<typeof orderedModel>,
): Boundaries & Pick<BoundaryModel, 'draws'> {
  const [seenThrough, seenMarked] = [below(THROUGH), below(MARKED)];
  const at = (values: readonly number[]): Boundaries => {
    const [through, marked] = [seenThrough?.(values), seenMarked?.(values)];
    return {
      through: through ?? throughOutermost(cells, marked!, THROUGH),
      marked: marked ?? throughOutermost(cells, through!, MARKED),
    };
  };
  return { ...at(fit.parameters), draws: () => fit.draws().map(at) };
}

/** A boundary that no reading shows, laid through the outermost cell on its side: the margin is at least that. */
function throughOutermost(cells: readonly WindowCell[], like: WindowBoundary, level: number): WindowBoundary {
  const logits = cells
    .filter((cell) => levelsOf(cell).includes(THROUGH))
    .map((cell) => boundaryLogit(like, cell.powerPercent, cell.speedMmS) - like.constant);
  const edge = level === MARKED ? Math.max(...logits) : Math.min(...logits);
  return { ...like, constant: -edge, seen: false };
}

export function boundaryLogit(boundary: WindowBoundary, powerPercent: number, speedMmS: number): number {
  return (
    boundary.constant +
    boundary.slopePower * Math.log(powerPercent / boundary.centre.powerPercent) +
    boundary.slopeSpeed * Math.log(speedMmS / boundary.centre.speedMmS)
  );
}

/** Probabilities of coming through, and of being marked; of a boundary that was not seen, those of the clean side. */
export function chancesAt({ through, marked }: Boundaries, powerPercent: number, speedMmS: number) {
  return {
    through: through.seen ? expit(boundaryLogit(through, powerPercent, speedMmS)) : 1,
    marked: marked.seen ? expit(boundaryLogit(marked, powerPercent, speedMmS)) : 0,
  };
}

/** Two separate logistic fits, if they explain the cells clearly better than parallel boundaries and do not cross. */
function ownSlopes(
  cells: readonly WindowCell[],
  frame: Frame,
  parallel: Boundaries,
): ReturnType<typeof parallelBoundaries> | undefined {
  if (frame.axes.length < 2) return undefined;
  const [through, marked] = [THROUGH, MARKED].map((level) => {
    const { fit, below } = orderedModel(cells, frame, [0, level]);
    return { top: below(level)!(fit.parameters), draws: () => fit.draws().map(below(level)!) };
  });
  const own = { through: through.top, marked: marked.top };
  const gain = 2 * (twoSided(cells, own) - twoSided(cells, parallel));
  // Chi-square with two degrees of freedom (a second pair of slopes) as F with infinite ones below.
  const chance = fisherUpper(gain / 2, 2, 1e9);
  const crossed = cells.some(
    ({ powerPercent, speedMmS }) =>
      boundaryLogit(own.through, powerPercent, speedMmS) <= boundaryLogit(own.marked, powerPercent, speedMmS),
  );
  if (chance >= OWN_SLOPES_LEVEL || crossed) return undefined;
  const draws = (): Boundaries[] => {
    const others = marked.draws();
    return through.draws().map((one, i) => ({ through: one, marked: others[i] }));
  };
  return { ...own, draws };
}

/** Log-likelihood of the two yes/no questions "through?" and "marked?". */
function twoSided(cells: readonly WindowCell[], { through, marked }: Boundaries): number {
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
