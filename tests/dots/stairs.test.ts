import { describe, expect, it } from 'vitest';
import { dotsOf } from '../../src/dots/rasterise.js';
import type { PlacedStamp } from '../../src/dots/stamp.js';
import { mapOpening, rotation, translation } from '../../src/geometry/affine.js';
import { openingArea, openingCentroid } from '../../src/geometry/area.js';
import { longSide, orientedBox } from '../../src/geometry/oriented-box.js';
import { ellipse, solid } from '../../src/geometry/shapes.js';
import type { Opening, Point, Ring } from '../../src/geometry/types.js';
import { correctOpenings } from '../../src/machine/correct-openings.js';
import { board, box, rounded } from '../export/boards.js';
import { Film } from '../virtual-laser/film.js';
import { seeded } from '../virtual-laser/random.js';
import { burn, isBurnt } from './in-memory.js';

const PITCH = { x: 0.0254, y: 0.0254 };
const KERF = { x: 0.15, y: 0.12 };
const MACHINE = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: KERF.x, kerfYMm: KERF.y };

function dotsFor(openings: readonly Opening[], sizeMm: number, kerfMm?: typeof KERF) {
  const side = Math.ceil(sizeMm / PITCH.x);
  const toPixels = { a: 1 / PITCH.x, b: 0, c: 0, d: -1 / PITCH.y, e: 0, f: side };
  return { side, dots: dotsOf(openings, { widthPx: side, heightPx: side, toPixels, dot: PITCH, kerfMm }) };
}

/** Area that the beam burns for a stamp, mm²: looks at 5 x 5 places in every dot. An own way, without polygons. */
function burntArea({ stamp }: PlacedStamp): number {
  const [rx, ry, looks] = [KERF.x / 2 / PITCH.x, KERF.y / 2 / PITCH.y, 5];
  const room = Math.ceil(Math.max(rx, ry)) + 1;
  let burnt = 0;
  for (let j = -room * looks; j < (stamp.height + room) * looks; j += 1) {
    const y = (j + 0.5) / looks;
    for (let i = -room * looks; i < (stamp.width + room) * looks; i += 1) {
      const x = (i + 0.5) / looks;
      if (reached(stamp, x, y, rx, ry)) burnt += 1;
    }
  }
  return (burnt * PITCH.x * PITCH.y) / looks ** 2;
}

function reached(stamp: PlacedStamp['stamp'], x: number, y: number, rx: number, ry: number): boolean {
  for (let row = Math.max(0, Math.floor(y - ry)); row < Math.min(stamp.height, y + ry); row += 1) {
    const dy = Math.max(0, row - y, y - row - 1) / ry;
    const runs = stamp.rows[row];
    for (let k = 0; k < runs.length; k += 2) {
      const dx = Math.max(0, runs[k] - x, x - runs[k + 1]) / rx;
      if (dx * dx + dy * dy <= 1) return true;
    }
  }
  return false;
}

