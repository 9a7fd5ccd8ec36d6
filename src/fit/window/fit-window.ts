import type { Feature } from '../../coupon/features.js';
import { demand, type Warning } from '../../errors.js';
import { present } from '../../kept.js';
import type { Reading } from '../../readings/types.js';
import { threeDigits } from '../../text.js';
import { type BoundaryModel, chancesAt, fitBoundaries, levelsOf, MARKED, THROUGH, thinned } from './boundaries.js';
import { findContradictions } from './contradictions.js';
import { gatherCells } from './gather-cells.js';
import { type FilmWords, gentler, noMargin, refusalFor } from './refusal.js';
import type { WindowCell, WindowMap, WindowRefusal, WindowResult, WindowSetting } from './types.js';
import { marginWords, narrowestTold, probabilityClean, ratioSteps, widestSetting } from './widest-setting.js';

export interface WindowOptions extends FilmWords {
  /** Cells to leave out, by id. Nothing is left out unless told. */
  readonly ignore?: readonly string[];
  /** Steps of the map along each axis, default 40. */
  readonly mapSteps?: number;
}

/** Margins narrower than this deserve a finer grid: lens dirt and a warm tube move the power by as much (common practice). */
const NARROW_PERCENT = 10;
/** A setting less likely to be clean is none to cut a stencil with; such settings are as likely as told (DEVELOPERS). */
const SURE_ENOUGH = 0.75;
export const isUncertain = ({ probabilityClean: clean }: WindowSetting): boolean => clean < SURE_ENOUGH;

const isNarrow = ({ narrowestMarginPercent: margin }: WindowSetting): boolean => margin < NARROW_PERCENT;
/** Whether it is what was tried that leaves a setting no more room, not an edge: another grid shows more. */
export const isCramped = (setting: WindowSetting, { boundaries }: Pick<WindowResult, 'boundaries'>): boolean =>
  isNarrow(setting) && boundaries !== undefined && !(boundaries.through.seen && boundaries.marked.seen);

/** Share of the cells that may be misread. */
const MOST_WRONG = 0.15;

/**
 * The process window of one laser, film and number of passes from a power/speed grid: where the cut comes through and
 * leaves no mark, and the setting that stays furthest from both edges.
 *
 * @param readings - outcomes of the cells, several of one cell allowed; readings of other features are passed over
 * @param features - the coupon's features; several grids may be joined when their ids differ
 * @returns the setting with its margins, or a refusal that says what to cut next; contradictory cells by name
 * @throws {InputError} NO_CELLS, CELL_OUTCOME, SETTING_NOT_POSITIVE
 * @remarks Ordered logistic model on ln power and ln speed, drawn by what the cells tell and by what is usual of lasers
 *   where they do not: cleanly parted grids (the normal case) do not tell how much a machine wavers. Boundaries are where
 *   the odds are even. Margins are balanced in ratio: the power may fall by the factor by which it may rise.
 * @example fitWindow(cells, grid).cells.length
 */
export function fitWindow(
  readings: readonly Reading[],
  features: readonly Feature[],
  options: WindowOptions = {},
): WindowResult {
  const { cells, warnings } = gatherCells(readings, features, options.ignore ?? []);
  demand(
    cells.length > 0,
    'NO_CELLS',
    'no cell with an outcome was found in these readings.',
    'Read the power/speed grid: uncut, partial, through or marked for each cell.',
  );
  const result = fitCells(cells, options);
  const sure = result.contradictions.map((contradiction) => contradiction.id);
  const rest = cells.filter((cell) => !sure.includes(cell.id));
  const without = sure.length > 0 && rest.length > 0 ? fitCells(rest, options).setting : undefined;
  return {
    ...result,
    ...(without ? { settingWithoutContradictions: without } : {}),
    warnings: [...warnings, ...result.warnings],
  };
}

function fitCells(cells: readonly WindowCell[], options: WindowOptions): WindowResult {
  const refusal = refusalFor(cells, options);
  if (refusal) {
    return { cells, model: 'none', refusal, contradictions: findContradictions(cells, () => 0.5), warnings: [] };
  }
  const model = fitBoundaries(cells);
  const contradictions = findContradictions(cells, (cell) => outcomeProbability(model, cell));
  const base = {
    cells,
    boundaries: { through: model.through, marked: model.marked },
    model: model.model,
    map: mapOf(cells, model, options.mapSteps ?? 40),
    contradictions,
  };
  const setting = widestSetting(cells, model);
  const broken = contradictory(cells, contradictions.length) ?? noMargin(cells, setting, options);
  if (broken) return { ...base, refusal: broken, warnings: [] };
  return { ...base, setting, warnings: cautions(model, setting, options) };
}

