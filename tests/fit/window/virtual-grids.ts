import { fitWindow } from '../../../src/fit/window/fit-window.js';
import type { WindowResult } from '../../../src/fit/window/types.js';
import type { CellOutcome, Reading } from '../../../src/readings/types.js';
import { gridCells } from './grid-cells.js';

/** Powers in percent and speeds in mm/s. */
export type Grid = readonly [readonly number[], readonly number[]];

/** A laser whose power, as each cell gets it, wavers by a logistic distribution; everything in ln of power by speed. */
export interface VirtualLaser {
  /** From here on a cut is partial, comes through, is marked. */
  readonly partial: number;
  readonly through: number;
  readonly marked: number;
  readonly wavers: number;
  /** Of power; 1 where power divided by speed decides. */
  readonly exponent: number;
}

export interface JudgedWindow {
  readonly result: WindowResult;
  /** Undefined where no setting was found. */
  readonly judged?: {
    readonly edges: number;
    readonly told: number;
    /** True probability of a clean cut at the setting. */
    readonly clean: number;
    readonly marginPercent: number;
    /** True margin to the nearer edge, along the axis whose margin is told. */
    readonly truePercent: number;
    /** Whether the true margin is at least the told one less 1.645 of its standard uncertainties. */
    readonly holds: boolean;
  };
}

/** One laser, with edges anywhere on the grid or a little beyond. */
export function anyLaser(
  [powers, speeds]: Grid,
  random: () => number,
  fixed: Partial<VirtualLaser> & { readonly width?: number } = {},
): VirtualLaser {
  const alone = powers.length === 1 || speeds.length === 1;
  const exponent = fixed.exponent ?? (alone ? 1 : Math.exp(0.7 * (random() - 0.5)));
  const width = fixed.width ?? 0.15 * 8 ** random();
  const [low, high] = [
    exponent * Math.log(powers[0]) - Math.log(speeds[speeds.length - 1]),
    exponent * Math.log(powers[powers.length - 1]) - Math.log(speeds[0]),
  ];
  const first = low - 0.3 * Math.min(1, width);
  const through = first + random() * (high - first);
  const wavers = fixed.wavers ?? 0.01 * 10 ** random();
  return { through, marked: through + width, partial: through - 0.05 - 0.4 * random(), exponent, wavers, ...fixed };
}

/** Cuts a grid on it, reads a share of the cells, and holds what is told against what is so. */
export function judgeWindow(
  [powers, speeds]: Grid,
  laser: VirtualLaser,
  random: () => number,
  share = 1,
): JudgedWindow {
  const energy = (power: number, speed: number): number => laser.exponent * Math.log(power) - Math.log(speed);
  const outcomeOf = (got: number): CellOutcome =>
    got >= laser.marked ? 'marked' : got >= laser.through ? 'through' : got >= laser.partial ? 'partial' : 'uncut';
  const features = gridCells(powers, speeds);
  const readings = features.flatMap(({ id, powerPercent, speedMmS }): Reading[] => {
    const [read, u] = [random() <= share, random()];
    const got = energy(powerPercent, speedMmS) + laser.wavers * Math.log(u / (1 - u));
    return read ? [{ feature: id, outcome: outcomeOf(got) }] : [];
  });
  const result = fitWindow(readings, features, { mapSteps: 1 });
  const { setting, boundaries } = result;
  if (!setting || !boundaries) return { result };
  const got = energy(setting.powerPercent, setting.speedMmS);
  const chance = (edge: number): number => 1 / (1 + Math.exp((edge - got) / laser.wavers));
  const [below, above] = [got - laser.through, laser.marked - got];
  const byPower = setting.marginPowerPercent <= setting.marginSpeedPercent;
  const truePercent = byPower
    ? Math.min(-100 * Math.expm1(-below / laser.exponent), 100 * Math.expm1(above / laser.exponent))
    : Math.min(100 * Math.expm1(below), -100 * Math.expm1(-above));
  const marginPercent = Math.min(setting.marginPowerPercent, setting.marginSpeedPercent);
  return {
    result,
    judged: {
      edges: [boundaries.through, boundaries.marked].filter(({ seen }) => seen).length,
      told: setting.probabilityClean,
      clean: chance(laser.through) - chance(laser.marked),
      marginPercent,
      truePercent,
      holds: truePercent >= marginPercent - 1.645 * setting.stdUncertaintyMarginPercent - 1e-9,
    },
  };
}
