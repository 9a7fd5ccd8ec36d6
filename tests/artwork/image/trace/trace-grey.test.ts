import { createRequire } from 'node:module';
import { describe, expect, it } from 'vitest';
import { traceGrey } from '../../../../src/artwork/image/trace/trace.js';
import { openingArea, ringArea } from '../../../../src/geometry/area.js';
import { ringBounds } from '../../../../src/geometry/bounds.js';
import { cleanOpenings } from '../../../../src/geometry/clean.js';
import { copyOf } from '../../../../src/geometry/copies.js';
import type { Ring } from '../../../../src/geometry/types.js';
import { cases } from '../../../cases.js';
import { seeded } from '../../../virtual-laser/random.js';
import { bitImage, disc, greyImage, slanted, type TestImage } from './raster.js';

const PX = { x: 1, y: 1 };

interface Made {
  readonly ring: Ring;
  readonly area: number;
  readonly perimeter: number;
  readonly size: number;
}

function discOf(diameter: number, random: () => number): Made {
  const size = Math.ceil(diameter + 10);
  const at = (): number => size / 2 + random() - 0.5;
  const ring = disc(at(), at(), diameter / 2);
  return { ring, area: (Math.PI * diameter ** 2) / 4, perimeter: Math.PI * diameter, size };
}

function rectangleOf(wide: number, tall: number, angleDeg: number, random: () => number): Made {
  const size = Math.ceil(wide + tall + 10);
  const ring = slanted(size / 2 + random() - 0.5, size / 2 + random() - 0.5, wide, tall, angleDeg);
  return { ring, area: wide * tall, perimeter: 2 * (wide + tall), size };
}

/** Relative area errors and errors of width, pixels, of single shapes. */
function errorsOf(made: readonly Made[], draw: (rings: readonly Ring[], w: number, h: number) => TestImage) {
  const relative: number[] = [];
  const width: number[] = [];
  let fourCorners = 0;
  for (const { ring, area, perimeter, size } of made) {
    const openings = traceGrey(draw([ring], size, size), PX);
    expect(openings).toHaveLength(1);
    const error = openingArea(openings[0]) - area;
    relative.push(Math.abs(error) / area);
    width.push((2 * error) / perimeter);
    if (openings[0].outer.length === 4) fourCorners += 1;
  }
  return {
    worst: Math.max(...relative),
    worstPx: Math.max(...width.map(Math.abs)),
    bias: width.reduce((sum, v) => sum + v, 0) / width.length,
    fourCorners,
  };
}

