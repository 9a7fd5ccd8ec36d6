import { describe, expect, it } from 'vitest';
import { maskOf } from '../../src/dots/masks.js';
import { dotsOf } from '../../src/dots/rasterise.js';
import type { Point } from '../../src/geometry/types.js';
import { correctOpenings } from '../../src/machine/correct-openings.js';
import { commandedKerf } from '../../src/machine/machine-map.js';
import { cases } from '../cases.js';
import { MACHINES } from '../truth/laser.js';
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
