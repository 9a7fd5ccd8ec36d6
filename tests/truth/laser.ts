import { dotsOf } from '../../src/dots/rasterise.js';
import type { PlacedStamp } from '../../src/dots/stamp.js';
import type { Opening } from '../../src/geometry/types.js';
import { commandedKerf } from '../../src/machine/machine-model.js';
import type { MachineModel } from '../../src/machine/types.js';
import { grown, hull, type Paths, union, type Vec } from './polygons.js';

/** A machine and the distance between its dots, mm. */
export interface Laser {
  readonly model: MachineModel;
  readonly pitch: { readonly x: number; readonly y: number };
}

export const LASERS: readonly Laser[] = [
  { model: { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.137, kerfYMm: 0.094 }, pitch: { x: 0.0254, y: 0.0254 } },
  { model: { scaleX: 1.002, scaleY: 0.997, shear: 0, kerfXMm: 0.18, kerfYMm: 0.09 }, pitch: { x: 0.0254, y: 0.0254 } },
  { model: { scaleX: 1, scaleY: 1.004, shear: 0, kerfXMm: 0.11, kerfYMm: 0.11 }, pitch: { x: 0.05, y: 0.0254 } },
  { model: { scaleX: 1.01, scaleY: 1, shear: 0.003, kerfXMm: 0.08, kerfYMm: 0.12 }, pitch: { x: 0.0423, y: 0.0423 } },
];

/** The four, and one with coarse oblong dots. */
export const MACHINES: readonly Laser[] = [
  ...LASERS,
  {
    model: { scaleX: 0.998, scaleY: 1.003, shear: -0.002, kerfXMm: 0.1, kerfYMm: 0.13 },
    pitch: { x: 0.0423, y: 0.0635 },
  },
];

export const pathsOf = (openings: readonly Opening[]): Vec[][] =>
  openings.flatMap(({ outer, islands }) => [outer, ...islands].map((ring) => [...ring]));

export const onFilm = ({ scaleX, scaleY, shear }: MachineModel, [x, y]: Vec): Vec => [
  scaleX * x + shear * y,
  scaleY * y,
];

/** What commanded openings come out as: cut(C) = A·C grown by the beam. */
export function cutOfPaths(openings: readonly Opening[], model: MachineModel): Vec[][] {
  const told = pathsOf(openings).map((path) => path.map((p) => onFilm(model, p)));
  return union(grown(told, model.kerfXMm, model.kerfYMm));
}

const BEAM_STEPS = 64;

/**
 * What dots come out as: every run of dots is a rectangle, laid on the film and grown by the beam, exactly. Where a row of
 * dots is several of the image, that is the middle one of them.
 */
export function cutOfDots(
  placed: readonly PlacedStamp[],
  height: number,
  { model, pitch }: Laser,
  rowsPerLine = 1,
): Vec[][] {
  const film = ((1 - 1 / rowsPerLine) / 2) * pitch.y;
  const factor = 1 / Math.sqrt(Math.cos(Math.PI / BEAM_STEPS));
  const beam = Array.from({ length: BEAM_STEPS }, (_, i): Vec => {
    const angle = (2 * Math.PI * i) / BEAM_STEPS;
    return [(factor * model.kerfXMm * Math.cos(angle)) / 2, (factor * model.kerfYMm * Math.sin(angle)) / 2];
  });
  const burnt: Vec[][] = [];
  for (const { stamp, column, row } of placed) {
    for (let r = 0; r < stamp.height; r += 1) {
      const runs = stamp.rows[r];
      for (let k = 0; k < runs.length; k += 2) {
        const [x0, x1] = [(column + runs[k]) * pitch.x, (column + runs[k + 1]) * pitch.x];
        const [y0, y1] = [(height - row - r - 1) * pitch.y + film, (height - row - r) * pitch.y - film];
        const corners = [
          [x0, y0],
          [x1, y0],
          [x1, y1],
          [x0, y1],
        ].map(([x, y]) => onFilm(model, [x, y]));
        burnt.push(hull(corners.flatMap(([x, y]) => beam.map(([dx, dy]): Vec => [x + dx, y + dy]))));
      }
    }
  }
  return union(burnt);
}

/** Dots of corrected openings on a canvas that holds them. */
export function dotsFor(openings: readonly Opening[], { model, pitch }: Laser, sizeMm: number) {
  const [widthPx, heightPx] = [Math.ceil(sizeMm / pitch.x), Math.ceil(sizeMm / pitch.y)];
  const toPixels = { a: 1 / pitch.x, b: 0, c: 0, d: -1 / pitch.y, e: 0, f: heightPx };
  const kerfMm = commandedKerf(model);
  return { heightPx, ...dotsOf(openings, { widthPx, heightPx, toPixels, dot: pitch, kerfMm }) };
}

/** T opened by the beam: what of an opening can be cut at all. */
export const opened = (asked: Paths, { kerfXMm, kerfYMm }: MachineModel): Vec[][] =>
  grown(grown(asked, kerfXMm, kerfYMm, -1), kerfXMm, kerfYMm);
