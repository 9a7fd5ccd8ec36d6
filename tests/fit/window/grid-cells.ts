import type { CellFeature } from '../../../src/coupon/features.js';

/** A cell for each power and speed of a grid. */
export const gridCells = (powers: readonly number[], speeds: readonly number[]): CellFeature[] =>
  powers.flatMap((powerPercent) =>
    speeds.map(
      (speedMmS): CellFeature => ({
        id: `P${powerPercent}V${speedMmS}`,
        kind: 'cell',
        powerPercent,
        speedMmS,
        box: [0, 0, 1, 1],
        say: '',
      }),
    ),
  );
