import { describe, expect, it } from 'vitest';
import { dotsOf } from '../../src/dots/rasterise.js';
import { maskOf } from '../../src/dots/stamp.js';
import type { Point } from '../../src/geometry/types.js';
import { insideRing } from '../../src/geometry/walls.js';
import { correctOpenings } from '../../src/machine/correct-openings.js';
import { commandedKerf } from '../../src/machine/machine-model.js';
import { cases } from '../cases.js';
import { MACHINES } from '../truth/laser.js';
import { shapeOf } from '../truth/shapes.js';
import { seeded } from '../virtual-laser/random.js';

/** An upright shape with limbs as thick as `t`, in a box of w x h, mm. */
const SHAPES: Readonly<Record<string, (w: number, h: number, t: number) => Point[]>> = {
  L: (w, h, t) => [[0, 0], [w, 0], [w, t], [t, t], [t, h], [0, h]], // biome-ignore format: one ring
  T: (w, h, t) => [[(w - t) / 2, 0], [(w + t) / 2, 0], [(w + t) / 2, h - t], [w, h - t], [w, h], [0, h], [0, h - t], [(w - t) / 2, h - t]], // biome-ignore format: one ring
  U: (w, h, t) => [[0, 0], [w, 0], [w, h], [w - t, h], [w - t, t], [t, t], [t, h], [0, h]], // biome-ignore format: one ring
};

/** How many dots of a row or a column are burnt. */
const count = (mask: Uint8Array, from: number, step: number, many: number): number =>
  Array.from({ length: many }, (_, i) => mask[from + i * step]).reduce<number>((sum, one) => sum + one, 0);

describe('walls along the dots', () => {
  it.each(Object.keys(SHAPES))('of an upright %s have no bumps', (kind) => {
    const random = seeded(7);
    let bumps = 0;
    for (let k = 0; k < cases(20); k += 1) {
      const { model, pitch } = MACHINES[Math.floor(random() * MACHINES.length)];
      const t = Math.max(model.kerfXMm, model.kerfYMm) + 10 * Math.max(pitch.x, pitch.y) + 0.3 * random();
      const outer = SHAPES[kind](t * (2.5 + 2 * random()), t * (2.5 + 2 * random()), t);
      const { openings } = correctOpenings([{ outer, islands: [] }], { ...model, shear: 0 });
      const toPixels = { a: 1 / pitch.x, b: 0, c: 0, d: -1 / pitch.y, e: 40, f: 800 };
      const options = { widthPx: 2000, heightPx: 2000, toPixels, dot: pitch, kerfMm: commandedKerf(model) };
      const { stamp } = dotsOf(openings, options).placed[0];
      const mask = maskOf(stamp);
      const limb = { x: (t - model.kerfXMm) / pitch.x / model.scaleX, y: (t - model.kerfYMm) / pitch.y / model.scaleY };
      const { width, height } = stamp;
      const outermost = [
        [count(mask, 0, 1, width), limb.x],
        [count(mask, (height - 1) * width, 1, width), limb.x],
        [count(mask, 0, width, height), limb.y],
        [count(mask, width - 1, width, height), limb.y],
      ];
      // At either end of a wall a sixth, and what rounding makes of it, may lack for the area.
      bumps += outermost.filter(([burnt, least]) => burnt < 0.45 * least).length;
    }
    expect(bumps).toBe(0);
  });
});

/** How far a point lies from the walls. */
function fromWalls([x, y]: Point, rings: readonly (readonly Point[])[]): number {
  let least = Infinity;
  for (const ring of rings) {
    ring.forEach(([ax, ay], i) => {
      const [bx, by] = ring[(i + 1) % ring.length];
      const [dx, dy] = [bx - ax, by - ay];
      const t = Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy || 1)));
      least = Math.min(least, Math.hypot(x - ax - t * dx, y - ay - t * dy));
    });
  }
  return least;
}

describe('round walls', () => {
  it.each(['disc', 'obround', 'roundedRectangle'])('of a %s have no dots that stick out, and no gaps', (kind) => {
    const random = seeded(5);
    let farthest = 0;
    let gaps = 0;
    for (let k = 0; k < cases(20); k += 1) {
      const { model, pitch } = MACHINES[k % MACHINES.length];
      const limb = Math.max(model.kerfXMm, model.kerfYMm) * (1.6 + 1.3 * random());
      const { asked } = shapeOf(kind, seeded(Math.floor(1e9 * random())), limb, k % 2 === 0 ? 0 : 23);
      const { openings } = correctOpenings([asked], { ...model, shear: 0 });
      if (openings.length !== 1) continue;
      const toPixels = { a: 1 / pitch.x, b: 0, c: 0, d: -1 / pitch.y, e: 50, f: 1150 };
      const options = { widthPx: 1200, heightPx: 1200, toPixels, dot: pitch, kerfMm: commandedKerf(model) };
      const { stamp, column, row } = dotsOf(openings, options).placed[0];
      // Slanted walls have tips.
      if (k % 2 === 0) gaps += stamp.rows.flat().length / 2 - stamp.height;
      const mask = maskOf(stamp);
      const rings = [openings[0].outer, ...openings[0].islands].map((ring) =>
        ring.map(([x, y]): Point => [x / pitch.x + 50 - column, 1150 - y / pitch.y - row]),
      );
      for (let dot = 0; dot < mask.length; dot += 1) {
        const middle: Point = [(dot % stamp.width) + 0.5, Math.floor(dot / stamp.width) + 0.5];
        if (mask[dot] === 1 && !insideRing(middle, rings[0])) farthest = Math.max(farthest, fromWalls(middle, rings));
      }
    }
    expect(farthest).toBeLessThan(1);
    expect(gaps).toBe(0);
  });
});
