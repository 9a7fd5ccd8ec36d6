import { describe, expect, it } from 'vitest';
import { figuresText } from '../../src/cli/machine-words.js';
import { stampFromRows } from '../../src/dots/stamp.js';
import { type DotImage, layDots } from '../../src/export/write.js';
import { mapOpenings, rotation } from '../../src/geometry/affine.js';
import { openingArea } from '../../src/geometry/area.js';
import { intersectRegions, unionRegions } from '../../src/geometry/boolean.js';
import { offsetByEllipse } from '../../src/geometry/offset.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import type { Opening, Point } from '../../src/geometry/types.js';
import { WorkBudget } from '../../src/geometry/work-budget.js';
import type { MachineModel } from '../../src/machine/types.js';
import {
  bandsOfDots,
  bandsOfWalls,
  countParts,
  grown,
  grownArea,
  overlap,
  uncovered,
} from '../../src/stencil/bands.js';
import type { Commanded } from '../../src/stencil/command.js';
import { checkCommanded, makeStencil } from '../../src/stencil/make-stencil.js';
import { micrometres } from '../../src/text.js';
import { opened, pathsOf } from '../truth/laser.js';
import { extents } from '../truth/polygons.js';
import { seeded } from '../virtual-laser/random.js';

const MACHINE: MachineModel = { scaleX: 1.0061, scaleY: 0.9948, shear: 0.0027, kerfXMm: 0.137, kerfYMm: 0.094 };
const PITCH = { x: 0.0254, y: 0.0254 };
const pad = (x: number, y: number, w: number, h: number): Opening => solid(rectangle(x, y, x + w, y + h));
const ring = (...outer: Point[]): Opening => ({ outer, islands: [] });
const stencilOf = (openings: readonly Opening[], machine = MACHINE, formats: readonly ('png' | 'svg')[] = ['png']) =>
  makeStencil({ openings }, machine, { pitchMm: PITCH, formats });

/** A row of pads whose dots come out right. */
const PADS = [pad(0, 0, 0.5, 0.6), pad(1, 0, 0.5, 0.6), pad(2, 0, 0.3, 1.2), solid(ellipse(4, 1, 0.4))];

/** What the guard says once somebody has tampered with the dots. */
function tampered(change: (image: DotImage) => DotImage['placed'], openings = PADS) {
  const { asked, commanded } = stencilOf(openings);
  const image = commanded.dots?.image as DotImage;
  const dots = { ...(commanded.dots as NonNullable<Commanded['dots']>), image: { ...image, placed: change(image) } };
  return checkCommanded(asked.openings, { ...commanded, dots }, MACHINE).faults;
}

it('what the beam takes at tips sharper than itself is told, so that no width is off without a word', () => {
  const arc = (x: number, r: number, from: number, to: number): Point[] =>
    Array.from({ length: 13 }, (_, i): Point => {
      const angle = from + ((to - from) * i) / 12;
      return [x + r * Math.cos(angle), r * Math.sin(angle)];
    });
  const tangent = Math.acos(0.25 - 0.02);
  const drop = ring(...arc(0, 0.25, tangent, 2 * Math.PI - tangent), ...arc(1, 0.02, -tangent, tangent));
  const { check } = stencilOf([drop]);
  expect(check.faults).toEqual([]);
  if (!check.figures) throw new Error('no figures');
  const { maxWidthErrorMm, maxTipLossMm } = check.figures;
  // By Clipper2: what the beam reaches from inside.
  const wanted = pathsOf([drop]);
  const lost = extents(wanted, 0)[0] - extents(opened(wanted, MACHINE), 0)[0];
  expect(lost).toBeGreaterThan(2 * PITCH.x);
  // At a tip as sharp as this a micrometre of the beam is four of the width.
  expect(Math.abs(maxTipLossMm - lost)).toBeLessThan(4e-3);
  expect(maxWidthErrorMm - maxTipLossMm).toBeLessThan(0.75 * PITCH.x);
  expect(figuresText(check.figures)).toContain(`${micrometres(maxTipLossMm)} µm there`);
  // Nothing is taken from what has no tips.
  expect(stencilOf(PADS).check.figures?.maxTipLossMm).toBeLessThan(1e-4);
});

