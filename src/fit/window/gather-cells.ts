import type { CellFeature, Feature } from '../../coupon/features.js';
import { type Problem, refuseAll, type Warning } from '../../errors.js';
import { present } from '../../kept.js';
import type { ReadingSession } from '../../machine/types.js';
import type { CellOutcome, Reading } from '../../readings/types.js';
import { copiedRows } from '../calibration/observations.js';
import { CELL_LEVELS, type WindowCell } from './types.js';

/** Joins readings to the cells they were taken from; several readings of one cell stay together, in their order. */
export function gatherCells(
  readings: readonly Reading[],
  features: readonly Feature[],
  ignore: readonly string[],
): { cells: WindowCell[]; warnings: Warning[] } {
  const cells = features.filter((feature): feature is CellFeature => feature.kind === 'cell');
  const others = new Set(features.filter((feature) => feature.kind !== 'cell').map((feature) => feature.id));
  const outcomes = new Map(cells.map((cell) => [cell.id, [] as CellOutcome[]]));
  const problems: Problem[] = cells.flatMap(settingProblems);
  const unknown: Reading[] = [];
  for (const reading of readings) {
    const { feature, outcome } = reading;
    const list = outcomes.get(feature);
    if (!list) {
      if (!others.has(feature)) unknown.push(reading);
    } else if (outcome === undefined || outcome === 'gone' || outcome === 'closed') {
      problems.push(outcomeProblem(reading));
    } else list.push(outcome);
  }
  refuseAll(problems);
  const missing = cells.flatMap(({ id }) => (outcomes.get(id)!.length === 0 ? id : []));
  const read = cells.filter((cell) => outcomes.get(cell.id)!.length > 0 && !ignore.includes(cell.id));
  return {
    cells: read.map(({ id, powerPercent, speedMmS }) => ({ id, powerPercent, speedMmS, outcomes: outcomes.get(id)! })),
    warnings: gapWarnings(unknown, missing, cells.length),
  };
}

function settingProblems({ id, powerPercent, speedMmS }: CellFeature): Problem[] {
  return present(
    !(powerPercent > 0 && speedMmS > 0 && Number.isFinite(powerPercent / speedMmS)) && {
      code: 'SETTING_NOT_POSITIVE',
      message: `cell ${id}: expected power and speed > 0, found ${powerPercent} % and ${speedMmS} mm/s.`,
      hint: 'A cell without power or speed says nothing about the window; leave it out.',
    },
  );
}

function outcomeProblem({ feature, file, line, outcome }: Reading): Problem {
  return {
    code: 'CELL_OUTCOME',
    place: { file, line, key: 'outcome' },
    message: `cell ${feature}: expected one of ${CELL_LEVELS.join(', ')}; found ${outcome === undefined ? 'no outcome' : `"${outcome}"`}.`,
    hint: 'A cell is uncut, partial (not through everywhere), through, or marked (through, with damage).',
  };
}

const someOf = (names: readonly string[]): string => `${names.slice(0, 5).join(', ')}${names.length > 5 ? ', …' : ''}.`;

/** What belongs to no cell, and cells that nothing belongs to. */
function gapWarnings(unknown: readonly Reading[], missing: readonly string[], count: number): Warning[] {
  const names = [...new Set(unknown.map(({ feature }) => feature))];
  return present<Warning>(
    names.length > 0 && {
      code: 'UNKNOWN_FEATURE',
      place: { file: unknown[0].file, line: unknown[0].line },
      message: `${names.length} readings belong to no cell of these features and were passed over: ${someOf(names)}`,
      hint: 'Give the features file that was written with the coupon.',
    },
    missing.length > 0 &&
      missing.length < count && {
        code: 'CELLS_NOT_READ',
        message: `${missing.length} of ${count} cells have no reading: ${someOf(missing)}`,
        hint: 'The window rests on the other cells; a gap next to a boundary makes it less certain.',
      },
  );
}

/**
 * Puts several grids of one film together. Cells that bear one name in several grids get the grid's number in front
 * (`2:P60V8`), unless it is the same cell (same name, power and speed) read again. Rows that were copied count once.
 */
export function joinGrids(sessions: readonly Pick<ReadingSession, 'coupon' | 'features' | 'readings'>[]): {
  readings: Reading[];
  features: Feature[];
} {
  const features = new Map<string, Feature>();
  const readings: Reading[] = [];
  sessions.forEach((session, number) => {
    const names = new Map<string, string>();
    for (const feature of session.features) {
      const known = features.get(feature.id);
      const name = known && !isSame(known, feature) ? `${number + 1}:${feature.id}` : feature.id;
      names.set(feature.id, name);
      features.set(name, name === feature.id ? feature : { ...feature, id: name });
    }
    const copies = copiedRows(session);
    session.readings.forEach((reading, i) => {
      if (!copies.has(i)) readings.push({ ...reading, feature: names.get(reading.feature) ?? reading.feature });
    });
  });
  return { readings, features: [...features.values()] };
}

function isSame(a: Feature, b: Feature): boolean {
  if (a.kind !== 'cell' || b.kind !== 'cell') return a.kind === b.kind;
  return a.powerPercent === b.powerPercent && a.speedMmS === b.speedMmS;
}
