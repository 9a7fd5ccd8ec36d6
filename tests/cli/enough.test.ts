import { beforeAll, describe, expect, it } from 'vitest';
import { type Sureness, surenessOf } from '../../src/cli/enter/sureness.js';
import type { DimensionalFeature } from '../../src/coupon/features.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import type { Coupon } from '../../src/coupon/types.js';
import { couponOrder } from '../../src/fit/plan/plan-words.js';
import { blankReadings } from '../../src/readings/blank-readings.js';
import type { Reading } from '../../src/readings/types.js';
import { type Machine, randomMachine, readFilm } from '../fit/calibration/virtual-bench.js';
import { seeded } from '../virtual-laser/random.js';
import { bench } from './bench.js';

const desk = bench();
const BED = { widthMm: 150, heightMm: 100, pitchXMm: 0.0254 };
const HAND = () => ({ noiseMm: 0.005, resolutionMm: 0.01 });

let ruler: Coupon;
let ladder: Coupon;
beforeAll(async () => {
  [ruler, ladder] = [await generateCoupon('scale-ruler', BED), await generateCoupon('aperture-ladder', BED)];
});

const inOrder = (coupon: Coupon): DimensionalFeature[] =>
  couponOrder(coupon)!.features.filter((one): one is DimensionalFeature => 'nominalMm' in one);

const sureness = ({ name, features: { canvas, features } }: Coupon, readings: readonly Reading[]) =>
  surenessOf({ coupon: name, canvas, features, readings }, []);