describe('the last look before a file is written', () => {
  it('finds nothing wrong with what comes out right, and says how near it comes', () => {
    const { check } = stencilOf(PADS);
    expect(check.faults).toEqual([]);
    expect(check.figures?.maxWidthErrorMm).toBeLessThan(0.75 * 0.0254);
    expect(check.figures?.maxPlaceErrorMm).toBeLessThan(0.0254);
  });

  it('tells of an opening without dots', () => {
    const none = stampFromRows([]).stamp;
    const faults = tampered(({ placed }) => placed.map((one, i) => (i === 1 ? { ...one, stamp: none } : one)));
    expect(faults).toMatchObject([
      { opening: 2, what: ['missing'], askedMm: [0.5, 0.6], gotMm: [0, 0], at: [1.25, 0.3] },
    ]);
  });

  it('tells of an opening that is torn: the beam no longer closes the gap', () => {
    const torn = (gap: number) =>
      tampered(({ placed }) =>
        placed.map((one, i) => {
          if (i !== 2) return one;
          const rows = Array.from({ length: one.stamp.height }, (_, r) =>
            Math.abs(r - one.stamp.height / 2) < gap / 2 ? [] : [0, one.stamp.width],
          );
          return { ...one, stamp: stampFromRows(rows).stamp };
        }),
      );
    expect(torn(6)[0]).toMatchObject({
      opening: 3,
      parts: 2,
      what: expect.arrayContaining(['in pieces']),
    });
    // 0.094 mm of beam are 3.7 dots: two rows left out are burnt all the same.
    expect(torn(2).flatMap(({ what }) => what)).not.toContain('in pieces');
  });

  it('tells of a limb without dots that lies within the box', () => {
    const comb = ring(
      [0, 0],
      [2, 0],
      [2, 1.2],
      [1.7, 1.2],
      [1.7, 0.3],
      [1.1, 0.3],
      [1.1, 0.9],
      [0.9, 0.9],
      [0.9, 0.3],
      [0.3, 0.3],
      [0.3, 1.2],
      [0, 1.2],
    );
    expect(stencilOf([comb]).check.faults).toEqual([]);
    const faults = tampered(
      ({ placed }) =>
        placed.map((one) => {
          const rows = Array.from({ length: one.stamp.height }, (_, r) => {
            const runs = one.stamp.rows[r];
            return runs.length === 6 ? [...runs.slice(0, 2), ...runs.slice(4)] : runs;
          });
          return { ...one, stamp: stampFromRows(rows).stamp };
        }),
      [comb],
    );
    expect(faults[0]).toMatchObject({ opening: 1, what: expect.arrayContaining(['part missing']) });
    expect(faults[0].lost?.at[0]).toBeCloseTo(1, 1);
    expect(faults[0].lost?.at[1]).toBeGreaterThan(0.3);
  });

  it('lets dots reach up to the edge of the canvas, and no farther', () => {
    const { asked, commanded } = stencilOf(PADS);
    const { dots } = commanded;
    if (!dots) throw new Error('no dots');
    const { placed, placement } = dots.image;
    const right = Math.max(...placed.map(({ stamp, column }) => column + stamp.width));
    const low = Math.max(...placed.map(({ stamp, row }) => row + stamp.height));
    const faults = (widthPx: number, lines: number) => {
      const image = { ...dots.image, placement: { ...placement, widthPx, lines } };
      return checkCommanded(asked.openings, { ...commanded, dots: { ...dots, image } }, MACHINE).faults;
    };
    expect(faults(right, low)).toEqual([]);
    expect(faults(right - 1, low)).toMatchObject([{ opening: 4, what: ['cut off'] }]);
    expect(faults(right, low - 1).flatMap(({ what }) => what)).toContain('cut off');
  });

  it('counts what it costs, as the choice of dots does', () => {
    const { asked, commanded } = stencilOf([ring([0, 0], [1, 0], [1, 0.4], [0.4, 0.4], [0.4, 1], [0, 1])]);
    const within = (units: number, work: () => unknown) => () => new WorkBudget(units).run(work);
    const tooMuch = expect.objectContaining({ code: 'TOO_MUCH' });
    expect(within(10, () => checkCommanded(asked.openings, commanded, MACHINE))).toThrow(tooMuch);
    const image = () =>
      layDots(commanded.dots?.corrected.openings ?? [], {
        ...{ ...commanded.frame, format: 'png', pitchMm: PITCH, kerfMm: { x: 0.137, y: 0.094 } },
      });
    expect(within(1000, image)).toThrow(tooMuch);
    expect(within(1e7, image)).not.toThrow();
  });

  it('tells of a limb that ends two dots early, not of one that ends a dot early', () => {
    const tooth = ring(
      ...([
        [0, 0],
        [2, 0],
        [2, 1.2],
        [1.7, 1.2],
        [1.7, 0.3],
        [1.2, 0.3],
        [1.2, 0.9],
        [0.8, 0.9],
        [0.8, 0.3],
      ] as Point[]),
      ...([
        [0.3, 0.3],
        [0.3, 1.2],
        [0, 1.2],
      ] as Point[]),
    );
    const shorter = (by: number) =>
      tampered(
        ({ placed }) =>
          placed.map((one) => {
            const rows = Array.from({ length: one.stamp.height }, (_, r) => one.stamp.rows[r]);
            const tip = rows.findIndex((runs) => runs.length === 6);
            for (let r = tip; r < tip + by; r += 1) rows[r] = [...rows[r].slice(0, 2), ...rows[r].slice(4)];
            return { ...one, stamp: stampFromRows(rows).stamp };
          }),
        [tooth],
      ).flatMap(({ what }) => what);
    expect(shorter(0)).toEqual([]);
    expect(shorter(1)).not.toContain('part missing');
    expect(shorter(2)).toContain('part missing');
  });

  it('tells of dots off their place, off in size, and off the canvas', () => {
    const moved = (by: number) =>
      tampered(({ placed }) => placed.map((one, i) => (i === 0 ? { ...one, column: one.column + by } : one)));
    expect(moved(2)).toMatchObject([
      { opening: 1, what: ['place'], offMm: [expect.closeTo(0.0509, 1), expect.anything()] },
    ]);
    const wider = tampered(({ placed }) =>
      placed.map((one, i) =>
        i === 0
          ? {
              ...one,
              stamp: stampFromRows(Array.from({ length: one.stamp.height }, () => [0, one.stamp.width + 2])).stamp,
            }
          : one,
      ),
    );
    expect(wider[0]).toMatchObject({ opening: 1, what: expect.arrayContaining(['size', 'area']) });
    expect(wider[0].gotMm[0]).toBeGreaterThan(0.53);
    const off = tampered(({ placed }) => placed.map((one, i) => (i === 0 ? { ...one, column: -1 } : one)));
    expect(off[0].what).toContain('cut off');
  });

  it('tells of a pad that is a dot too wide, or a dot off its place, where half a dot would be rounding', () => {
    // Whole dots all along, so that nothing is off before somebody tampers with it.
    const machine = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 4 * PITCH.x, kerfYMm: 4 * PITCH.y };
    const { asked, commanded } = stencilOf([pad(0, 0, 20 * PITCH.x, 30 * PITCH.y)], machine);
    const image = commanded.dots?.image as DotImage;
    const faults = (change: (one: DotImage['placed'][number]) => DotImage['placed'][number]) => {
      const dots = { ...(commanded.dots as NonNullable<Commanded['dots']>), image: { ...image, placed: image.placed.map(change) } }; // biome-ignore format: one line
      return checkCommanded(asked.openings, { ...commanded, dots }, machine).faults.map(({ what }) => what);
    };
    expect(faults((one) => one)).toEqual([]);
    const wider = (stamp: DotImage['placed'][number]['stamp'], by: number) =>
      stampFromRows(Array.from({ length: stamp.height }, () => [0, stamp.width + by])).stamp;
    expect(faults((one) => ({ ...one, stamp: wider(one.stamp, 1) }))).toEqual([expect.arrayContaining(['size'])]);
    expect(faults((one) => ({ ...one, column: one.column + 1 }))).toEqual([['place']]);
    expect(faults((one) => ({ ...one, row: one.row - 1 }))).toEqual([['place']]);
  });

  it('tells of openings that run together, and not of those that touch in the artwork', () => {
    const [apart, touching] = [0.12, 0].map((gap) => [pad(0, 0, 0.5, 0.5), pad(0.5 + gap, 0, 0.5, 0.5)]);
    expect(stencilOf(apart).check.faults).toEqual([]);
    const moved = (openings: Opening[]) =>
      tampered(({ placed }) => placed.map((one, i) => (i === 1 ? { ...one, column: one.column - 6 } : one)), openings);
    expect(moved(apart)).toMatchObject([
      { opening: 1, what: ['joined'], with: [2] },
      { opening: 2, what: ['joined', 'place'], with: [1] },
    ]);
    expect(stencilOf(touching).check.faults.flatMap(({ what }) => what)).not.toContain('joined');
    expect(moved(touching)).toMatchObject([{ opening: 2, what: ['place'] }]);
  });

  it('a tip that is sharper than any corner is told of once: as narrow where a line stands for it, else as missing', () => {
    const needle = ring([0, 0], [3, 0], [0, 0.3]);
    for (const format of ['png', 'svg'] as const) {
      const { check, commanded, asked } = stencilOf([needle], MACHINE, [format]);
      expect(commanded.corrected.narrow).toMatchObject([{ opening: 1, extent: 'part' }]);
      expect(check.faults).toEqual([]);
      // Without the line that stands for the tip it is missing.
      const { corrected } = commanded;
      const blunt = corrected.openings.map(({ outer }) => ring(...outer.map(([x, y]): Point => [Math.min(x, 1.5), y])));
      const [fault] = checkCommanded(
        asked.openings,
        { ...commanded, dots: undefined, corrected: { ...corrected, openings: blunt } },
        MACHINE,
      ).faults;
      expect(fault.what).toContain('part missing');
      expect(fault.askedMm[0]).toBeCloseTo(3, 1);
      expect(fault.gotMm[0]).toBeLessThan(2.3);
    }
    expect(stencilOf([ring([0, 0], [2, 0], [0, 2])], MACHINE, ['svg']).check.faults).toEqual([]);
  });

  it('tells of paths that do not meet, but whose cuts run together', () => {
    const { asked, commanded } = stencilOf([pad(0, 0, 0.5, 0.5), pad(0.62, 0, 0.5, 0.5)], MACHINE, ['svg']);
    const { corrected } = commanded;
    // A beam of 0.137 mm leaves film between paths that are further apart, and none where they are nearer.
    const faultsAfter = (moved: number) => {
      const openings = corrected.openings.map(({ outer }, i) =>
        ring(...outer.map(([x, y]): Point => [x - i * moved, y])),
      );
      return checkCommanded(asked.openings, { ...commanded, corrected: { ...corrected, openings } }, MACHINE).faults;
    };
    expect(faultsAfter(0.1).flatMap(({ what }) => what)).not.toContain('joined');
    expect(faultsAfter(0.14)).toMatchObject([
      { opening: 1, what: ['joined'], with: [2] },
      { opening: 2, what: expect.arrayContaining(['joined']), with: [1] },
    ]);
  });

  it('tells when the correction itself brings no opening for one that came in', () => {
    const { asked, commanded } = stencilOf(PADS, MACHINE, ['svg']);
    const { corrected } = commanded;
    const fewer = { ...corrected, openings: corrected.openings.slice(1), numbers: corrected.numbers.slice(1) };
    const { faults } = checkCommanded(asked.openings, { ...commanded, corrected: fewer }, MACHINE);
    expect(faults).toMatchObject([{ opening: 1, what: ['missing'] }]);
  });
});

