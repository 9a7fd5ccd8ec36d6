import { present } from '../../kept.js';
import { capital, firstOf, threeDigits } from '../../text.js';
import { levelsOf, MARKED, THROUGH } from './boundaries.js';
import type { WindowCell, WindowRefusal, WindowSetting } from './types.js';
import { distinct, ratioSteps, type Setting, testedRange } from './widest-setting.js';

export interface FilmWords {
  readonly passes?: number;
  readonly thicknessMm?: number;
  /** What this machine can't set: no remedy asks for it. */
  readonly fixed?: readonly ('power' | 'speed')[];
}

/** Why there is no setting to recommend, and what to cut next; undefined when a clean cell was read. */
export function refusalFor(cells: readonly WindowCell[], film: FilmWords): WindowRefusal | undefined {
  const levels = cells.flatMap(levelsOf);
  if (levels.includes(THROUGH)) return undefined;
  if (levels.every((level) => level < THROUGH)) return nothingThrough(cells, film);
  if (levels.every((level) => level === MARKED)) return everythingMarked(cells, film);
  return noGap(cells, film);
}

/** Values rising evenly in ratio, with the digits that a person can set. */
const steps = (from: number, to: number, count: number): number[] =>
  distinct(ratioSteps([from, to], count - 1).map(threeDigits));

type Grid = NonNullable<WindowRefusal['nextGrid']>;
type Steps = readonly [from: number, to: number, count: number];

/** A further grid: of what this machine can't set, and of what it need not vary, the values that were tried. */
const gridOf = ({ fixed = [] }: FilmWords, tried: readonly Setting[], power?: Steps, speed?: Steps): Grid => {
  const kept = (of: keyof Setting): number[] => distinct(tried.map((cell) => cell[of]));
  return {
    powersPercent: power && !fixed.includes('power') ? steps(...power) : kept('powerPercent'),
    speedsMmS: speed && !fixed.includes('speed') ? steps(...speed) : kept('speedMmS'),
  };
};

function thinner(film: FilmWords): string {
  return film.thicknessMm === undefined ? 'a thinner film' : `a film thinner than ${threeDigits(film.thicknessMm)} mm`;
}

/** How a pass is made gentler, on this machine. */
export const gentler = ({ fixed = [] }: FilmWords): string => (fixed.includes('power') ? 'more speed' : 'less power');

function nothingThrough(cells: readonly WindowCell[], film: FilmWords): WindowRefusal {
  const { power: [powerLow, powerHigh], speed: [speedLow] } = testedRange(cells); // biome-ignore format: one line
  const { fixed = [] } = film;
  const passes = (film.passes ?? 1) + 1;
  const canRise = powerHigh < 100 && !fixed.includes('power');
  const canSlow = !fixed.includes('speed');
  const slower = `go slower than ${threeDigits(speedLow)} mm/s: cut a grid from ${threeDigits(speedLow / 4)} to ${threeDigits(speedLow)} mm/s.`;
  const rise = `raise the power above ${threeDigits(powerHigh)} %`;
  const first = canSlow ? [`First ${canRise ? `${rise}, or ` : ''}${slower}`] : canRise ? [`First ${rise}.`] : [];
  const powerFrom = canRise ? powerHigh : Math.max(powerLow, powerHigh / 2);
  return {
    code: 'NOT_THROUGH',
    message: `no cell came through, not even the strongest (${threeDigits(powerHigh)} %, ${threeDigits(speedLow)} mm/s).`,
    remedies: [
      ...first,
      `${first.length > 0 ? 'Or cut' : 'Cut'} the same grid with ${passes} passes; check the focus and clean the lens before that.`,
      `If that marks the film before it comes through, use ${thinner(film)}, or one that takes up more of this beam.`,
    ],
    nextGrid:
      first.length > 0 ? gridOf(film, cells, [powerFrom, 100, 5], [speedLow / 4, speedLow, 6]) : gridOf(film, cells),
  };
}

function everythingMarked(cells: readonly WindowCell[], film: FilmWords): WindowRefusal {
  const { fixed = [] } = film;
  const { power: [powerLow], speed: [, speedHigh] } = testedRange(cells); // biome-ignore format: one line
  const ways = present(
    !fixed.includes('speed') &&
      `go faster than ${threeDigits(speedHigh)} mm/s: cut a grid from ${threeDigits(speedHigh)} to ${threeDigits(4 * speedHigh)} mm/s.`,
    !fixed.includes('power') &&
      `use less power than ${threeDigits(powerLow)} %: cut a grid from ${threeDigits(powerLow / 4)} to ${threeDigits(powerLow)} %.`,
  );
  return {
    code: 'ALL_MARKED',
    message: `every cell is marked, even the gentlest (${threeDigits(powerLow)} %, ${threeDigits(speedHigh)} mm/s).`,
    remedies: [
      ...ways.map((way, i) => (i === 0 ? capital(way) : `Or ${way}`)),
      'If the marks are soot and not damage, wipe the film and read it again; air across the cut keeps it cleaner.',
    ],
    nextGrid: gridOf(film, cells, [powerLow / 4, powerLow, 5], [speedHigh, 4 * speedHigh, 6]),
  };
}

