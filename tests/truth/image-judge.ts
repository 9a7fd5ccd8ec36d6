import sharp from 'sharp';
import { expect } from 'vitest';
import type { Opening } from '../../src/geometry/types.js';
import { box, at as turnedAt } from '../export/boards.js';
import { hull, type Paths, union, type Vec } from './polygons.js';

export interface Machine {
  readonly scaleX: number;
  readonly scaleY: number;
  readonly shear: number;
  readonly kerfXMm: number;
  readonly kerfYMm: number;
}

/** Pads far apart, turned and upright, as a Gerber layer of regions and as openings. */
export function board(random: () => number, side: 'Top' | 'Bot') {
  const pads = Array.from({ length: 6 }, (_, i) => {
    const [w, h] = [0.3 + 0.9 * random(), 0.3 + 1.2 * random()];
    const angleDeg = random() < 0.5 ? 0 : 180 * random();
    const opening = turnedAt(box(w, h), 4 * (i % 3) + random(), 4 * Math.floor(i / 3) + random(), angleDeg);
    return { angleDeg, opening: rounded(opening) };
  });
  const regions = pads.map(({ opening: { outer } }) => {
    const [first, ...rest] = [...outer, outer[0]].map(([x, y]) => `X${Math.round(x * 1e6)}Y${Math.round(y * 1e6)}`);
    return `G36*${first}D02*${rest.map((at) => `${at}D01*`).join('')}G37*`;
  });
  return { pads, text: `%TF.FileFunction,Paste,${side}*%%FSLAX46Y46*%%MOMM*%G01*\n${regions.join('\n')}\nM02*\n` };
}

const rounded = ({ outer, islands }: Opening): Opening => ({
  outer: outer.map(([x, y]) => [Math.round(x * 1e6) / 1e6, Math.round(y * 1e6) / 1e6] as const),
  islands,
});

/** Runs of burnt dots on the film, as the record says where they lie, for each opening. */
export async function burntRuns(
  png: Uint8Array,
  {
    canvas,
    parameters,
  }: { canvas: Record<string, number> & { originMm: [number, number] }; parameters: { negative: boolean } },
  { scaleX, scaleY, shear }: Machine,
  swept: boolean,
  centres: readonly Vec[],
): Promise<Vec[][][]> {
  const { data, info } = await sharp(png).greyscale().raw().toBuffer({ resolveWithObject: true });
  const step = data.length / (info.width * info.height);
  const isBurnt = (x: number, y: number): boolean =>
    x < info.width && data[(y * info.width + x) * step] < 128 !== parameters.negative;
  expect([info.width, info.height]).toEqual([canvas.widthPx, canvas.heightPx]);
  const [x0, y0] = canvas.originMm;
  const onFilm = (column: number, row: number): Vec => {
    const [across, up] = [column * canvas.pitchXMm, (info.height - row) * canvas.pitchYMm];
    // With a sweep along Y the image is a quarter turn on.
    const [x, y] = swept ? [x0 + up, y0 + canvas.widthMm - across] : [x0 + across, y0 + up];
    return [scaleX * x + shear * y, scaleY * y];
  };
  const runs: Vec[][][] = centres.map(() => []);
  for (let row = 0; row < info.height; row += 1) {
    for (let column = 0; column < info.width; column += 1) {
      if (!isBurnt(column, row)) continue;
      const start = column;
      while (isBurnt(column, row)) column += 1;
      const corners = [onFilm(start, row), onFilm(column, row), onFilm(column, row + 1), onFilm(start, row + 1)];
      const far = ([x, y]: Vec): number => Math.hypot(x - corners[0][0], y - corners[0][1]);
      const nearest = centres.reduce((best, centre, i) => (far(centre) < far(centres[best]) ? i : best), 0);
      runs[nearest].push(corners);
    }
  }
  return runs;
}

export function cutOf(runs: readonly (readonly Vec[])[], { kerfXMm, kerfYMm }: Machine): Vec[][] {
  const steps = 64;
  const factor = 1 / Math.sqrt(Math.cos(Math.PI / steps));
  const beam = Array.from({ length: steps }, (_, i): Vec => {
    const angle = (2 * Math.PI * i) / steps;
    return [(factor * kerfXMm * Math.cos(angle)) / 2, (factor * kerfYMm * Math.sin(angle)) / 2];
  });
  return union(runs.map((corners) => hull(corners.flatMap(([x, y]) => beam.map(([u, v]): Vec => [x + u, y + v])))));
}

export function centre(paths: Paths): Vec {
  let [all, x, y] = [0, 0, 0];
  for (const ring of paths) {
    ring.forEach(([px, py], i) => {
      const [qx, qy] = ring[(i + 1) % ring.length];
      const cross = px * qy - qx * py;
      all += cross;
      x += (px + qx) * cross;
      y += (py + qy) * cross;
    });
  }
  return [x / (3 * all), y / (3 * all)];
}