describe('what is enough', () => {
  it('stays enough with more readings, and is not said of a few that agree by chance', () => {
    const random = seeded(3);
    for (let machine = 0; machine < 6; machine += 1) {
      const readings = readFilm(inOrder(ladder).slice(0, 24), randomMachine(random), random, HAND);
      const verdicts: Sureness['verdict'][] = readings.map((_, i) => i < 8 ? 'not yet' : sureness(ladder, readings.slice(0, i + 1))!.verdict); // biome-ignore format: one list
      const first = verdicts.indexOf('enough');
      if (first < 0) continue;
      expect(first).toBeGreaterThanOrEqual(11);
      expect(verdicts.slice(first)).not.toContain('not yet');
    }
  });

  it('is asked of a coarse gauge no longer than most of what it can tell takes, and both commands say so', async () => {
    const random = seeded(11);
    const order = couponOrder(ladder, { takes: 'windows', stepMm: 0.1 })!;
    desk.put('apertrue.json', JSON.stringify({ format: 'apertrue-project', version: 1, out: 'st', gauges: [{ name: 'caliper', resolutionMm: 0.1 }] })); // biome-ignore format: one row
    desk.put('st/aperture-ladder.features.json', JSON.stringify(ladder.features));
    desk.put('st/aperture-ladder.readings.csv', blankReadings(ladder, order));
    const machine: Machine = [1.003, 0.998, 0.001, 0.14, 0.12];
    const lengths = order.features.filter((one): one is DimensionalFeature => 'nominalMm' in one).slice(0, 25);
    const typed = readFilm(lengths, machine, random, () => ({ noiseMm: 0.02, resolutionMm: 0.1 })).map(({ readingMm }) => readingMm!.toFixed(1)); // biome-ignore format: one list
    const { said } = await desk.type('enter aperture-ladder', [...typed, 'q']);
    expect(said).toMatch(/about \d+ more tell most of what this gauge can; for kerf ± 4 µm it takes a finer one/);
    expect(said).toMatch(
      /That is most of what this gauge can tell: the other \d+ would bring kerf X ± 1\d\.\d µm, kerf Y ± 1\d\.\d µm, and a finer gauge more\. q ends here/,
    );
    expect(said).not.toContain('to go on where this ended');
    const { out } = await desk.type('fit aperture-ladder --out p.json');
    expect(out.replaceAll('\n', ' ')).toMatch(/no number of readings with these gauges brings enough/);
  });

  it('goes by the gauge of the coupon, not by what another one scattered by', () => {
    const random = seeded(12);
    const machine: Machine = [1.003, 0.998, 0.001, 0.14, 0.12];
    const session = ({ name, features: { canvas, features } }: Coupon, readings: readonly Reading[]) => ({ coupon: name, canvas, features, readings }); // biome-ignore format: one record
    const coarse = readFilm(inOrder(ruler).slice(0, 20), machine, random, () => ({
      noiseMm: 0.03,
      resolutionMm: 0.01,
    }));
    const fine = readFilm(inOrder(ladder).slice(0, 12), machine, random, HAND);
    const { ahead } = surenessOf(session(ladder, fine), [session(ruler, coarse)])!;
    expect(Number(/about (\d+) more for kerf/.exec(ahead)?.[1] ?? 0)).toBeLessThan(14);
  });

  it('of a witness piece is all of it, however well the coupons beside it were read', async () => {
    const random = seeded(8);
    const machine: Machine = [1.003, 0.998, 0.001, 0.14, 0.12];
    const witness = await generateCoupon('witness', { ...BED, widthMm: 12, heightMm: 12 });
    const others = [ruler, ladder].map(({ name, features: { canvas, features } }) => {
      const own = inOrder(name === ruler.name ? ruler : ladder);
      return { coupon: name, canvas, features, readings: readFilm(own, machine, random, HAND) };
    });
    const { canvas, features } = witness.features;
    const readings = readFilm(inOrder(witness), machine, random, HAND);
    const upTo = (count: number) =>
      surenessOf({ coupon: 'witness', canvas, features, readings: readings.slice(0, count) }, others)!;
    for (let count = 1; count < readings.length; count += 1) {
      const left = readings.length - count;
      expect(upTo(count)).toMatchObject({
        isDone: false,
        verdict: 'not yet',
        ahead: expect.stringMatching(`^${left} more`),
      });
    }
    expect(upTo(readings.length)).toMatchObject({ isDone: true, verdict: 'enough' });
  });

  it('is the same to `enter` and to `fit`, and so are the numbers', async () => {
    const random = seeded(5);
    const machine: Machine = [1.003, 0.998, 0.001, 0.14, 0.12];
    for (const coupon of [ladder, ruler]) {
      const file = `results/${coupon.name}`;
      desk.put(`${file}.features.json`, JSON.stringify(coupon.features));
      desk.put(`${file}.readings.csv`, blankReadings(coupon, couponOrder(coupon)));
    }
    const read = async ({ name }: Coupon, features: readonly DimensionalFeature[]) => {
      const typed = readFilm(features, machine, random, HAND).map(({ readingMm }) => `${readingMm}`);
      return desk.type(`enter results/${name}.readings.csv`, [...typed, 'q']);
    };
    await read(ladder, inOrder(ladder).slice(0, 26));
    const files = 'results/scale-ruler.readings.csv results/aperture-ladder.readings.csv';
    const all = inOrder(ruler);
    for (const [from, to] of [
      [0, 7],
      [7, 26],
    ]) {
      const { said, out } = await read(ruler, all.slice(from, to));
      // Right readings are not questioned while the scale is hardly known.
      expect(said).not.toContain('is expected');
      const fitted = await desk.type(`fit ${files} --out laser-${to}.profile.json`);
      const { fit } = desk.json(`laser-${to}.profile.json`);
      const half = (name: string): number => (fit[name].interval95[1] - fit[name].interval95[0]) / 2;
      const [x, y, lean] = ['scaleX', 'scaleY', 'shear'].map((name) => (100 * half(name)).toFixed(3));
      expect(out).toContain(`along X ± ${x} mm, Y ± ${y} mm, lean of a 100 mm vertical ± ${lean} mm`);
      const isEnough = to === 26;
      expect(/That is enough/.test(said)).toBe(isEnough);
      expect(/^Enough has been read/m.test(fitted.out)).toBe(isEnough);
    }
  });
});
