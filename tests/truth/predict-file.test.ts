import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { mapOpening, scaling } from '../../src/geometry/affine.js';
import { cases } from '../cases.js';
import { bench, profileOf } from '../cli/bench.js';
import { byFastBmp, bySharp, drawing, type Picture } from '../export/read-back.js';
import { seeded } from '../virtual-laser/random.js';
import { board, burntRuns, centre, cutOf, type Machine } from './image-judge.js';
import { pathsOf } from './laser.js';
import { area, extents, grown, union, type Vec } from './polygons.js';

/** What `predict` foretells against the files that `correct` writes, cut by clipper2-wasm: `CASES_TIMES=50` for many. */
const desk = bench();

/** Rings of the paths in an SVG, as drawn: mm, y down. */
function ringsOfSvg(text: string): Vec[][] {
  const paths = [...text.matchAll(/ d="([^"]+)"/g)].map(([, d]) => d).join('');
  return paths
    .split(/z/i)
    .map((ring) => (ring.match(/-?[\d.]+(?:e-?\d+)?/g) ?? []).map(Number))
    .filter((numbers) => numbers.length >= 6)
    .map((numbers) => Array.from({ length: numbers.length / 2 }, (_, i): Vec => [numbers[2 * i], -numbers[2 * i + 1]]));
}

/** How far the film is turned to lie on what was asked: by whole dots, pads a few millimetres apart lie askew to each other. */
function turnBetween(from: readonly Vec[], to: readonly Vec[]): number {
  const mean = (points: readonly Vec[], k: 0 | 1): number => points.reduce((sum, p) => sum + p[k], 0) / points.length;
  const [fx, fy, tx, ty] = [mean(from, 0), mean(from, 1), mean(to, 0), mean(to, 1)];
  let [cross, dot] = [0, 0];
  from.forEach(([x, y], i) => {
    const [px, py, qx, qy] = [x - fx, y - fy, to[i][0] - tx, to[i][1] - ty];
    cross += px * qy - py * qx;
    dot += px * qx + py * qy;
  });
  return (Math.atan2(cross, dot) * 180) / Math.PI;
}

it.each(Array.from({ length: cases(3) }, (_, i) => i))('stencil %i is as foretold, in every format', async (i) => {
  const random = seeded(77 + i);
  const pick = <T>(...from: readonly T[]): T => from[Math.floor(from.length * random())];
  const machine: Machine = {
    scaleX: 0.97 + 0.06 * random(),
    scaleY: 0.97 + 0.06 * random(),
    shear: pick(0, 0.002, -0.02),
    kerfXMm: 0.08 + 0.08 * random(),
    kerfYMm: 0.08 + 0.08 * random(),
  };
  desk.put('laser.json', profileOf(machine));
  const side = pick('Top', 'Bot');
  const mirror = pick('auto', 'yes', 'no');
  const swept = pick(true, false);
  const { pads, text } = board(random, side);
  desk.put('board.gbr', text);
  const pitch = pick('0.0254', '0.05x0.0254', '0.03x0.0423');
  const [betweenRowsMm, acrossMm] = swept
    ? [Number(pitch.split('x')[0]) * machine.scaleX, machine.kerfXMm]
    : [Number(pitch.split('x').at(-1)) * machine.scaleY, machine.kerfYMm];
  // No more film between two burnt rows than half the beam.
  const nth = Math.min(3 - (i % 3), 1 + Math.floor(acrossMm / 2 / betweenRowsMm));
  const common = [
    'board.gbr',
    ...['--profile', 'laser.json', '--out', 'out'],
    ...['--mirror', mirror, '--pitch-mm', pitch],
    ...(swept ? ['--sweep', 'y'] : []),
    ...(nth > 1 ? ['--burn-every-nth-row', String(nth)] : []),
  ];
  const canvas = pick<readonly string[]>(['--canvas-mm', '37.013x29.5'], ['--margin-mm', '2.22'], []);
  await desk.run('correct', ...common, ...canvas, ...pick([], ['--negative']), '--format', 'png,bmp,tiff,svg');
  const record = desk.json('out/board.job.json');
  const { out } = await desk.run('predict', ...common, '--json');
  const [{ corrected, inDots }] = JSON.parse(out);

  const pictures: Picture[] = [
    await bySharp(desk.read('out/board.png')),
    await bySharp(desk.read('out/board.tif')),
    byFastBmp(readFileSync('out/board.bmp')),
  ];
  const [png, ...others] = pictures.map(drawing);
  for (const other of others) expect(other).toEqual(png);

  const mirrored = mirror === 'yes' || (mirror === 'auto' && side === 'Bot');
  const asked = pads.map(({ opening, angleDeg }) => ({
    paths: pathsOf([mirrored ? mapOpening(scaling(-1, 1), opening) : opening]),
    angleDeg: mirrored ? -angleDeg : angleDeg,
  }));
  const centres = asked.map(({ paths }) => centre(paths));
  const cuts = (await burntRuns(desk.read('out/board.png'), record, machine, swept, centres)).map((runs) =>
    cutOf(runs, machine),
  );
  const foretold = inDots.openings as { cutWidthMm: number; cutHeightMm: number; cutAreaMm2: number }[];
  const turnDeg = turnBetween(cuts.map(centre), centres);
  cuts.forEach((cut, i) => {
    const sizes = extents(cut, asked[i].angleDeg - turnDeg).sort((p, q) => p - q);
    const told = [foretold[i].cutWidthMm, foretold[i].cutHeightMm].sort((p, q) => p - q);
    expect(Math.abs(area(cut) / foretold[i].cutAreaMm2 - 1)).toBeLessThan(1e-3);
    for (const k of [0, 1]) expect(Math.abs(sizes[k] - told[k])).toBeLessThan(1.5e-3);
  });
  // What `correct` says of its dots, by the same cut.
  const off = cuts.map((cut, k) => (100 * area(cut)) / area(asked[k].paths) - 100);
  const mean = off.reduce((sum, percent) => sum + percent, 0) / off.length;
  expect(Math.abs(record.cut.meanAreaErrorPercent - mean)).toBeLessThan(0.05);
  // Paths: what the SVG draws, laid on the film and grown by the beam. With a sweep along Y they are a quarter turn on, too.
  const drawn = ringsOfSvg(desk.text('out/board.svg'));
  const upright = drawn.map((ring) => ring.map(([x, y]): Vec => (swept ? [y, -x] : [x, y])));
  const burnt = upright.map((ring) =>
    ring.map(([x, y]): Vec => [machine.scaleX * x + machine.shear * y, machine.scaleY * y]),
  );
  const all = area(union(grown(burnt, machine.kerfXMm, machine.kerfYMm)));
  const promised = (corrected.openings as { cutAreaMm2: number }[]).reduce((sum, one) => sum + one.cutAreaMm2, 0);
  expect(Math.abs(Math.abs(all) / promised - 1)).toBeLessThan(1e-3);
});
