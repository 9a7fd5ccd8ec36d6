import { levelsOf } from './boundaries.js';
import type { WindowCell, WindowContradiction } from './types.js';

/**
 * Cells that can't be right together with others: more power and no more speed can't do less. Names the fewest cells
 * that explain all such pairs: again and again the cell with most pairs, of two alike the one less likely in the model.
 *
 * @param probability - probability of a cell's outcome in the fitted model
 */
export function findContradictions(
  cells: readonly WindowCell[],
  probability: (cell: WindowCell) => number,
): WindowContradiction[] {
  const ranges = cells.map((cell) => {
    const levels = levelsOf(cell);
    return { low: Math.min(...levels), high: Math.max(...levels) };
  });
  const against = cells.map(() => new Set<number>());
  cells.forEach((strong, i) => {
    cells.forEach((weak, j) => {
      if (isStronger(strong, weak) && ranges[i].high < ranges[j].low) {
        against[i].add(j);
        against[j].add(i);
      }
    });
  });
  const all = against.map((set) => [...set]);
  const chances = cells.map(probability);
  const named: number[] = [];
  for (;;) {
    const worst = cells
      .map((_, i) => i)
      .filter((i) => against[i].size > 0)
      .sort((a, b) => against[b].size - against[a].size || chances[a] - chances[b] || a - b)[0];
    if (worst === undefined) break;
    named.push(worst);
    for (const other of against[worst]) against[other].delete(worst);
    against[worst].clear();
  }
  return named.map((i) => describe(cells, i, all[i], chances[i]));
}

function isStronger(a: WindowCell, b: WindowCell): boolean {
  const sameSetting = a.powerPercent === b.powerPercent && a.speedMmS === b.speedMmS;
  return a.powerPercent >= b.powerPercent && a.speedMmS <= b.speedMmS && !sameSetting;
}

function describe(
  cells: readonly WindowCell[],
  i: number,
  others: readonly number[],
  probability: number,
): WindowContradiction {
  const cell = cells[i];
  // The nearest one convinces most.
  const nearest = [...others].sort((a, b) => ratioDistance(cells[a], cell) - ratioDistance(cells[b], cell))[0];
  const other = cells[nearest];
  const outcome = cell.outcomes[0];
  const stronger = isStronger(cell, other);
  const rest = others.length - 1;
  const more = rest === 0 ? '' : `, and ${rest} more ${rest === 1 ? 'cell speaks' : 'cells speak'} against it`;
  return {
    id: cell.id,
    outcome,
    against: others.map((k) => cells[k].id),
    probability,
    say: `${label(cell)} reads ${outcome}, although ${label(other)}, with ${stronger ? 'less' : 'more'} energy, reads ${other.outcomes[0]}${more}. Look at ${others.length > 1 ? 'it' : 'both'} again: a misread cell, a blister in the film, or power that wavered.`,
  };
}

function label(cell: WindowCell): string {
  return `${cell.id} (${cell.powerPercent} %, ${cell.speedMmS} mm/s)`;
}

/** Ratio distance of two settings. */
export function ratioDistance(
  a: Pick<WindowCell, 'powerPercent' | 'speedMmS'>,
  b: Pick<WindowCell, 'powerPercent' | 'speedMmS'>,
): number {
  return Math.hypot(Math.log(a.powerPercent / b.powerPercent), Math.log(a.speedMmS / b.speedMmS));
}
