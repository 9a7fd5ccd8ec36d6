import { intersectRegions, subtractRegions } from '../../geometry/boolean.js';
import { reachAlong } from '../../geometry/bounds.js';
import { rectangle, solid } from '../../geometry/shapes.js';
import type { Point, Region } from '../../geometry/types.js';
import { kept } from '../../kept.js';
import type { PieceAct, Snapshot } from './piece.js';
import { byShape, onePiece } from './resize.js';
import type { ChipCut } from './rule-types.js';

/** Margin by which cutting shapes reach beyond the pad, mm. */
const BEYOND_MM = 1;
const ARC_STEPS = 32;

/**
 * Takes paste away at the inner side of a chip's two pads, where it would be pressed out into balls beside the chip.
 * Which side that is follows from the pair: by the component's name where the artwork has it, else by its geometry.
 */
export const cutUnderChip: PieceAct<'cut-under-chip'> = ({ form, depthPercent, tipPercent = 0 }, snapshot) => {
  const partner = partners(snapshot);
  const cutters = new Map<string, ReturnType<typeof byShape>>();
  const cutter = (depth: number, tip: number): ReturnType<typeof byShape> =>
    kept(cutters, `${depth} ${tip}`, () =>
      byShape((region, angleRad) => cutForm(region, angleRad, form, depth / 100, tip / 100)),
    );
  return (i, numberOf) => {
    const other = partner.get(i);
    if (other === undefined) return { stays: 'it was not recognised as one of a chip’s two pads' };
    const [depth, tip] = [numberOf(depthPercent), numberOf(tipPercent)];
    if (depth === undefined || tip === undefined || depth <= 0 || depth >= 100 || tip < 0 || tip >= 100)
      return { stays: 'the depth must be above 0 and below 100 %, the tip from 0 to below 100 %' };
    const [from, to] = [snapshot.measures[i].centre, snapshot.measures[other].centre];
    const direction = Math.atan2(to[1] - from[1], to[0] - from[0]);
    return onePiece(cutter(depth, tip)(snapshot.pieces[i].opening, roundAngle(direction)), 'the cut');
  };
};

function partners(snapshot: Snapshot): Map<number, number> {
  const partner = new Map<number, number>();
  for (const group of snapshot.groups()) {
    if (group.kind !== 'pair') continue;
    const [p, q] = group.openings;
    partner.set(p - 1, q - 1).set(q - 1, p - 1);
  }
  return partner;
}

/** Directions are told apart to a microradian, so that equal pads of equal chips are cut once. */
const roundAngle = (angleRad: number): number => Math.round(angleRad * 1e6) / 1e6;

/** @param angleRad - of the line to the other pad */
function cutForm(region: Region, angleRad: number, form: ChipCut, depth: number, tip: number): Region[] {
  // Along the line, and across it.
  const u: Point = [Math.cos(angleRad), Math.sin(angleRad)];
  const [minU, maxU] = reachAlong(region.outer, u);
  const [minV, maxV] = reachAlong(region.outer, [-u[1], u[0]]);
  const shape = (points: readonly Point[]): Region =>
    solid(points.map(([along, across]) => [along * u[0] - across * u[1], along * u[1] + across * u[0]]));
  const start = maxU - depth * (maxU - minU);
  const middle = (minV + maxV) / 2;
  const [outer, low, high] = [minU - BEYOND_MM, minV - BEYOND_MM, maxV + BEYOND_MM];
  const halfTip = (tip * (maxV - minV)) / 2;
  const halfMouth = ((1 - tip) * (maxV - minV)) / 2;
  switch (form) {
    case 'straight':
      return intersectRegions([region], [shape(rectangle(outer, low, start, high))]);
    case 'home-plate': {
      const plate = shape([
        [outer, low],
        [start, low],
        [start, minV],
        [maxU, middle - halfTip],
        ...(halfTip > 0 ? [[maxU, middle + halfTip] as const] : []),
        [start, maxV],
        [start, high],
        [outer, high],
      ]);
      return intersectRegions([region], [plate]);
    }
    case 'inverted-home-plate': {
      // The notch runs on beyond the inner edge in its own slope, so that the edge is cut cleanly.
      const slope = halfMouth / (maxU - start);
      const wide = halfMouth + slope * BEYOND_MM;
      const notch = shape([
        [start, middle],
        [maxU + BEYOND_MM, middle - wide],
        [maxU + BEYOND_MM, middle + wide],
      ]);
      return subtractRegions([region], [notch]);
    }
    case 'inverted-radius': {
      const arc = Array.from({ length: ARC_STEPS + 1 }, (_, k): [number, number] => {
        const angle = Math.PI / 2 + (Math.PI * k) / ARC_STEPS;
        return [maxU + (maxU - start) * Math.cos(angle), middle + halfMouth * Math.sin(angle)];
      });
      const notch = shape([...arc, [maxU + BEYOND_MM, middle - halfMouth], [maxU + BEYOND_MM, middle + halfMouth]]);
      return subtractRegions([region], [notch]);
    }
  }
}
