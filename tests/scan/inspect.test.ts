import { expect, it } from 'vitest';
import type { Opening } from '../../src/geometry/types.js';
import { Openings } from '../../src/scan/find/places.js';
import { Scene } from '../../src/scan/find/recognise.js';
import { inspectOpenings } from '../../src/scan/inspect/inspect-openings.js';
import { Ruler } from '../../src/scan/measure/ruler.js';
import { type Picture, scanFilm, type Vec, type VirtualScan } from './virtual-scanner.js';

/** Stencils drawn here, cut as drawn but for planted faults, and seen by the virtual scanner, which knows nothing of the reader. */
type Pad = { readonly outer: readonly Vec[]; readonly islands: readonly (readonly Vec[])[] };

const turned = (ring: readonly Vec[], [cx, cy]: Vec, deg = 0): Vec[] => {
  const a = (deg * Math.PI) / 180;
  return ring.map(([x, y]) => [cx + x * Math.cos(a) - y * Math.sin(a), cy + x * Math.sin(a) + y * Math.cos(a)]);
};
const box = (w: number, h: number): Vec[] => [[-w / 2, -h / 2], [w / 2, -h / 2], [w / 2, h / 2], [-w / 2, h / 2]]; // biome-ignore format: a ring
const rect = (at: Vec, w: number, h: number, deg = 0): Pad => ({ outer: turned(box(w, h), at, deg), islands: [] });
/** Straight between two half circles; a circle where both are alike. */
const round = (at: Vec, w: number, h: number): Pad => {
  const r = Math.min(w, h) / 2;
  const ring = Array.from({ length: 64 }, (_, k): Vec => {
    const [c, s] = [Math.cos((2 * Math.PI * (k + 0.5)) / 64), Math.sin((2 * Math.PI * (k + 0.5)) / 64)];
    return [Math.sign(c) * (w / 2 - r) + r * c, Math.sign(s) * (h / 2 - r) + r * s];
  });
  return { outer: turned(ring, at), islands: [] };
};
const ell = (at: Vec, size: number, arm: number): Pad => ({
  outer: turned([[0, 0], [size, 0], [size, arm], [arm, arm], [arm, size], [0, size]], at), // biome-ignore format: a ring
  islands: [],
});
const frame = (at: Vec, size: number, arm: number): Pad => ({
  outer: turned(box(size, size), at),
  islands: [turned(box(size - 2 * arm, size - 2 * arm), at).reverse()],
});
/** One ring that runs in to its island and back again, as the scanner takes it. */
const inOne = ({ outer, islands }: Pad): Vec[] =>
  islands.length === 0 ? [...outer] : [...outer, outer[0], ...islands[0], islands[0][0]];

const SCAN = { dpi: 1200, blurMm: 0.025, film: 215, open: 40, vignette: 0.2, noise: 2, seed: 5, scaleX: 0.9985, scaleY: 1.0012 }; // biome-ignore format: one line
const LIMITS = { areaPercent: 15, sizeMm: 0.04, placeMm: 0.06 };

/** What is said of `asked` when `cut` was cut: openings by number with their faults, and holes. */
function inspected(
  asked: readonly Pad[],
  cut: readonly Pad[],
  over: Partial<VirtualScan> = {},
  hairs: readonly (readonly [Vec, Vec])[] = [],
) {
  const all = asked.flatMap(({ outer }) => outer);
  const [mx, my] = [0, 1].map((k) => (Math.min(...all.map((p) => p[k])) + Math.max(...all.map((p) => p[k]))) / 2);
  const far = Math.max(...all.map(([x, y]) => Math.hypot(x - mx, y - my))) + 1.5;
  const picture = scanFilm(
    {
      openings: cut.map((pad) => ({ outer: inOne(pad).map(([x, y]): Vec => [x - mx, y - my]) })),
      machine: { scaleX: 1.001, scaleY: 0.999, shear: 0.001, kerfXMm: 1e-4, kerfYMm: 1e-4 },
    },
    { ...SCAN, widthMm: 2 * far, heightMm: 2 * far, atMm: [(over.widthMm ?? 2 * far) / 2, (over.heightMm ?? 2 * far) / 2], turnDeg: 0, ...over }, // biome-ignore format: a scan
  );
  for (const [from, to] of hairs) layHair(picture, from, to, [far - mx, far - my]);
  const openings = new Openings(asked as readonly Opening[]);
  const scene = new Scene(picture);
  const look = (over.film ?? SCAN.film) < (over.open ?? SCAN.open) ? 'lighter' : 'darker';
  const found = scene.findStencil(openings, look);
  if (!found) throw new Error('the stencil was not found');
  const { inspected: of, holes } = inspectOpenings(picture, openings, found, LIMITS);
  const faults = of.flatMap(({ number, faults: said }) => (said.length > 0 ? [`${number} ${said}`] : []));
  return { of, holes, faults };
}