describe('antialiased pictures, against shapes of known area', () => {
  it.each([600, 1000, 1200, 2400])('discs from 0.3 mm at %i dpi keep their width within 2.5 um', (dpi) => {
    const random = seeded(dpi);
    const made = Array.from({ length: cases(30) }, () => discOf(((0.3 + 0.7 * random()) * dpi) / 25.4, random));
    const { worstPx, bias } = errorsOf(made, greyImage);
    expect((worstPx * 25_400) / dpi).toBeLessThan(2.5);
    expect((Math.abs(bias) * 25_400) / dpi).toBeLessThan(0.5);
  });

  it.each([600, 1000, 1200, 2400])('slanted rectangles at %i dpi keep area, width and four sharp corners', (dpi) => {
    const random = seeded(dpi + 1);
    const px = dpi / 25.4;
    const made = Array.from({ length: cases(40) }, () =>
      rectangleOf((0.25 + random()) * px, (0.3 + 1.5 * random()) * px, 180 * random() - 90, random),
    );
    const { worst, bias, fourCorners } = errorsOf(made, greyImage);
    expect(worst).toBeLessThan(0.003);
    expect(Math.abs(bias)).toBeLessThan(0.002);
    expect(fourCorners / made.length).toBeGreaterThan(70 / 80);
  });

  it.each([600, 1000, 2400])('discs of 0.3 to 1 mm at %i dpi are as wide as they should be', (dpi) => {
    const random = seeded(dpi + 2);
    let sum = 0;
    const count = cases(30);
    for (let n = 0; n < count; n += 1) {
      const diameter = ((0.3 + 0.7 * random()) * dpi) / 25.4;
      const { ring, size } = discOf(diameter, random);
      const [{ outer }] = traceGrey(greyImage([ring], size, size), PX);
      const { minX, minY, maxX, maxY } = ringBounds(outer);
      sum += (maxX - minX + maxY - minY) / 2 - diameter;
    }
    expect((Math.abs(sum / count) * 25_400) / dpi).toBeLessThan(1.6);
  });

  it('an upright rectangle has four corners at their true places', () => {
    const [opening] = traceGrey(greyImage([slanted(20.3, 15.6, 20.5, 9.3, 0)], 40, 30), { x: 0.5, y: 0.25 });
    expect(opening.outer).toHaveLength(4);
    const { minX, maxX, minY, maxY } = ringBounds(opening.outer);
    expect(minX).toBeCloseTo(10.05 * 0.5, 2);
    expect(maxX).toBeCloseTo(30.55 * 0.5, 2);
    expect(minY).toBeCloseTo((30 - 20.25) * 0.25, 2);
    expect(maxY).toBeCloseTo((30 - 10.95) * 0.25, 2);
  });

  it('corners stay sharp: no point of a square is missing by more than 0.05 px', () => {
    const ring = slanted(40.2, 40.4, 30, 30, 23);
    const [opening] = traceGrey(greyImage([ring], 80, 80), PX);
    for (const [x, y] of ring) {
      const nearest = Math.min(...opening.outer.map(([u, v]) => Math.hypot(u - x, 80 - v - y)));
      expect(nearest).toBeLessThan(0.05);
    }
  });
});

