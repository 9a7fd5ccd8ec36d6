import { InputError } from '../errors.js';
import { grouped } from '../kept.js';
import { tidyMm } from './dot-grid.js';
import { type Laying, placeBlock, roomOf } from './laying.js';
import type { PowerGridElement } from './pattern.js';
import type { CouponSheet } from './sheet.js';
import type { CouponImage, CouponOptions, GreyLevel } from './types.js';

/** One setting of a grid and the layer of the sheet that its cell lies on; layer 0 holds the labels. */
export interface GridSetting {
  readonly layer: number;
  readonly powerPercent: number;
  readonly speedMmS: number;
}

function checkList(name: string, values: readonly number[], most: number): void {
  const wrong = values.find((value) => !(Number.isFinite(value) && value > 0 && value <= most));
  const twice = values.find((value, i) => values.indexOf(value) !== i);
  if (wrong === undefined && twice === undefined && values.length > 0) return;
  throw new InputError({
    code: 'COUPON_OPTION',
    place: { key: name },
    message:
      wrong !== undefined
        ? `expected numbers above 0 and up to ${most}; found ${wrong}.`
        : twice !== undefined
          ? `${twice} is named twice.`
          : 'expected at least one number.',
    hint: name === 'powersPercent' ? 'For example 20,30,45,65.' : 'For example 50,100,200.',
  });
}

/** Values beside a single one of the other axis: so many show a window as surely as a grid does. */
const MOST_ALONE = 10;

/** So many values from the lowest to the highest, evenly in ratio, in digits that a person can set. */
function spread(values: readonly number[], count: number): readonly number[] {
  if (count <= values.length) return values;
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const at = (i: number): number => Number((low * (high / low) ** (i / (count - 1))).toPrecision(2));
  return [...new Set(Array.from({ length: count }, (_, i) => at(i)))];
}

/** What a grid of these powers and speeds takes, and where its rows and columns lie. */
function measured(on: Laying, element: PowerGridElement, powers: readonly number[], speeds: readonly number[]) {
  const { sheet, number: value } = on;
  const [cellX, cellY] = [value(element.cellMm[0], 'cellMm.0'), value(element.cellMm[1], 'cellMm.1')];
  const ribMm = value(element.gapMm, 'gapMm');
  const gap = sheet.clearanceMm + 0.2;
  const words = { powers: powers.map((power) => `P${power}`), speeds: speeds.map((speed) => `S${speed}`) };
  const lengthOf = (text: string): number => sheet.textBox(text, [0, 0]).maxX;
  const side = Math.max(...words.powers.map(lengthOf)) + gap;
  const below = sheet.letteringMm + gap;
  const columnMm = Math.max(cellX + ribMm, ...words.speeds.map((text) => lengthOf(text) + gap));
  const rowMm = Math.max(cellY + ribMm, sheet.letteringMm + gap);
  const widthMm = side + (speeds.length - 1) * columnMm + Math.max(cellX, lengthOf(words.speeds[speeds.length - 1]));
  const heightMm = below + (powers.length - 1) * rowMm + cellY;
  return { powers, speeds, words, cellX, cellY, side, below, columnMm, rowMm, size: { widthMm, heightMm } };
}

/** The grid that is asked for; of a machine with one speed or one power with as many of the other as there is room for. */
function gridOn(on: Laying, element: PowerGridElement, options: CouponOptions) {
  const { powersPercent, speedsMmS } = options;
  const of = (count: number) => {
    const powers = powersPercent ?? spread(element.powersPercent, speedsMmS?.length === 1 ? count : 0);
    const speeds = speedsMmS ?? spread(element.speedsMmS, powersPercent?.length === 1 ? count : 0);
    checkList('powersPercent', powers, 100);
    checkList('speedsMmS', speeds, 1e5);
    return measured(on, element, [...powers].sort((p, q) => p - q), [...speeds].sort((p, q) => q - p)); // biome-ignore format: one call
  };
  const room = roomOf(on);
  for (let count = MOST_ALONE; count > 1; count -= 1) {
    const grid = of(count);
    if (grid.size.widthMm <= room.widthMm && grid.size.heightMm <= room.heightMm) return grid;
  }
  return of(1);
}