describe('what the beam makes of stairs of dots', () => {
  const kinds: [string, (size: () => number) => Opening][] = [
    ['discs', (size) => solid(ellipse(0, 0, size() / 2))],
    [
      'obrounds',
      (size) => {
        const width = size();
        return solid(rounded(width, width + 0.4, width / 2));
      },
    ],
    ['rectangles at 45 degrees', (size) => mapOpening(rotation(45), solid(box(size(), size())))],
    ['rectangles at 20 degrees', (size) => mapOpening(rotation(20), solid(box(size(), size())))],
    ['upright rectangles', (size) => solid(box(size(), size()))],
  ];
  it.each(kinds)('%s: the burnt area is right to 2 % on the mean, of slanted ones to 5.5 %', (name, make) => {
    const random = seeded(21);
    const errors = { plain: [] as number[], known: [] as number[] };
    for (let k = 0; k < 14; k += 1) {
      const wanted = make(() => 0.3 + 0.4 * random());
      const moved = mapOpening(translation(1.3 + 0.1 * random(), 1.3 + 0.1 * random()), wanted);
      const { openings } = correctOpenings([moved], MACHINE);
      for (const [key, kerf] of [
        ['plain', undefined],
        ['known', KERF],
      ] as const) {
        const burnt = burntArea(dotsFor(openings, 2.6, kerf).dots.placed[0]);
        // The beam rounds sharp corners by the quarters of its ellipse.
        const corners = name.includes('rectangles') ? (1 - Math.PI / 4) * KERF.x * KERF.y : 0;
        errors[key].push((100 * burnt) / (openingArea(wanted) - corners) - 100);
      }
    }
    const mean = (values: number[]): number => values.reduce((a, b) => a + b, 0) / values.length;
    // A slanted wall is as wide as its tips; the beam does not fill all that lies between them.
    expect(Math.abs(mean(errors.known))).toBeLessThan(name.includes('degrees') ? 5.5 : 2);
    if (name !== 'upright rectangles') expect(mean(errors.plain)).toBeGreaterThan(mean(errors.known));
  });
});

describe('a corrected board under the virtual laser', () => {
  /** Where a line through `c` along `u` leaves a ring, from `c`. */
  function chord(ring: Ring, c: Point, u: Point): [number, number] {
    let [low, high] = [-Infinity, Infinity];
    ring.forEach((a, i) => {
      const b = ring[(i + 1) % ring.length];
      const side = (p: Point): number => (p[1] - c[1]) * u[0] - (p[0] - c[0]) * u[1];
      const [da, db] = [side(a), side(b)];
      if (da > 0 === db > 0) return;
      const t = da / (da - db);
      const along = (a[0] + t * (b[0] - a[0]) - c[0]) * u[0] + (a[1] + t * (b[1] - a[1]) - c[1]) * u[1];
      if (along < 0) low = Math.max(low, along);
      else high = Math.min(high, along);
    });
    return [low, high];
  }

  it.each([
    ['upright parts and a few slanted ones', 0.05, 3.5],
    ['every part slanted', 1, 4],
  ])('%s: widths within 10.5 µm RMS without bias, places within 12 µm', (_, slanted, bias) => {
    const { openings, sizeMm } = board(160, 4, slanted);
    const corrected = correctOpenings(openings, MACHINE, { lineMm: PITCH });
    const { side, dots } = dotsFor(corrected.openings, sizeMm, KERF);
    const bitmap = burn(dots.placed, side, side);
    const dark = Uint8Array.from({ length: side * side }, (__, i) =>
      isBurnt(bitmap, i % side, Math.floor(i / side)) ? 1 : 0,
    );
    const film = new Film(MACHINE, { width: side, height: side, dark }, PITCH);
    const widths: number[] = [];
    const places: number[] = [];
    for (const opening of openings) {
      const c = openingCentroid(opening);
      const { along } = longSide(orientedBox(opening.outer));
      for (const u of [along, [-along[1], along[0]]] as Point[]) {
        const look = 2;
        const burnt = film.burntAlong(
          [c[0] - look * u[0], c[1] - look * u[1]],
          [c[0] + look * u[0], c[1] + look * u[1]],
          0,
          2 * look,
        );
        const [start, end] = burnt.find(([p, q]) => p <= look && q >= look) ?? [0, 0];
        const [low, high] = chord(opening.outer, c, u);
        widths.push(1000 * (end - start - (high - low)));
        places.push(1000 * ((start + end) / 2 - look - (low + high) / 2));
      }
    }
    const rms = (values: number[]): number => Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length);
    expect(rms(widths)).toBeLessThan(10.5);
    expect(Math.abs(widths.reduce((a, b) => a + b, 0) / widths.length)).toBeLessThan(bias);
    expect(rms(places) * Math.SQRT2).toBeLessThan(12);
  });
});
