import { geometricMean } from '../statistics/averages.js';
import { expit } from '../statistics/distributions.js';
import { drawEdges, type Edges } from './ordered.js';
import { CELL_LEVELS, type WindowBoundary, type WindowCell } from './types.js';

/** Level numbers: 0 uncut, 1 partial, 2 through, 3 marked. */
export const THROUGH = 2;
export const MARKED = 3;

/** The boundaries in the middle of where they may lie, and all others as they may. */
export type BoundaryModel = ReturnType<typeof fitBoundaries>;

export function levelsOf(cell: WindowCell): number[] {
  return cell.outcomes.map((outcome) => CELL_LEVELS.indexOf(outcome));
}

/** By the ratios of powers and of speeds. */
export const middleOfCells = (cells: readonly WindowCell[]): WindowBoundary['centre'] => ({
  powerPercent: geometricMean(cells.map((cell) => cell.powerPercent)),
  speedMmS: geometricMean(cells.map((cell) => cell.speedMmS)),
});

/** Fits both boundaries of the window. Needs at least one clean cell. */
export function fitBoundaries(cells: readonly WindowCell[]) {
  const centre = middleOfCells(cells);
  const varies = (of: (cell: WindowCell) => number): boolean => cells.some((cell) => of(cell) !== of(cells[0]));
  const [powers, speeds] = [varies((cell) => cell.powerPercent), varies((cell) => cell.speedMmS)];
  const read = cells.flatMap((cell) => levelsOf(cell).map((level) => ({ ...logsOf(cell, centre), level })));
  const draws = drawEdges(read, powers && speeds);
  const middle = (of: keyof Edges): number => Float64Array.from(draws, (one) => one[of]).sort()[draws.length >> 1];
  const scatter = middle('scatter');
  const boundary = (which: 'through' | 'marked', isBeyond: (level: number) => boolean): WindowBoundary => ({
    constant: -middle(which) / scatter,
    slopePower: 1 / scatter,
    slopeSpeed: -middle(`${which}Speed`) / scatter,
    centre,
    seen: read.some(({ level }) => isBeyond(level)),
  });
  return {
    through: boundary('through', (level) => level < THROUGH),
    marked: boundary('marked', (level) => level === MARKED),
    draws,
    model:
      'ordered logistic boundaries on ln power and ln speed; how wide windows are and how much lasers waver as usual, where cells do not tell',
    /** Assumptions that the readings can't test. */
    assumed: powers && speeds ? [] : [assumption(powers, speeds)],
  };
}

/** ln power and ln speed, from the middle of the grid. */
export function logsOf(
  { powerPercent, speedMmS }: Pick<WindowCell, 'powerPercent' | 'speedMmS'>,
  centre: WindowBoundary['centre'],
): { readonly power: number; readonly speed: number } {
  return { power: Math.log(powerPercent / centre.powerPercent), speed: Math.log(speedMmS / centre.speedMmS) };
}

function assumption(powers: boolean, speeds: boolean): string {
  const why = 'that power divided by speed decides the cut';
  if (!powers && !speeds) return why;
  const [one, other] = powers ? ['speed', 'power'] : ['power', 'speed'];
  return `${why}: only one ${one} was tried, so the margin in ${one} is taken from that in ${other}`;
}

/** Probabilities of coming through, and of being marked, wherever the boundaries may lie. */
export function chancesAt(model: BoundaryModel, at: Pick<WindowCell, 'powerPercent' | 'speedMmS'>) {
  const { power, speed } = logsOf(at, model.through.centre);
  let [through, marked] = [0, 0];
  for (const one of model.draws) {
    through += expit((power - one.throughSpeed * speed - one.through) / one.scatter);
    marked += expit((power - one.markedSpeed * speed - one.marked) / one.scatter);
  }
  return { through: through / model.draws.length, marked: marked / model.draws.length };
}

/** The same with one draw in four: enough where thousands of settings are looked at. */
export function thinned(model: BoundaryModel): BoundaryModel {
  return { ...model, draws: model.draws.filter((_, i) => i % 4 === 0) };
}
