import { expect, it } from 'vitest';
import { mapOpening, rotation, scaling } from '../../src/geometry/affine.js';
import { bench, profileOf } from '../cli/bench.js';
import { seeded } from '../virtual-laser/random.js';
import { board, burntRuns, centre, cutOf, type Machine } from './image-judge.js';
import { pathsOf } from './laser.js';
import { area, extents } from './polygons.js';

/** What the record of a stencil claims, against the image beside it, measured with clipper2-wasm (Clipper2 by Angus Johnson). */
const desk = bench();

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
  ['a fixed canvas', 'Top', ['--pitch-mm', '0.0254x0.04', '--canvas-mm', '40x30', '--at-mm', '7,9'], {}],
  ['every second row burnt', 'Top', ['--burn-every-nth-row', '2'], {}],
  ['every second row burnt, swept along Y', 'Bot', ['--burn-every-nth-row', '2', '--sweep', 'y'], {}],
  ['a machine with much shear', 'Top', ['--rotate', '180'], { shear: 0.03, scaleX: 0.98 }],
] as const)('figures and counts in the record are those of the image: %s', async (_, side, args, over) => {
  const machine: Machine = { scaleX: 1.004, scaleY: 0.997, shear: 0.002, kerfXMm: 0.13, kerfYMm: 0.09, ...over };
  desk.put('laser.json', profileOf(machine));
  const { pads, text } = board(seeded(args.join().length + side.length), side);
  desk.put('board.gbr', text);
  const options = ['--profile', 'laser.json', '--out', 'out'];
  await desk.run('correct board.gbr', ...options, ...args);
  const record = desk.json('out/board.job.json');
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
  const places = laidOn(centres, cuts.map(centre));
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
  // A tenth of a dot: rows that lie apart leave scallops, which move the middle of a lopsided cut.
  near(cut.maxPlaceErrorMm, most(places), 2.5e-3);
  const alike = args.filter((word) => word !== '--negative');
  const [{ inDots }] = JSON.parse((await desk.run('predict board.gbr --json', ...options, ...alike)).out);
  expect(inDots.summary).toMatchObject({
    ...{ rmsWidthErrorMm: cut.rmsWidthErrorMm, maxWidthErrorMm: cut.maxWidthErrorMm },
    ...{ rmsPositionErrorMm: cut.rmsPlaceErrorMm, maxPositionErrorMm: cut.maxPlaceErrorMm },
    meanAreaErrorPercent: cut.meanAreaErrorPercent,
  });
});

/** How far places lie off once they are shifted and turned to where they belong: angles as complex numbers. */
function laidOn(asked: readonly (readonly number[])[], cut: readonly (readonly number[])[]): number[] {
  const about = (points: readonly (readonly number[])[]): number[][] =>
    points.map((p) => p.map((value, k) => value - mean(points.map((q) => q[k]))));
  const [want, got] = [about(asked), about(cut)];
  const sum = (of: (i: number) => number): number => want.reduce((total, _, i) => total + of(i), 0);
  const re = sum((i) => got[i][0] * want[i][0] + got[i][1] * want[i][1]);
  const im = sum((i) => got[i][0] * want[i][1] - got[i][1] * want[i][0]);
  const [cos, sin] = [re / Math.hypot(re, im), im / Math.hypot(re, im)];
  return got.map(([x, y], i) => Math.hypot(cos * x - sin * y - want[i][0], sin * x + cos * y - want[i][1]));
}
