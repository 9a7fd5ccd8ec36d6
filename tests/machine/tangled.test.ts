import { describe, expect, it } from 'vitest';
import { InputError } from '../../src/errors.js';
import { openingArea } from '../../src/geometry/area.js';
import { unionRegions } from '../../src/geometry/boolean.js';
import { offsetByEllipse } from '../../src/geometry/offset.js';
import { rectangle, solid } from '../../src/geometry/shapes.js';
import type { Region } from '../../src/geometry/types.js';
import { WorkBudget } from '../../src/geometry/work-budget.js';
import { correctOpenings } from '../../src/machine/correct-openings.js';
import { seeded } from '../virtual-laser/random.js';
import { boxOf, erodeMask, maskOf } from './opencv-reference.js';

const [KERF_X, KERF_Y] = [0.12, 0.1];
const MODEL = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: KERF_X, kerfYMm: KERF_Y };
const PER_MM = 150;

const total = (regions: readonly Region[]): number => regions.reduce((sum, region) => sum + openingArea(region), 0);

/** A bar of some width from one random place to another. */
function bars(count: number, widthMm: number, sizeMm: number): Region[] {
  const random = seeded(11);
  return Array.from({ length: count }, () => {
    const [ax, ay, bx, by] = Array.from({ length: 4 }, () => random() * sizeMm);
    const half = widthMm / 2 / Math.hypot(bx - ax, by - ay);
    const [nx, ny] = [(by - ay) * half, (ax - bx) * half];
    return solid([
      [ax + nx, ay + ny],
      [bx + nx, by + ny],
      [bx - nx, by - ny],
      [ax - nx, ay - ny],
    ]);
  });
}

/** A net of `count` bars each way, a pitch of 0.4 mm. */
function net(count: number, widthMm: number): Region {
  const lines = Array.from({ length: count }, (_, i) => [
    solid(rectangle(i * 0.4, 0, i * 0.4 + widthMm, count * 0.4)),
    solid(rectangle(0, i * 0.4, count * 0.4, i * 0.4 + widthMm)),
  ]);
  return unionRegions(lines.flat())[0];
}

/** Square islands in rows; webs of opening between them are `apartMm` wide. */
function plate(side: number, apartMm: number): Region {
  const pitch = 0.2 + apartMm;
  const islands = Array.from({ length: side * side }, (_, i) => {
    const [x, y] = [0.5 + (i % side) * pitch, 0.5 + Math.floor(i / side) * pitch];
    return rectangle(x, y, x + 0.2, y + 0.2).toReversed();
  });
  return { outer: rectangle(0, 0, side * pitch + 1, side * pitch + 1), islands };
}

/** An island like a C, and one in its mouth that the C swallows when both grow. */
const swallowed: Region = {
  outer: rectangle(0, 0, 3, 3),
  islands: [
    [
      [1, 1],
      [1, 2],
      [2, 2],
      [2, 1.8],
      [1.2, 1.8],
      [1.2, 1.2],
      [1.9, 1.2],
      [1.9, 1.75],
      [2, 1.75],
      [2, 1],
    ],
    rectangle(1.5, 1.5, 1.55, 1.55).toReversed(),
    rectangle(2.03, 1.4, 2.2, 1.6).toReversed(),
  ],
};

const rings = (regions: readonly Region[]) => regions.flatMap(({ outer, islands }) => [outer, ...islands]);

// Pixels by OpenCV's erosion and an even-odd fill; a pixel here is 0.0067 mm.
describe('walls of many rings moved together, against an erosion of pixels', () => {
  it.each([
    ['random bars that cross', unionRegions(bars(24, 0.3, 9))],
    ['islands with room between them', [plate(9, 0.3)]],
    ['islands that grow together', [plate(9, 0.06)]],
    ['an island that swallows another', [swallowed]],
  ])('%s: shrunk', async (_, regions) => {
    const frame = boxOf(rings(regions), 0.3);
    const reference = await erodeMask(maskOf(rings(regions), frame, PER_MM), frame, PER_MM, KERF_X, KERF_Y);
    const shrunk = regions.flatMap((region) => offsetByEllipse(region, KERF_X, KERF_Y, -1));
    expect(Math.abs(total(shrunk) - reference) / reference).toBeLessThan(0.015);
  });

  it.each([
    ['random bars that cross', unionRegions(bars(24, 0.3, 9))[0]],
    ['islands with room between them', plate(9, 0.3)],
    ['an island that swallows another', swallowed],
  ])('%s: grown, which is film shrunk', async (_, region) => {
    const frame = boxOf(rings([region]), 0.3);
    const film = maskOf(rings([region]), frame, PER_MM).map((value) => 255 - value);
    const left = await erodeMask(film, frame, PER_MM, KERF_X, KERF_Y);
    const reference = frame.width * frame.height - left;
    const grown = total(offsetByEllipse(region, KERF_X, KERF_Y, 1));
    expect(Math.abs(grown - reference) / reference).toBeLessThan(0.01);
  });

  it('islands that touch no other stay as many as they were', () => {
    const [shrunk, ...more] = offsetByEllipse(net(30, 0.2), KERF_X, KERF_Y, -1);
    expect(more).toHaveLength(0);
    expect(shrunk.islands).toHaveLength(net(30, 0.2).islands.length);
  });
});

describe('the work that a correction takes', () => {
  const workFor = (count: number): number => {
    const effort = new WorkBudget(1e9);
    effort.run(() => correctOpenings([net(count, 0.2)], MODEL));
    return 1e9 - effort.rest;
  };

  it('grows with the islands of a net, hardly faster', () => {
    // Sixteen times the islands; a sweep over all at once would take 64 times the work.
    expect(workFor(24) / workFor(6)).toBeLessThan(32);
  });

  it('is refused beyond the limit, and the error names the opening', () => {
    const openings = [solid(rectangle(-2, -2, -1, -1)), net(20, 0.2)];
    const correct = () => new WorkBudget(100_000).run(() => correctOpenings(openings, MODEL));
    expect(correct).toThrow(InputError);
    expect(correct).toThrow(expect.objectContaining({ code: 'TOO_MUCH' }));
    expect(correct).toThrow(/opening 2 at .* islands of film.*right file/);
  });

  it('of a disc of so many corners that rounding makes it dip is that of a disc', () => {
    const disc = Array.from({ length: 45_000 }, (_, i): [number, number] => {
      const turn = (2 * Math.PI * i) / 45_000;
      return [Math.round(4e7 * Math.cos(turn)) / 1e6, Math.round(4e7 * Math.sin(turn)) / 1e6];
    });
    const effort = new WorkBudget(1e9);
    const { openings } = effort.run(() => correctOpenings([solid(disc)], MODEL));
    // A half plane for each corner, and all corners for each half plane, would be 400 million.
    expect(1e9 - effort.rest).toBeLessThan(1e7);
    expect(openings).toHaveLength(1);
    const [x, y] = [40 - KERF_X / 2, 40 - KERF_Y / 2];
    expect(openingArea(openings[0]) / (Math.PI * x * y)).toBeCloseTo(1, 4);
  });

  it('has a limit of its own when no other is in force, and is refused before it is paid', () => {
    const random = seeded(11);
    // A comb whose teeth all stand side by side: a sweep meets every wall at every corner.
    const comb = Array.from({ length: 16_000 }, (_, i) => [i * 0.01, (i % 2 ? -60 : 60) * random()] as const);
    expect(() => correctOpenings([solid(comb)], MODEL)).toThrow(expect.objectContaining({ code: 'TOO_MUCH' }));
  });
});