describe('1-bit pictures', () => {
  it.each([
    [6, 12],
    [12, 25],
    [25, 60],
    [60, 120],
  ])('shapes of %i to %i px come back without bias', (least, most) => {
    const random = seeded(least);
    const count = cases(60);
    const size = (): number => least + (most - least) * random();
    const discs = errorsOf(
      Array.from({ length: count }, () => discOf(size(), random)),
      bitImage,
    );
    const rectangles = errorsOf(
      Array.from({ length: count }, () => rectangleOf(size(), size(), 180 * random() - 90, random)),
      bitImage,
    );
    expect(Math.abs(discs.bias)).toBeLessThan(0.05);
    expect(Math.abs(rectangles.bias)).toBeLessThan(0.05);
    expect(rectangles.fourCorners / count).toBeGreaterThan(least < 12 ? 80 / 120 : 105 / 120);
  });

  it('slanted rectangles keep their right angles, however short their ends are', () => {
    const random = seeded(11);
    let square = 0;
    for (let n = 0; n < 100; n += 1) {
      const { ring, size } = rectangleOf(10 + 3 * random(), 45 + 10 * random(), 5 + 80 * random(), random);
      const [{ outer }] = traceGrey(bitImage([ring], size, size), PX);
      if (outer.length !== 4) continue;
      const [p, q, r] = outer;
      const [ux, uy, vx, vy] = [q[0] - p[0], q[1] - p[1], r[0] - q[0], r[1] - q[1]];
      if (Math.abs(ux * vx + uy * vy) < 1e-6 * Math.hypot(ux, uy) * Math.hypot(vx, vy)) square += 1;
    }
    expect(square).toBeGreaterThan(92);
  });

  it('outlines with tips sharper than a pixel do not cross themselves', () => {
    const random = seeded(31);
    for (let n = 0; n < cases(150); n += 1) {
      const spikes = 5 + Math.floor(random() * 6);
      const [x, y] = [32 + random(), 32 + random()];
      const ring = Array.from({ length: spikes }, (_, i): [number, number] => {
        const [radius, angle] = [5 + 20 * random(), (i / spikes) * 2 * Math.PI];
        return [x + radius * Math.cos(angle), y + radius * Math.sin(angle)];
      });
      for (const { outer, islands } of traceGrey(bitImage([ring], 64, 64), PX)) {
        // A ring that is not sound is told of, or refused.
        expect(cleanOpenings([{ outer, islands }]).warnings).toEqual([]);
      }
    }
  });

  it('a large disc is as true as its number of pixels', () => {
    const random = seeded(5);
    const made = Array.from({ length: 60 }, () => discOf(60 + 60 * random(), random));
    const traced = errorsOf(made, bitImage).worst;
    const counted = made.map(({ ring, area, size }) => {
      const open = bitImage([ring], size, size).data.reduce((sum, v) => sum + (v > 0 ? 1 : 0), 0);
      return Math.abs(open - area) / area;
    });
    expect(traced).toBeLessThan(Math.max(...counted) * 1.1);
  });

  it('openings that are equal to the pixel are copies of one shape, each in its place; others are not', () => {
    const centres = [20, 60, 100] as const;
    const rings = centres.map((x) => disc(x, 20.3, x === 100 ? 9 : 8));
    const traced = traceGrey(bitImage(rings, 120, 40), { x: 0.5, y: 0.25 });
    const [first, second, larger] = traced.map((one) => copyOf(one));
    expect(second?.shape).toBe(first?.shape);
    expect(larger?.shape).not.toBe(first?.shape);
    expect(traced.map(({ tag }) => tag)).toEqual(centres.map(() => ({ drawn: 'traced' })));
    traced.forEach(({ outer }, i) => {
      const { minX, minY, maxX, maxY } = ringBounds(outer);
      expect((minX + maxX) / 2).toBeCloseTo(centres[i] * 0.5, 1);
      expect((minY + maxY) / 2).toBeCloseTo((40 - 20.3) * 0.25, 1);
      expect(ringArea(outer) / (Math.PI * (i === 2 ? 9 : 8) ** 2 * 0.125)).toBeCloseTo(1, 1);
    });
  });

  it('an upright rectangle lies exactly on the pixel edges', () => {
    const data = new Uint8Array(30 * 20);
    for (let y = 4; y < 11; y += 1) data.fill(255, y * 30 + 3, y * 30 + 21);
    const [opening] = traceGrey({ width: 30, height: 20, data }, PX);
    expect(opening.outer).toHaveLength(4);
    expect(ringBounds(opening.outer)).toEqual({ minX: 3, maxX: 21, minY: 9, maxY: 16 });
  });
});

/** A picture from text: # open, everything else film. */
function picture(...rows: string[]): TestImage {
  const data = Uint8Array.from(rows.join(''), (c) => (c === '#' ? 255 : 0));
  return { width: rows[0].length, height: rows.length, data };
}