/** A hair, 50 um wide and as soft as the scanner is, from one place of the film to another. */
function layHair({ levels, widthPx, heightPx, dotsPerMm }: Picture, [ax, ay]: Vec, [bx, by]: Vec, [ex, ey]: Vec): void {
  const length = Math.hypot(bx - ax, by - ay);
  for (let at = 0; at < levels.length; at += 1) {
    const [x, y] = [(at % widthPx) + 0.5, heightPx - Math.floor(at / widthPx) - 0.5].map((px, k) => px / dotsPerMm.x - [ex, ey][k]); // biome-ignore format: one line
    const along = ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length;
    const beside = Math.abs((x - ax) * (by - ay) - (y - ay) * (bx - ax)) / length;
    if (along > 0 && along < length) levels[at] *= 1 - 0.6 / (1 + Math.exp((beside - 0.025) / 0.015));
  }
}

const grid = (nx: number, ny: number, pitch: number, [x, y]: Vec = [0, 0]): Vec[] =>
  Array.from({ length: nx * ny }, (_, i): Vec => [x + (i % nx) * pitch, y + Math.floor(i / nx) * pitch]);

it('measures round, slanted, bent and hollow openings as they were meant, along their own sides', () => {
  const asked = [
    ...grid(4, 2, 1.5).map((at) => round(at, 0.8, 0.8)),
    ...grid(4, 1, 1.5, [0, 3.2]).map((at) => round(at, 0.5, 1.1)),
    ...grid(3, 1, 1.7, [6.5, 0]).map((at) => rect(at, 0.75, 0.3, 30)),
    ell([6, 1.2], 2.4, 0.7),
    frame([10.4, 2.6], 2, 0.4),
  ];
  const { of, faults, holes } = inspected(asked, asked, { turnDeg: 17 });
  expect(faults).toEqual([]);
  expect(holes).toEqual([]);
  for (const { widthMm = 0, heightMm = 0, areaMm2 = 0, offMm, asked: wanted } of of) {
    expect(Math.abs(widthMm - wanted.widthMm)).toBeLessThan(0.008);
    expect(Math.abs(heightMm - wanted.heightMm)).toBeLessThan(0.008);
    expect(Math.abs(areaMm2 / wanted.areaMm2 - 1)).toBeLessThan(0.03);
    expect(offMm).toBeLessThan(0.01);
  }
  expect(of[12].asked.widthMm).toBeCloseTo(0.75, 6);
  const other = asked.map((pad, i) => (i === 1 ? round([1.5, 0], 0.73, 0.73) : i === 12 ? rect([6.5, 0], 0.75, 0.39, 30) : pad)); // biome-ignore format: one line
  expect(inspected(asked, other).faults).toEqual(['2 too small', '13 too large']);
});

it('does not take hairs that meet on a lighter opening for film that was left', () => {
  const asked = [...grid(6, 3, 1.6).map(([x, y], i) => rect([x + 0.1 * (i % 3), y], 0.3, 1.3)), rect([11, 1], 1.5, 1)];
  const hairs = [
    [[0.2, 1.2], [2.2, 2.6]],
    [[0.6, 1.1], [2.8, 1.2]],
    [[1.3, 2.6], [1.9, 0.6]],
  ] as const; // biome-ignore format: from and to
  const { faults, of } = inspected(asked, asked, { film: 120, open: 220 }, hairs);
  expect(faults).toEqual([]);
  expect(of[7].at.map((mm) => mm.toFixed(2))).toEqual(['1.70', '1.60']);
  expect(Math.abs((of[7].areaMm2 ?? 0) / 0.39 - 1)).toBeLessThan(0.12);
});

it('does not take a hair that touches a small round opening for a tear of it', () => {
  const asked = [...grid(5, 4, 0.8).map((at) => round(at, 0.32, 0.32)), rect([5, 1], 1.5, 1), rect([5, 2.3], 0.9, 0.4)];
  const { faults, of } = inspected(asked, asked, {}, [[[1.24, 1.4], [1.64, 2]]]); // biome-ignore format: one hair
  expect(faults).toEqual([]);
  // Its soft sides alone were a tenth of it.
  expect(Math.abs((of[12].areaMm2 ?? 0) / of[12].asked.areaMm2 - 1)).toBeLessThan(0.1);
});

