import { composeMaps, invert } from '../geometry/affine.js';
import type { Affine } from '../geometry/types.js';
import { machineMap } from '../machine/machine-model.js';
import type { MachineModel } from '../machine/types.js';

/** The dots as they lie on the film. */
export interface Lattice {
  /** What widens the shapes that dots stand for. */
  readonly model: MachineModel;
  /** What widens the dots: the same, or where a row of dots is several of which one is burnt, as much more as film is left. */
  readonly burning: { readonly model: MachineModel; readonly beam: BeamShape };
  /** From film mm to dots: column to the right, row down. */
  readonly toDots: Affine;
  readonly toFilm: Affine;
  /** What the beam adds around a shape. */
  readonly beam: BeamShape;
  /** Area of a dot on the film, mm². */
  readonly dotMm2: number;
}

/**
 * @param full - the machine
 * @param model - the same, or what is left of its kerf where rows are apart
 * @param toPixels - from commanded mm to dots
 * @param rowsPerLine - how many rows of the image a row of dots is
 */
export function latticeOf(full: MachineModel, model: MachineModel, toPixels: Affine, rowsPerLine: number): Lattice {
  const toDots = composeMaps(toPixels, invert(machineMap(model)));
  const toFilm = invert(toDots);
  const { a, b, c, d, e, f } = toFilm;
  return {
    model,
    burning: { model: full, beam: { ...beamOf(full, toDots), filmDots: (1 - 1 / rowsPerLine) / 2 } },
    toDots,
    toFilm: { a, b, c, d, e, f },
    beam: beamOf(model, toDots),
    dotMm2: Math.abs(a * d - b * c),
  };
}

/** The kerf's ellipse in dots, cut by level lines. */
function beamOf({ kerfXMm, kerfYMm }: MachineModel, { a, b, c, d }: Affine): BeamShape {
  const [ax, ay, bx, by] = [(a * kerfXMm) / 2, (c * kerfXMm) / 2, (b * kerfYMm) / 2, (d * kerfYMm) / 2];
  const halfHeight = Math.hypot(ay, by);
  if (halfHeight === 0) return { halfWidth: Math.hypot(ax, bx), halfHeight, lean: 0, filmDots: 0 };
  return {
    halfWidth: Math.abs(ax * by - bx * ay) / halfHeight,
    halfHeight,
    lean: (ax * ay + bx * by) / halfHeight ** 2,
    filmDots: 0,
  };
}

/** A reach that is so many times as far, and so many dots more. */
export function farther(beam: BeamShape, times: number, dots: number): BeamShape {
  return { ...beam, halfWidth: beam.halfWidth * times + dots, halfHeight: beam.halfHeight * times + dots };
}

/** The beam, or a tolerance, in dots: an ellipse that may lean as shear makes it. */
export interface BeamShape {
  readonly halfWidth: number;
  readonly halfHeight: number;
  /** How far its middle moves to the right a dot further down. */
  readonly lean: number;
  /** Of rows of dots: so much of each is film at its upper edge, and as much at its lower one. */
  readonly filmDots: number;
}

/** A level line within a dot, and how much of the dot's height it stands for. */
interface Line {
  readonly at: number;
  readonly weight: number;
}

/** Gauss and Legendre's three lines for an interval from 0 to 1. */
const GAUSS: readonly Line[] = [
  { at: 0.5 - Math.sqrt(0.15), weight: 5 / 18 },
  { at: 0.5, weight: 4 / 9 },
  { at: 0.5 + Math.sqrt(0.15), weight: 5 / 18 },
];

/**
 * Lines within a step of height along which the area of grown steps is summed up: what is burnt begins and ends where a
 * step's edge lies a beam away, and is smooth in between.
 */
export function linesWithin(step: number, { halfHeight, filmDots }: BeamShape): Line[] {
  const beyond = halfHeight - filmDots;
  const part = beyond - Math.floor(beyond / step) * step;
  const cuts = [0, filmDots, part, step - part, step - filmDots, step].sort((p, q) => p - q);
  return cuts.slice(1).flatMap((to, i) => {
    const [from, height] = [cuts[i], to - cuts[i]];
    return height > 1e-9 ? GAUSS.map(({ at, weight }) => ({ at: from + at * height, weight: weight * height })) : [];
  });
}