/**
 * Filled cells: powers rise upwards, speeds fall to the right, so the gentlest cell is at the lower left and the
 * strongest at the upper right. Labels go on layer 0, which is burnt with the strongest setting: where that does
 * not cut, no cell is through either, and there is nothing to tell apart.
 */
export function layPowerGrid(on: Laying, element: PowerGridElement, options: CouponOptions): GridSetting[] {
  const { sheet, prefix } = on;
  const { powers, speeds, words, cellX, cellY, side, below, columnMm, rowMm, size } = gridOn(on, element, options);
  const [x0, y0] = placeBlock(on, [0.5, 0.5], size, ', or fewer powers and speeds');
  const { grid } = sheet;
  const settings: GridSetting[] = [];
  powers.forEach((powerPercent, row) => {
    const low = y0 + below + row * rowMm;
    sheet.addText(words.powers[row], [x0, low + (cellY - sheet.letteringMm) / 2]);
    speeds.forEach((speedMmS, column) => {
      const left = x0 + side + column * columnMm;
      if (row === 0) sheet.addText(words.speeds[column], [left, y0]);
      const layer = settings.length + 1;
      const minX = grid.dots('x', left);
      const minY = grid.dots('y', low);
      const box = { minX, minY, maxX: minX + grid.count('x', cellX), maxY: minY + grid.count('y', cellY) };
      const mm = sheet.addRectangle(box, sheet.newGroup(), layer);
      settings.push({ layer, powerPercent, speedMmS });
      sheet.features.push({
        id: `${prefix}P${powerPercent}S${speedMmS}`,
        kind: 'cell',
        powerPercent,
        speedMmS,
        box: [mm.minX, mm.minY, mm.maxX, mm.maxY],
        say: `Cell in row P${powerPercent} (power ${powerPercent} %), column S${speedMmS} (${speedMmS} mm/s): uncut, partial, through or marked?`,
      });
    });
  });
  return settings;
}

const stronger = (p: GridSetting, q: GridSetting): number => p.powerPercent - q.powerPercent || q.speedMmS - p.speedMmS;

/**
 * The images of a grid. With a knob, one for every power and speed, power by power, so that the knob is turned
 * as seldom as can be, and the gentler setting first. With grey levels, one for each speed, because a raster machine takes
 * one speed for a whole job; black is full power.
 */
export function gridImages(
  name: string,
  sheet: CouponSheet,
  settings: readonly GridSetting[],
  powerBy: 'knob' | 'grey',
): CouponImage[] {
  const ordered = [...settings].sort(stronger).map(({ layer, ...setting }, i) => ({
    openings: [...sheet.openings(layer), ...(i === settings.length - 1 ? sheet.openings(0) : [])],
    ...setting,
  }));
  if (powerBy === 'knob')
    return ordered.map((one) => ({ name: `${name}.p${one.powerPercent}-s${one.speedMmS}`, ...one }));
  const speeds = grouped(ordered, ({ speedMmS }) => speedMmS);
  return [...speeds]
    .sort(([p], [q]) => q - p)
    .map(([speedMmS, own]) => ({
      name: speeds.size > 1 ? `${name}.s${speedMmS}` : name,
      openings: own.flatMap(({ openings }) => openings),
      speedMmS,
      greyLevels: own.map(({ powerPercent, openings }): GreyLevel => {
        return { grey: Math.min(254, Math.round(255 * (1 - powerPercent / 100))), powerPercent, openings };
      }),
    }));
}

/** What to burn in which order with which setting, one sentence for each job. */
export function gridJobs(images: readonly CouponImage[], ending: string): string[] {
  const count = images.length;
  return images.map(({ name, powerPercent, speedMmS, greyLevels }, i) => {
    const job = `Job ${i + 1} of ${count}: ${name}.${ending}`;
    if (!greyLevels) return `${job} with power ${powerPercent} % and speed ${speedMmS} mm/s.`;
    const levels = greyLevels.map(({ grey, powerPercent: power }) => `${grey} = ${tidyMm(power)} %`);
    return `${job} with speed ${speedMmS} mm/s, power from grey levels (0 black = 100 %, 255 white = off): ${levels.join(', ')}.`;
  });
}
