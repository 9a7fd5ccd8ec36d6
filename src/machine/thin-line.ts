import { openingArea, openingPerimeter } from '../geometry/area.js';
import { offsetByEllipse } from '../geometry/offset.js';
import { type LongSide, longSide, orientedBox } from '../geometry/oriented-box.js';
import type { Point, Region } from '../geometry/types.js';
import { kerfAlong } from './machine-map.js';
import { shrink } from './shrink.js';
import type { MachineModel } from './types.js';

/** A part that is narrower than the kerf, kept as the thinnest line, and what that line will come out as. */
export interface ThinLine {
  readonly pieces: readonly Region[];
  readonly at: Point;
  readonly askedMm: readonly [width: number, length: number];
  readonly comesOutMm: readonly [width: number, length: number];
}

type Box = LongSide & { readonly centre: Point };

/** Share of its least rectangle that a part must fill to be drawn as one straight line. A disc fills 0.785. */
const STRAIGHT_FILL = 0.6;

/** Share of a bent part's area that must survive the smaller kerf at which its centre line is taken. */
const BENT_KEEP = 0.85;

/**
 * The thinnest thing that stands for a part which the kerf swallows.
 *
 * @param part - the lost part, film mm
 * @param line - one dot of the machine on the film, mm across X and across Y
 */
export function thinLine(part: Region, model: MachineModel, line: { x: number; y: number }): ThinLine {
  const around = orientedBox(part.outer);
  const box: Box = { centre: around.centre, ...longSide(around) };
  const across: Point = [-box.along[1], box.along[0]];
  const straight = part.islands.length === 0 && openingArea(part) > STRAIGHT_FILL * box.lengthMm * box.widthMm;
  return straight ? straightLine(box, across, model, line) : bentLine(part, box, across, model);
}

function straightLine(box: Box, across: Point, model: MachineModel, line: { x: number; y: number }): ThinLine {
  const dot = (u: Point): number => Math.hypot(line.x * u[0], line.y * u[1]);
  const length = Math.max(box.lengthMm - kerfAlong(model, box.along), dot(box.along));
  const width = Math.max(box.widthMm - kerfAlong(model, across), dot(across));
  const corner = (su: number, sv: number): Point => [
    box.centre[0] + (su * length * box.along[0] + sv * width * across[0]) / 2,
    box.centre[1] + (su * length * box.along[1] + sv * width * across[1]) / 2,
  ];
  return {
    pieces: [{ outer: [corner(-1, -1), corner(1, -1), corner(1, 1), corner(-1, 1)], islands: [] }],
    at: box.centre,
    askedMm: [box.widthMm, box.lengthMm],
    comesOutMm: [width + kerfAlong(model, across), length + kerfAlong(model, box.along)],
  };
}

/** Shares of the kerf, falling. What survives one survives every smaller one. */
const SHARES: number[] = [];
for (let share = 0.95; share > 0.02; share *= 0.9) SHARES.push(share);

/** Rings, hooks and the like: shrink by the largest part of the kerf that still leaves the whole course standing. */
function bentLine(part: Region, box: Box, across: Point, model: MachineModel): ThinLine {
  const whole = openingArea(part);
  const tried = new Map<number, readonly Region[]>();
  const survives = (step: number): boolean => {
    const [x, y] = [SHARES[step] * model.kerfXMm, SHARES[step] * model.kerfYMm];
    // Nothing is left of a part that is narrower or smaller than the beam.
    if (Math.min(x, y) > box.widthMm || (Math.PI / 4) * x * y > whole) return false;
    const pieces = shrink(part, x, y);
    tried.set(step, pieces);
    return pieces.length > 0 && comesBackTo(pieces, x, y, BENT_KEEP * whole);
  };
  const step = firstThat(SHARES.length, survives);
  const pieces = tried.get(step);
  if (pieces) {
    const excess = (1 - SHARES[step]) * kerfAlong(model, across);
    return {
      pieces,
      at: box.centre,
      askedMm: [box.widthMm, box.lengthMm],
      comesOutMm: [box.widthMm + excess, box.lengthMm + (1 - SHARES[step]) * kerfAlong(model, box.along)],
    };
  }
  return {
    pieces: [part],
    at: box.centre,
    askedMm: [box.widthMm, box.lengthMm],
    comesOutMm: [box.widthMm + kerfAlong(model, across), box.lengthMm + kerfAlong(model, box.along)],
  };
}

/** Arcs of areas that are only compared, mm. */
const COARSE_ARC_MM = 5e-4;

/** Whether pieces have an area, mm², once the beam has widened them. Most are far from it on either side. */
function comesBackTo(pieces: readonly Region[], widthXMm: number, widthYMm: number, areaMm2: number): boolean {
  const areaOf = (regions: readonly Region[]): number => regions.reduce((sum, piece) => sum + openingArea(piece), 0);
  const narrow = areaOf(pieces);
  if (narrow >= areaMm2) return true;
  // Steiner's formula for the disc around the beam: exact for convex pieces, too much for any other.
  const r = Math.max(widthXMm, widthYMm) / 2;
  const walls = pieces.reduce((sum, piece) => sum + openingPerimeter(piece), 0);
  if (narrow + walls * r + pieces.length * Math.PI * r * r < areaMm2) return false;
  return areaOf(pieces.flatMap((piece) => offsetByEllipse(piece, widthXMm, widthYMm, 1, COARSE_ARC_MM))) >= areaMm2;
}

/**
 * The first of a row of steps that passes, where all after it pass too; `count` when none does. Looks at the first few
 * one by one, then farther and farther on, and halves what is left.
 */
function firstThat(count: number, passes: (step: number) => boolean): number {
  let [failed, passed, stride] = [-1, count, 1];
  for (let at = 0; at < count; at += stride, stride *= 2) {
    if (passes(at)) {
      passed = at;
      break;
    }
    failed = at;
  }
  while (passed - failed > 1) {
    const middle = (failed + passed) >> 1;
    if (passes(middle)) passed = middle;
    else failed = middle;
  }
  return passed;
}
