import { Resvg } from '@resvg/resvg-js';
import { describe, expect, it } from 'vitest';
import { readArtwork } from '../../src/artwork/read.js';
import type { Opening } from '../../src/geometry/types.js';
import { groupOpenings } from '../../src/rules/group.js';
import { createMeasurer } from '../../src/rules/measure.js';
import { nearestWebs } from '../../src/rules/webs.js';
import { balls, chip, disc, dualRow, leadless, mixedBoard, pad, placed } from './board.js';

const groups = (openings: readonly Opening[]) =>
  groupOpenings(openings, openings.map(createMeasurer()), nearestWebs(openings));
const kinds = (openings: readonly Opening[]) => groups(openings).map(({ kind }) => kind);

describe('groups of a picture', () => {
  const pads = [
    ...[3, 8.4].flatMap((y) => Array.from({ length: 8 }, (_, i) => [3 + i * 1.27, y, 0.6, 1.55])),
    ...[3, 6].flatMap((y) => [15, 16.6].map((x) => [x, y, 0.8, 0.9])),
  ];
  const rects = pads.map(([x, y, w, h]) => `<rect x="${x}" y="${y}" width="${w}" height="${h}"/>`).join('');

  it.each([
    [300, 'geometricPrecision'],
    [400, 'geometricPrecision'],
    [500, 'geometricPrecision'],
    [600, 'geometricPrecision'],
    [1000, 'geometricPrecision'],
    [600, 'crispEdges'],
    [1000, 'crispEdges'],
  ])('at %d dpi, %s, are those of what was drawn', async (dpi, rendering) => {
    const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="14mm" viewBox="0 0 20 14" shape-rendering="${rendering}">${rects}</svg>`;
    const value = Math.round((20 / 25.4) * dpi);
    const png = new Resvg(svg, { background: 'white', fitTo: { mode: 'width', value } }).render().asPng();
    const { openings } = await readArtwork(png, { widthMm: 20 });
    const found = groups(openings).map(({ kind, padCount }) => `${kind} of ${padCount}`);
    expect(found.sort()).toEqual(['pair of 2', 'pair of 2', 'rows of 16']);
  });
});

describe('groupOpenings', () => {
  it.each([0, 45, 12])('finds the pads around a thermal pad, turned by %i degrees', (angle) => {
    const found = groups(placed(leadless(8, 0.5, 0.25, 0.8, 4.9, 3.1), 20, 10, angle));
    expect(found).toHaveLength(1);
    expect(found[0]).toMatchObject({ kind: 'ring', centre: [33], padCount: 32 });
    expect(found[0].pitchMm).toBeCloseTo(0.5, 6);
    expect(found[0].padMm[0]).toBeCloseTo(0.25, 6);
  });

  it('takes a thermal pad that is drawn as panes', () => {
    const part = leadless(8, 0.5, 0.25, 0.8, 4.9, 3.1).slice(0, 32);
    const panes = [-0.7, 0.7].flatMap((x) => [-0.7, 0.7].map((y) => pad(x, y, 1.1, 1.1)));
    const found = groups([...part, ...panes]);
    expect(found.map(({ kind }) => kind)).toEqual(['ring']);
    expect(found[0].centre).toEqual([33, 34, 35, 36]);
  });

  it('finds two rows of leads, and not the row of the part beside it', () => {
    const found = groups([
      ...placed(dualRow(7, 1.27, 0.6, 1.5, 5.4), 0, 0),
      ...placed(dualRow(7, 1.27, 0.6, 1.5, 5.4), 8, 0),
    ]);
    expect(found.map(({ kind }) => kind)).toEqual(['rows', 'rows']);
  });

  it('tells the usual pad as it lies: the side along X first, whichever is longer', () => {
    const sizes = [
      [0.3, 0.8, 0.5, 0],
      [0.8, 0.3, 0, 0.5],
    ];
    for (const [width, height, dx, dy] of sizes) {
      const [row] = groups([0, 1, 2, 3].map((i) => pad(i * dx, i * dy, width, height)));
      expect(row.padMm.map((mm) => Number(mm.toFixed(6)))).toEqual([width, height]);
    }
  });

  it('finds a ball grid with its pitch and web', () => {
    const [grid] = groups(balls(8, 8, 0.5, 0.28));
    expect(grid).toMatchObject({ kind: 'grid', padCount: 64 });
    expect(grid.pitchMm).toBeCloseTo(0.5, 6);
    expect(grid.webMm).toBeCloseTo(0.22, 3);
  });

  it.each([0, 30, 90])('finds the two pads of a chip at %i degrees', (angle) => {
    expect(kinds(placed(chip(0.5, 0.6, 0.96), 3, 3, angle))).toEqual(['pair']);
  });

  it('finds chips in a bank, far apart and close together', () => {
    for (const spacing of [2, 1.0, 0.8]) {
      const bank = Array.from({ length: 5 }, (_, i) => placed(chip(0.5, 0.6, 0.96), 0, i * spacing)).flat();
      expect(kinds(bank)).toEqual(['pair', 'pair', 'pair', 'pair', 'pair']);
    }
  });

  it('takes a transistor for no chip', () => {
    expect(kinds([pad(-0.95, 1.2, 0.6, 0.9), pad(0.95, 1.2, 0.6, 0.9), pad(0, -1.2, 0.6, 0.9)])).toEqual(['rows']);
  });

  const chips = (spots: readonly (readonly [number, number, number?])[]): Opening[] =>
    spots.flatMap(([x, y, angle = 0]) => placed(chip(0.5, 0.6, 0.96), x, y, angle));

  it.each<[string, Opening[], string[]]>([
    ['a small leadless part with a pad', [...dualRow(3, 0.5, 0.25, 0.6, 1.9), pad(0, 0, 1, 1.5)], ['ring']],
    [
      'three leads facing two',
      [...dualRow(3, 0.95, 0.6, 1, 2.4).slice(0, 3), pad(1.2, -0.95, 1, 0.6), pad(1.2, 0.95, 1, 0.6)],
      ['rows'],
    ],
    ['the four pads of a crystal', [-1.1, 1.1].flatMap((x) => [-0.85, 0.85].map((y) => pad(x, y, 1.4, 1.2))), ['grid']],
    ['two pads of a large chip', chip(1.6, 3.2, 6.2), ['pair']],
    [
      'chips end to end, the next one nearer than the own pad',
      chips([0, 1.75, 3.5, 5.25].map((x) => [x, 0])),
      new Array(4).fill('pair'),
    ],
    [
      'a bank of chips in two lines',
      chips([0, 1.9, 3.8].flatMap((x) => [0, 1].map((y) => [x, y] as const))),
      new Array(6).fill('pair'),
    ],
    [
      'two chips side by side, told by a third elsewhere',
      chips([
        [0, 0],
        [0, 1.1],
        [9, 9, 90],
      ]),
      ['pair', 'pair', 'pair'],
    ],
    [
      'two leadless parts side by side',
      [0, 5.2].flatMap((x) => placed(leadless(6, 0.4, 0.2, 0.6, 3.9, 2.4), x, 0)),
      ['ring', 'ring'],
    ],
    ['leads on four sides with nothing inside', leadless(12, 0.5, 0.28, 1.2, 8.5, 5).slice(0, 48), ['ring']],
    [
      'square pads in a square',
      Array.from({ length: 9 }, (_, i) => pad((i % 3) * 0.65, Math.floor(i / 3) * 0.65, 0.35, 0.35)),
      ['grid'],
    ],
  ])('knows %s', (_, openings, wanted) => {
    for (const angle of [0, 45]) expect(kinds(placed(openings, 7, 3, angle)).sort()).toEqual([...wanted].sort());
  });

  it('pairs the right pads of chips in line', () => {
    const found = groups(chips([0, 1.75, 3.5].map((x) => [x, 0])));
    expect(found.map(({ openings }) => openings)).toEqual([
      [1, 2],
      [3, 4],
      [5, 6],
    ]);
  });

  it('follows the component that the artwork names', () => {
    const named = (openings: Opening[], component: string) =>
      openings.map((o, i) => ({ ...o, tag: { component, pin: String(i + 1) } }));
    const found = groups([...named(chip(0.5, 0.6, 0.96), 'R1'), ...named(chip(0.5, 0.6, 0.96), 'R2'), disc(9, 9, 1)]);
    expect(found.map(({ component, kind, openings }) => [component, kind, openings])).toEqual([
      ['R1', 'pair', [1, 2]],
      ['R2', 'pair', [3, 4]],
    ]);
  });

  it('puts no opening into two groups', () => {
    const all = groups(mixedBoard()).flatMap(({ openings }) => openings);
    expect(new Set(all).size).toBe(all.length);
  });
});