/** Cells go from not through to marked without a clean one between. */
function noGap(cells: readonly WindowCell[], film: FilmWords): WindowRefusal {
  const edge = narrowestStep(cells);
  const passes = (film.passes ?? 1) + 1;
  const remedies = [
    `Then cut with ${gentler(film)} and ${passes} passes: each pass heats the film less.`,
    `If no clean cell shows either, use ${thinner(film)}, or one that takes up more of this beam.`,
  ];
  const message = 'no cell is clean: they go from not through straight to marked.';
  if (!edge) {
    return {
      code: 'NO_CLEAN_CELL',
      message,
      remedies: ['First look at the cells again: power and speed do not order them.', ...remedies],
    };
  }
  const [powerLow, powerHigh] = edge.power;
  const [speedLow, speedHigh] = edge.speed;
  const onePower = powerLow === powerHigh;
  const where = onePower
    ? `at ${threeDigits(powerLow)} % from ${threeDigits(speedLow)} to ${threeDigits(speedHigh)} mm/s`
    : `at ${threeDigits(speedLow)} mm/s from ${threeDigits(powerLow)} to ${threeDigits(powerHigh)} %`;
  return {
    code: 'NO_CLEAN_CELL',
    message: `${message.slice(0, -1)}, ${where}.`,
    remedies: [
      `First cut a finer grid around these values: ${where} in steps of about ${edge.stepWords}.`,
      ...remedies,
    ],
    nextGrid: gridOf(
      film,
      [edge.weak],
      onePower ? [powerLow * 0.9, Math.min(100, powerLow * 1.1), 3] : [powerLow, powerHigh, 6],
      onePower ? [speedLow, speedHigh, 6] : [speedLow * 0.9, speedLow * 1.1, 3],
    ),
  };
}

/** A margin that is shown as none. */
const NONE_PERCENT = 0.05;

/** Clean cells of which even the best leaves no room on some side, by what the grid shows; undefined when it does. */
export function noMargin(
  cells: readonly WindowCell[],
  setting: WindowSetting,
  film: FilmWords = {},
): WindowRefusal | undefined {
  if (Math.min(setting.marginPowerPercent, setting.marginSpeedPercent) >= NONE_PERCENT) return undefined;
  const clean = cells.filter((cell) => levelsOf(cell).includes(THROUGH)).map(({ id }) => id);
  const named = firstOf(clean, 5);
  const one = clean.length === 1;
  const around = `${threeDigits(setting.powerPercent)} % and ${threeDigits(setting.speedMmS)} mm/s`;
  return {
    code: 'NO_MARGIN',
    message: `${one ? 'only ' : ''}${named} ${one ? 'is' : 'are'} clean, and that shows no room to all sides: a warm laser or a little dirt may end it.`,
    remedies: [
      'Read every cell of this grid first, if some were left out.',
      `Cut a grid around ${around}, so that it shows cells that are too weak and too strong.`,
      `If hardly any cell of that one is clean, try more passes at ${gentler(film)}, or a thinner film.`,
    ],
    nextGrid: gridAround(setting, film),
  };
}

/** A grid with a setting in its middle, so that it has weaker and stronger cells on all sides. */
export function gridAround(setting: Setting, film: FilmWords = {}): Grid {
  const { powerPercent: power, speedMmS: speed } = setting;
  return gridOf(film, [setting], [power / 1.4, Math.min(100, 1.4 * power), 5], [speed / 1.6, 1.6 * speed, 6]);
}

/** The step from not through to marked with the smallest ratio, along one power or one speed, nearest the middle. */
function narrowestStep(cells: readonly WindowCell[]) {
  const pairs = cells.flatMap((weak) =>
    cells
      .filter((strong) => Math.max(...levelsOf(weak)) < THROUGH && Math.min(...levelsOf(strong)) === MARKED)
      .filter(
        (strong) =>
          (strong.powerPercent === weak.powerPercent && strong.speedMmS < weak.speedMmS) ||
          (strong.speedMmS === weak.speedMmS && strong.powerPercent > weak.powerPercent),
      )
      .map((strong) => ({
        weak,
        strong,
        ratio: (strong.powerPercent * weak.speedMmS) / weak.powerPercent / strong.speedMmS,
      })),
  );
  const [least, most] = testedRange(cells).power;
  const middle = Math.sqrt(least * most);
  const best = pairs.sort(
    (a, b) =>
      a.ratio - b.ratio ||
      Math.abs(Math.log(a.weak.powerPercent / middle)) - Math.abs(Math.log(b.weak.powerPercent / middle)),
  )[0];
  if (!best) return undefined;
  const { weak, strong } = best;
  const samePower = weak.powerPercent === strong.powerPercent;
  const step = samePower ? (weak.speedMmS - strong.speedMmS) / 5 : (strong.powerPercent - weak.powerPercent) / 5;
  return {
    ...testedRange([weak, strong]),
    weak,
    stepWords: `${Number(step.toPrecision(2))} ${samePower ? 'mm/s' : '%'}`,
  };
}