it('tells a hole that nobody asked for, and neither dust nor hairs', () => {
  const asked = grid(5, 4, 1.6).map(([x, y], i) => rect([x + 0.1 * (i % 3), y], 1, 0.6));
  const holes = [rect([7.95, 2], 1.27, 0.95), round([-0.9, 4.2], 0.3, 0.3)];
  const { holes: found, faults } = inspected(asked, [...asked, ...holes], { specksPerCm2: 6, hairsPerCm2: 4 });
  expect(faults).toEqual([]);
  expect(found.map(({ at }) => at.map((value) => value.toFixed(1)))).toEqual([
    ['8.0', '2.0'],
    ['-0.9', '4.2'],
  ]);
  expect(found[0].widthMm).toBeCloseTo(1.27, 1);
  expect(found[0].heightMm).toBeCloseTo(0.95, 1);
});

/** Ground beside a film that ends `edgeMm` from the outermost middles, turned with it. */
const groundAround = ([[x0, y0], [x1, y1]]: readonly [Vec, Vec], edgeMm: number): Pad[] => {
  const [w, h, wide] = [x1 - x0 + 2 * edgeMm, y1 - y0 + 2 * edgeMm, 8];
  const [x, y] = [(x0 + x1) / 2, (y0 + y1) / 2];
  return [-1, 1].flatMap((side) => [
    rect([x + (side * (w + wide)) / 2, y], wide, h + 2 * wide),
    rect([x, y + (side * (h + wide)) / 2], w, wide),
  ]);
};

it.each([
  { film: 200, open: 40, turnDeg: 0.6, edgeMm: 2.1 },
  { film: 120, open: 210, turnDeg: 91, edgeMm: 2.4 },
  { film: 150, open: 100, turnDeg: 20, edgeMm: 3.5 },
])(
  'tells holes however much of the ground shows around the film, and none of what lies there: %o',
  ({ edgeMm, ...of }) => {
    const asked = grid(5, 4, 1.6).map(([x, y], i) => rect([x + 0.1 * (i % 3), y], 1, 0.6));
    const ground = groundAround([[0, 0], [6.6, 4.8]], edgeMm); // biome-ignore format: corners
    const holes = [round([0.8, 0.8], 0.2, 0.2), rect([7.6, 2], 0.5, 0.4), round([-1.7, -1.6], 0.3, 0.3)];
    const scan = { ...of, dpi: 800, widthMm: 20, heightMm: 20, specksPerCm2: 3, hairsPerCm2: 2 };
    const { holes: found, faults } = inspected(asked, [...asked, ...ground, ...holes], scan);
    expect(faults).toEqual([]);
    expect(found.map(({ at }) => at.map((value) => value.toFixed(1)).join()).sort()).toEqual(['-1.7,-1.6', '0.8,0.8', '7.6,2.0']); // biome-ignore format: one line
  },
);

it('finds no fault in a good stencil with a lighter ground beside the film', () => {
  const asked = [
    ...grid(4, 3, 0.9).map((at) => rect(at, 0.5, 0.5)),
    ...grid(14, 1, 0.45, [5, 0.3]).map((at) => rect(at, 0.22, 1.3)),
    ...grid(3, 2, 1.1, [5.5, 2]).map((at) => rect(at, 0.9, 0.9)),
  ];
  const cut = [...asked, ...groundAround([[0, 0], [10.85, 3.1]], 3)]; // biome-ignore format: corners
  const scan = { film: 60, open: 210, vignette: 0.15, turnDeg: 0.5, dpi: 600, widthMm: 24.85, heightMm: 17.1 };
  expect(inspected(asked, cut, scan)).toMatchObject({ faults: [], holes: [] });
});

it('tells a long hole close beside an opening, or between two', () => {
  const asked = grid(6, 3, 2).map(([x, y], i) => rect([0.55 * x + 0.05 * (i % 3), y], 0.35, 1.3));
  // Webs of 0.1 mm beside the first lead of the middle row, and of 0.25 and 0.2 mm between its fourth and fifth.
  const holes = [rect([0.45, 2], 0.35, 1.3), rect([3.9, 2], 0.35, 1.3)];
  const { holes: found, faults } = inspected(asked, [...asked, ...holes], { dpi: 600 });
  expect(faults).toEqual([]);
  expect(found.map(({ at }) => at.map((value) => value.toFixed(1))).sort()).toEqual([['0.4', '2.0'], ['3.9', '2.0']]); // biome-ignore format: one line
});

