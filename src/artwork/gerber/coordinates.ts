import type { Point } from '../../geometry/types.js';

/** What the deprecated image commands MI, SF, OF and AS do to coordinates (not to apertures). */
export interface CoordinateMap {
  mirrorA: boolean;
  mirrorB: boolean;
  scaleA: number;
  scaleB: number;
  offsetA: number;
  offsetB: number;
  swapped: boolean;
}

export function plainCoordinates(): CoordinateMap {
  return { mirrorA: false, mirrorB: false, scaleA: 1, scaleB: 1, offsetA: 0, offsetB: 0, swapped: false };
}

export function isPlainMap(map: CoordinateMap): boolean {
  return (
    !map.mirrorA &&
    !map.mirrorB &&
    map.scaleA === 1 &&
    map.scaleB === 1 &&
    map.offsetA === 0 &&
    map.offsetB === 0 &&
    !map.swapped
  );
}

/** Mirrored, scaled, shifted, then put on the axes, in the order that the specification states. */
export function mapCoordinate(map: CoordinateMap, [a, b]: Point): Point {
  const x = (map.mirrorA ? -a : a) * map.scaleA + map.offsetA;
  const y = (map.mirrorB ? -b : b) * map.scaleB + map.offsetB;
  return map.swapped ? [y, x] : [x, y];
}