describe('what hangs together', () => {
  it('islands inside an opening stay, as clockwise rings', () => {
    const [opening] = traceGrey(
      picture(
        '..........',
        '.########.',
        '.########.',
        '.###..###.',
        '.###..###.',
        '.########.',
        '.########.',
        '..........',
      ),
      PX,
    );
    expect(opening.islands).toHaveLength(1);
    expect(ringArea(opening.outer)).toBe(48);
    expect(ringArea(opening.islands[0])).toBe(-4);
  });

  it('an opening inside an island is an opening of its own', () => {
    const openings = traceGrey(
      greyImage([disc(30, 30, 25), [...disc(30, 30, 17)].reverse(), disc(30, 30, 8)], 60, 60),
      PX,
    );
    expect(openings.map(({ islands }) => islands.length).sort()).toEqual([0, 1]);
  });

  it('openings that touch at a corner only stay two', () => {
    const openings = traceGrey(
      picture('........', '.###....', '.###....', '.###....', '....###.', '....###.', '....###.', '........'),
      PX,
    );
    expect(openings.map(openingArea)).toEqual([9, 9]);
  });

  it('openings at the border are closed along it', () => {
    const openings = traceGrey(picture('####....', '####....', '####...#', '........', '........', '####.###'), PX);
    expect(openings.map(openingArea)).toEqual([12, 1, 4, 3]);
    expect(ringBounds(openings[0].outer)).toEqual({ minX: 0, maxX: 4, minY: 3, maxY: 6 });
  });

  it('openings come row by row from the top, left to right, and always the same', () => {
    const rings = [
      slanted(70, 20.4, 12, 8, 0),
      slanted(20, 20, 12, 8, 0),
      slanted(45, 60, 12, 8, 5),
      slanted(45, 21, 9, 9, 0),
    ];
    const image = greyImage(rings, 90, 80);
    const openings = traceGrey(image, PX);
    const centres = openings.map(({ outer }) => {
      const box = ringBounds(outer);
      return [Math.round((box.minX + box.maxX) / 2), Math.round(80 - (box.minY + box.maxY) / 2)];
    });
    expect(centres).toEqual([
      [20, 20],
      [45, 21],
      [70, 20],
      [45, 60],
    ]);
    expect(traceGrey(image, PX)).toEqual(openings);
  });

  it('outer rings run counter-clockwise and are marked as traced', () => {
    for (const opening of traceGrey(greyImage([disc(20, 20, 9), disc(50, 20, 7)], 70, 40), PX)) {
      expect(ringArea(opening.outer)).toBeGreaterThan(0);
      expect(opening.tag).toEqual({ drawn: 'traced' });
    }
  });

  it('when all is film then nothing comes back', () => {
    expect(traceGrey({ width: 9, height: 9, data: new Uint8Array(81) }, PX)).toEqual([]);
  });
});

describe('symmetry', () => {
  it('a picture turned by 90 degrees, mirrored or moved by whole pixels has the same areas', () => {
    const ring = slanted(30.3, 25.7, 24.2, 11.6, 31);
    const areaOf = (r: Ring): number => openingArea(traceGrey(greyImage([r], 64, 64), PX)[0]);
    const area = areaOf(ring);
    expect(areaOf(ring.map(([x, y]): [number, number] => [64 - y, x]))).toBeCloseTo(area, 1);
    expect(areaOf(ring.map(([x, y]): [number, number] => [64 - x, y]).reverse())).toBeCloseTo(area, 1);
    expect(areaOf(ring.map(([x, y]): [number, number] => [x + 3, y + 5]))).toBeCloseTo(area, 9);
  });
});

/** Reference: OpenCV 4 (`moments` of the grey picture: sum of coverage and its centre). */
describe('against OpenCV', () => {
  it('areas agree with the moments of the grey picture', () => {
    interface Cv {
      Mat: new () => { delete(): void };
      matFromArray(rows: number, cols: number, type: number, data: Uint8Array): { delete(): void };
      CV_8UC1: number;
      moments(mat: unknown, binary: boolean): { m00: number; m10: number; m01: number };
    }
    const cv = createRequire(import.meta.url)('@techstark/opencv-js') as Cv & { onRuntimeInitialized?: () => void };
    const ready = new Promise<void>((resolve) => {
      if (cv.Mat) resolve();
      else cv.onRuntimeInitialized = () => resolve();
    });
    return ready.then(() => {
      for (const ring of [disc(30.3, 29.6, 8.2), slanted(30.1, 30.8, 28, 13, 17), slanted(30.1, 30.8, 28, 6, -41)]) {
        const image = greyImage([ring], 60, 60);
        const mat = cv.matFromArray(60, 60, cv.CV_8UC1, image.data);
        const { m00, m10, m01 } = cv.moments(mat, false);
        mat.delete();
        const [opening] = traceGrey(image, PX);
        expect(openingArea(opening) / (m00 / 255)).toBeCloseTo(1, 3);
        const { minX, maxX, minY, maxY } = ringBounds(opening.outer);
        expect((minX + maxX) / 2).toBeCloseTo(m10 / m00 + 0.5, 1);
        expect(60 - (minY + maxY) / 2).toBeCloseTo(m01 / m00 + 0.5, 1);
      }
    });
  });
});
