import sharp from 'sharp';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { mapOpening, rotation, scaling } from '../../src/geometry/affine.js';
import type { Opening } from '../../src/geometry/types.js';
import { type Bench, bench, profileOf } from '../cli/bench.js';
import { box, at as turnedAt } from '../export/boards.js';
import { seeded } from '../virtual-laser/random.js';
import { pathsOf } from './laser.js';
import { area, extents, hull, type Paths, union, type Vec } from './polygons.js';

/** What the record of a stencil claims, against the image beside it, measured with clipper2-wasm (Clipper2 by Angus Johnson). */
let desk: Bench;
beforeEach(() => {
  desk = bench();
});
afterEach(() => desk.remove());

interface Machine {
  readonly scaleX: number;
  readonly scaleY: number;
  readonly shear: number;
  readonly kerfXMm: number;
  readonly kerfYMm: number;
}

/** Pads far apart, turned and upright, as a Gerber layer of regions and as openings. */
function board(random: () => number, side: 'Top' | 'Bot') {
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
async function burntRuns(
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

function cutOf(runs: readonly (readonly Vec[])[], { kerfXMm, kerfYMm }: Machine): Vec[][] {
  const steps = 64;
  const factor = 1 / Math.sqrt(Math.cos(Math.PI / steps));
  const beam = Array.from({ length: steps }, (_, i): Vec => {
    const angle = (2 * Math.PI * i) / steps;
    return [(factor * kerfXMm * Math.cos(angle)) / 2, (factor * kerfYMm * Math.sin(angle)) / 2];
  });
  return union(runs.map((corners) => hull(corners.flatMap(([x, y]) => beam.map(([u, v]): Vec => [x + u, y + v])))));
}

function centre(paths: Paths): Vec {
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

const rms = (values: readonly number[]): number => Math.hypot(...values) / Math.sqrt(values.length);
const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
const most = (values: readonly number[]): number => Math.max(...values.map(Math.abs));

it.each([
  ['a top layer', 'Top', [], {}],
  ['a bottom layer, which is mirrored', 'Bot', [], {}],
  ['a quarter turn', 'Top', ['--rotate', '90'], {}],
  ['mirrored, then turned', 'Bot', ['--rotate', '270', '--negative'], {}],
  ['unequal pitch', 'Top', ['--pitch-mm', '0.05x0.0254'], {}],
  ['a sweep along Y', 'Bot', ['--sweep', 'y', '--pitch-mm', '0.0254x0.04'], {}],
  [
    'a line interval on a fixed canvas',
    'Top',
    ['--line-interval-mm', '0.04', '--canvas-mm', '40x30', '--at-mm', '7,9'],
    {},
  ],
  ['a machine with much shear', 'Top', ['--rotate', '180'], { shear: 0.03, scaleX: 0.98 }],
] as const)('figures and counts in the record are those of the image: %s', async (_, side, args, over) => {
  const machine: Machine = { scaleX: 1.004, scaleY: 0.997, shear: 0.002, kerfXMm: 0.13, kerfYMm: 0.09, ...over };
  desk.put('laser.json', profileOf(machine));
  const { pads, text } = board(seeded(args.join().length + side.length), side);
  desk.put('board.gbr', text);
  const options = ['--profile', desk.path('laser.json'), '--out', desk.path('out')];
  await desk.run('correct', desk.path('board.gbr'), ...options, ...args);
  const record = JSON.parse(desk.read('out/board.job.json').toString());
  const option = (name: string): string | undefined => args[(args as readonly string[]).indexOf(name) + 1];
  const turn = (args as readonly string[]).includes('--rotate') ? Number(option('--rotate')) : 0;
  const asked = pads.map(({ opening, angleDeg }) => {
    const laid = side === 'Bot' ? mapOpening(scaling(-1, 1), opening) : opening;
    return {
      paths: pathsOf([mapOpening(rotation(turn), laid)]),
      angleDeg: (side === 'Bot' ? -angleDeg : angleDeg) + turn,
    };
  });
  const swept = (args as readonly string[]).includes('--sweep');
  const centres = asked.map(({ paths }) => centre(paths));
  const runs = await burntRuns(desk.read('out/board.png'), record, machine, swept, centres);
  const cuts = runs.map((own) => cutOf(own, machine));
  const widths = asked.flatMap(({ paths, angleDeg }, i) => {
    const [want, got] = [extents(paths, angleDeg), extents(cuts[i], angleDeg)];
    return [got[0] - want[0], got[1] - want[1]];
  });
  const areas = asked.map(({ paths }, i) => 100 * (area(cuts[i]) / area(paths) - 1));
  const places = centres.map(([x, y], i) => Math.hypot(centre(cuts[i])[0] - x, centre(cuts[i])[1] - y));
  const { cut, counts } = record;
  expect(counts).toMatchObject({ openings: pads.length, notAsAsked: record.faults.length, narrowParts: 0 });
  expect(record.mirrored).toBe(side === 'Bot');
  const near = (claimed: number, measured: number, by: number): void =>
    expect(Math.abs(claimed - measured), `claimed ${claimed}, measured ${measured}`).toBeLessThan(by);
  near(cut.rmsWidthErrorMm, rms(widths), 2e-4);
  near(cut.meanWidthErrorMm, mean(widths), 2e-4);
  near(cut.maxWidthErrorMm, most(widths), 4e-4);
  near(cut.meanAreaErrorPercent, mean(areas), 0.1);
  near(cut.maxAreaErrorPercent, most(areas), 0.2);
  near(cut.rmsPlaceErrorMm, rms(places), 1e-3);
  near(cut.maxPlaceErrorMm, most(places), 2e-3);
});