describe('bands', () => {
  const random = seeded(5);
  /** A stamp of random runs; single runs that touch when `plain`. */
  const stampOf = (plain: boolean) => {
    let [left, right] = [4, 12];
    const rows = Array.from({ length: 3 + Math.floor(random() * 12) }, () => {
      left += Math.floor(random() * 3) - 1;
      right = Math.max(left + 2, right + Math.floor(random() * 3) - 1);
      return plain || random() < 0.5 ? [left, right] : [left, left + 1, right + 6, right + 8];
    });
    return stampFromRows(rows).stamp;
  };

  it('grow by the beam as the polygon library grows the same dots', () => {
    for (let k = 0; k < 40; k += 1) {
      const stamp = stampOf(k % 2 === 0);
      const [w, h] = [2 + 4 * random(), 2 + 4 * random()];
      // Of every second one only the middle third of each row is burnt.
      const filmDots = k % 4 < 2 ? 0 : 1 / 3;
      const beam = { halfWidth: w / 2, halfHeight: h / 2, lean: 0, filmDots };
      const rects = Array.from({ length: stamp.height }, (_, r) => {
        const runs = stamp.rows[r];
        return Array.from({ length: runs.length / 2 }, (_, i) =>
          solid(rectangle(runs[2 * i], r + filmDots, runs[2 * i + 1], r + 1 - filmDots)),
        );
      }).flat();
      const cut = unionRegions(rects.flatMap((one) => offsetByEllipse(one, w, h, 1)));
      const bands = grown(bandsOfDots([{ stamp, column: 0, row: 0 }]), beam);
      const area = cut.reduce((sum, part) => sum + openingArea(part), 0);
      expect(Math.abs(grownArea(bandsOfDots([{ stamp, column: 0, row: 0 }]), beam) / area - 1)).toBeLessThan(0.003);
      // Rows that touch stay one part; the library leaves apart what only touches in a point.
      if (k % 2 === 0) expect([countParts(bands), cut.length]).toEqual([1, 1]);
    }
  });

  it('meet and cover as the polygon library finds', () => {
    for (let k = 0; k < 60; k += 1) {
      const turned = (x: number): Opening =>
        mapOpenings(rotation(360 * random()), [pad(x - 4 - 3 * random(), -2, 6 + 4 * random(), 3 + 3 * random())])[0];
      const [p, q] = [turned(0), turned(6 * random())];
      const bands = (o: Opening) =>
        grown(
          bandsOfWalls(Float64Array.from(o.outer.flatMap((a, i) => [...a, ...o.outer[(i + 1) % o.outer.length]]))),
          { halfWidth: 0, halfHeight: 0, lean: 0, filmDots: 0 },
        );
      const shared = intersectRegions([p], [q]).reduce((sum, part) => sum + openingArea(part), 0);
      if (shared === 0 || shared > 0.5) expect(overlap(bands(p), bands(q))).toBe(shared > 0);
      const left = openingArea(p) - shared;
      if (left > 3) expect(uncovered(bands(p), bands(q))).toBeDefined();
    }
  });
});