/** Probability of what was read there, the levels below "through" taken together. */
function outcomeProbability(model: BoundaryModel, cell: WindowCell): number {
  const { through, marked } = chancesAt(model, cell);
  const chances = levelsOf(cell).map((level) =>
    level >= MARKED ? marked : level === THROUGH ? Math.max(0, through - marked) : 1 - through,
  );
  return Math.min(...chances);
}

function mapOf(cells: readonly WindowCell[], model: BoundaryModel, steps: number): WindowMap {
  const axis = (values: readonly number[]): number[] =>
    ratioSteps(
      [...values].sort((a, b) => a - b),
      steps,
    );
  const powersPercent = axis(cells.map((cell) => cell.powerPercent));
  const speedsMmS = axis(cells.map((cell) => cell.speedMmS));
  const fewer = thinned(model);
  return {
    powersPercent,
    speedsMmS,
    probabilityClean: powersPercent.map((powerPercent) =>
      speedsMmS.map((speedMmS) => probabilityClean(fewer, { powerPercent, speedMmS })),
    ),
  };
}

/** Cells that can't be right are a slip or two; with more of them any edge is a guess, or they were read the wrong way round. */
function contradictory(cells: readonly WindowCell[], wrong: number): WindowRefusal | undefined {
  if (wrong <= Math.max(1, MOST_WRONG * cells.length)) return undefined;
  return {
    code: 'CONTRADICTORY',
    message: `${wrong} of ${cells.length} cells can't be right together with the others: these readings show no edges at which more power or less speed cuts deeper.`,
    remedies: [
      'Check that the coupon was not read upside down or mirrored: its labels tell which corner is which, and which outcome is whose.',
      'Check that the settings were burnt in the order of the step list.',
      'Let the laser cool down, clean the lens, and cut the grid again.',
    ],
  };
}

function cautions(model: BoundaryModel, setting: WindowSetting, { fixed = [] }: FilmWords): Warning[] {
  // What one of the two would do is assumed; of a machine that can't set it nobody asks.
  const assumed = fixed.length > 0 ? [] : model.assumed;
  const going = (power: string, speed: string): string =>
    present(!fixed.includes('power') && `${power} power`, !fixed.includes('speed') && `${speed} speed`).join(' or ');
  const unseen = [
    { boundary: model.through, beyond: 'uncut or partial', go: going('less', 'more') },
    { boundary: model.marked, beyond: 'marked', go: going('more', 'less') },
  ].filter(({ boundary }) => !boundary.seen);
  const around = `${threeDigits(setting.powerPercent)} % and ${threeDigits(setting.speedMmS)} mm/s`;
  return present<Warning>(
    ...assumed.map((what) => ({ code: 'ASSUMED', message: `assumed ${what}.` })),
    ...unseen.map(({ beyond, go }) => ({
      code: 'BOUNDARY_NOT_SEEN',
      message: `no cell is ${beyond}, so that side of the window was not found; its margin is given only as far as was tried.`,
      hint: go === '' ? undefined : `A further grid with ${go} would find it.`,
    })),
    isNarrow(setting) && {
      code: 'NARROW_WINDOW',
      message: `the margin is only ${marginWords(narrowestTold(setting, fixed))} %: a warm laser or a little dirt on the lens may use it up.`,
      // Where both edges are known, another grid finds the same ones.
      hint: isCramped(setting, { boundaries: model })
        ? `Cut a grid around ${around} that goes further.`
        : `More passes at ${gentler({ fixed })}, or a thinner film, may widen it: try them in a grid around ${around}.`,
    },
    isUncertain(setting) && {
      code: 'UNCERTAIN_WINDOW',
      message: `even there a clean cut has a probability of only ${(100 * setting.probabilityClean).toFixed(0)} %, by these readings.`,
      hint: 'Cut the grid again, finer, before a stencil.',
    },
  );
}