it.each([0, 180])('is not misled by a row that fits itself one pitch farther on, turned by %d degrees', (turnDeg) => {
  const row = Array.from({ length: 10 }, (_, i) => rect([0.3 + 0.65 * i, 5.5], 0.3, 1.2));
  const asked = [...grid(5, 4, 1.5).map((at) => rect(at, 1, 0.6)), ...row];
  const good = inspected(asked, asked, { turnDeg });
  expect(good.faults).toEqual([]);
  expect(Math.max(...good.of.map(({ offMm = 9 }) => offMm))).toBeLessThan(0.01);
  const cut = asked.flatMap((pad, i) => (i === 20 || i === 3 ? [] : [pad]));
  expect(inspected(asked, cut, { turnDeg }).faults).toEqual(['4 missing', '21 missing']);
});

it('tells an opening that lies beside its place, near or far', () => {
  const asked = [...grid(5, 4, 1.6).map((at) => rect(at, 0.9, 0.6)), rect([8, 1], 1.5, 1), rect([8, 3], 0.5, 0.5)];
  for (const by of [0.1, 0.25, 0.8]) {
    const cut = asked.map((pad, i) => (i === 7 ? rect([3.2, 1.6 + by], 0.9, 0.6) : pad));
    const { faults, holes, of } = inspected(asked, cut);
    expect([by, ...faults]).toEqual([by, '8 out of place']);
    expect(holes).toEqual([]);
    expect(Math.abs((of[7].offMm ?? 0) - by)).toBeLessThan(0.02);
  }
});

it('calls openings too large, not torn, whose walls all lie farther out', () => {
  const kinds = (by: number) => (at: Vec, i: number): Pad =>
    [round(at, 0.35 + by, 0.35 + by), round(at, 0.25 + by, 1.1 + by), rect(at, 0.28 + by, 1.2 + by, 30), rect(at, 0.4 + by, 0.4 + by), frame(at, 1.2 + by, 0.2 + by)][i % 5]; // biome-ignore format: shapes
  const [asked, wide] = [0, 0.035].map((by) =>
    grid(5, 4, 1.6).map(([x, y], i) => kinds(by)([x + 0.1 * (i % 3), y], i)),
  );
  const { faults } = inspected(asked, wide, { turnDeg: 2 });
  expect(new Set(faults.map((one) => one.replace(/^\d+ /, '')))).toEqual(new Set(['too large']));
  expect(faults.length).toBeGreaterThan(11);
  // A tear of as much area is one.
  const cut = [...asked, rect([0, 0.25], 0.1, 0.2)];
  expect(inspected(asked, cut).faults).toEqual(['1 torn']);
});

it('tells slits, bridges over wide webs, and film that runs through an opening', () => {
  const asked = [...grid(5, 4, 1.6).map((at) => rect(at, 0.9, 0.6)), rect([8, 1], 1.5, 1), rect([8, 3], 0.5, 0.5)];
  const halves = [rect([3.2, -0.175], 0.9, 0.25), rect([3.2, 0.175], 0.9, 0.25)];
  const cut = [
    ...asked.filter((_, i) => i !== 2),
    ...halves,
    rect([1.6, 1.6 + 0.8], 0.1, 1.2),
    rect([8, 1 - 0.65], 0.07, 0.6),
  ];
  expect(inspected(asked, cut).faults).toEqual(['3 partly closed', '7 bridged', '12 bridged', '21 torn']);
});

it('never tells a tone from round walls, which lean whatever the levels are', () => {
  const asked = grid(4, 3, 1.5).map(([x, y], i) => round([x + 0.1 * (i % 3), y], 0.5 + 0.04 * i, 0.5 + 0.04 * i));
  for (const levels of [
    { film: 215, open: 40 },
    { film: 250, open: 3 },
  ]) {
    const picture = scanFilm(
      { openings: asked, machine: { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 1e-4, kerfYMm: 1e-4 } },
      { ...SCAN, ...levels, dpi: 600, widthMm: 9, heightMm: 7, atMm: [2, 2], turnDeg: 2 },
    );
    const openings = new Openings(asked as readonly Opening[]);
    const found = new Scene(picture).findStencil(openings, 'darker');
    if (!found) throw new Error('the stencil was not found');
    const places = asked.map((_, i) => openings.placeOf(i, [1, 0]));
    const { tone, uToneMm } = new Ruler(picture, openings, found).learn(places);
    expect(tone).toBeUndefined();
    expect(uToneMm).toBeGreaterThan(0.002);
    expect(uToneMm).toBeLessThan(0.005);
  }
});
