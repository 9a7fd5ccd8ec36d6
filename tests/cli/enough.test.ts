import { beforeAll, describe, expect, it } from 'vitest';
import { isDone, surenessOf } from '../../src/cli/enter/sureness.js';
import type { DimensionalFeature } from '../../src/coupon/features.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import type { Coupon } from '../../src/coupon/types.js';
import { couponOrder, type ReadWith } from '../../src/fit/plan/plan-words.js';
import { blankReadings } from '../../src/readings/blank-readings.js';
import type { Reading } from '../../src/readings/types.js';
import { type Machine, randomMachine, readFilm } from '../fit/calibration/virtual-bench.js';
import { seeded } from '../virtual-laser/random.js';
import { bench, filledIn } from './bench.js';

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

const rowsOf = (readings: readonly Reading[], digits: number) =>
  readings.map(({ feature, readingMm }) => [feature, readingMm!.toFixed(digits)] as const);

const sureness = ({ name, features: { canvas, features } }: Coupon, readings: readonly Reading[]) =>
  surenessOf({ coupon: name, canvas, features, readings }, []);

describe('what is enough', () => {
  it('stays enough with more readings, and is not said of a few that agree by chance', () => {
    const random = seeded(3);
    const counts = [9, 10, 11, 16, 20, 21, 22, 23, 24];
    let enough = 0;
    for (let machine = 0; machine < 6; machine += 1) {
      const readings = readFilm(inOrder(ladder).slice(0, 24), randomMachine(random), random, HAND);
      const stages = counts.map((count) => sureness(ladder, readings.slice(0, count))!.stage);
      const first = stages.indexOf('enough');
      if (first < 0) continue;
      enough += 1;
      expect(counts[first]).toBeGreaterThan(11);
      expect(stages.slice(first)).not.toContain('some more');
    }
    expect(enough).toBeGreaterThan(1);
  });

  it('is asked of a coarse gauge no longer than most of what it can tell takes, and both commands say so', async () => {
    const random = seeded(11);
    const order = couponOrder(ladder, { takes: 'windows', stepMm: 0.1 })!;
    desk.put('apertrue.json', JSON.stringify({ format: 'apertrue-project', version: 1, out: 'st', gauges: [{ name: 'caliper', resolutionMm: 0.1 }] })); // biome-ignore format: one row
    desk.put('st/aperture-ladder.features.json', JSON.stringify(ladder.features));
    const machine: Machine = [1.003, 0.998, 0.001, 0.14, 0.12];
    const lengths = order.features.filter((one): one is DimensionalFeature => 'nominalMm' in one).slice(0, 25);
    const read = rowsOf(
      readFilm(lengths, machine, random, () => ({ noiseMm: 0.02, resolutionMm: 0.1 })),
      1,
    );
    desk.put('st/aperture-ladder.readings.csv', filledIn(blankReadings(ladder, order), read.slice(0, 16), { gauge: 'caliper', resolution_mm: '0.1' })); // biome-ignore format: one call
    const { said } = await desk.type('enter aperture-ladder', [...read.slice(16).map(([, mm]) => mm), 'q']);
    expect(said).toMatch(/some more tell most of what this gauge can; for kerf ± 4 µm it takes a finer one/);
    expect(said).toMatch(
      /That is most of what this gauge can tell: the \d+ that are left would bring kerf X ± 1\d\.\d µm, kerf Y ± 1\d\.\d µm, and a finer gauge more\. q ends here/,
    );
    expect(said).not.toContain('to go on where this ended');
    const { out } = await desk.type('fit aperture-ladder --out p.json');
    expect(out.replaceAll('\n', ' ')).toMatch(/no number of readings with these gauges brings enough/);
  });

  it('is not read for by an unsteady hand that would take the coupon to its end', () => {
    const random = seeded(321);
    const machine = randomMachine(random);
    const readings = readFilm(inOrder(ladder), machine, random, () => ({ noiseMm: 0.013, resolutionMm: 0.01 }));
    const done = readings.findIndex((_, i) => i >= 11 && isDone(sureness(ladder, readings.slice(0, i + 1))!.stage)) + 1;
    expect(done).toBeLessThanOrEqual(40);
    const { stage, ahead } = sureness(ladder, readings.slice(0, done))!;
    expect([stage, ahead]).toEqual(['most', expect.stringMatching(/^That is most of what this gauge can tell: (about \d+ more would be enough|the \d+ that are left)/)]); // biome-ignore format: one pair
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
    for (const count of [1, 2, readings.length >> 1, readings.length - 1]) {
      const left = readings.length - count;
      expect(upTo(count)).toMatchObject({
        stage: 'some more',
        ahead: expect.stringMatching(`^${left} more`),
      });
    }
    expect(upTo(readings.length)).toMatchObject({ stage: 'enough' });
  });

  it('is said of a coupon as if no witness of a later day lay beside it', async () => {
    const machine: Machine = [1.003, 0.998, 0.001, 0.14, 0.12];
    const witness = await generateCoupon('witness', { ...BED, widthMm: 12, heightMm: 12 });
    const asRead = (readings: readonly Reading[], date: string): string =>
      [`feature,reading_mm,resolution_mm\n# date: ${date}`, ...readings.map((one) => `${one.feature},${one.readingMm!.toFixed(2)},0.01`)].join('\n'); // biome-ignore format: one file
    const saidBeside = async (folder: string, days: readonly string[]): Promise<string> => {
      const random = seeded(14);
      const put = (coupon: Coupon, file: string, text: string): void => {
        desk.put(`${folder}/${file}.features.json`, JSON.stringify(coupon.features));
        desk.put(`${folder}/${file}.readings.csv`, text);
      };
      put(ladder, 'aperture-ladder', asRead(readFilm(inOrder(ladder).slice(0, 24), machine, random, HAND), '2031-04-09')); // biome-ignore format: one call
      const read = rowsOf(readFilm(inOrder(ruler).slice(0, 12), machine, random, HAND), 2);
      put(ruler, 'scale-ruler', filledIn(blankReadings(ruler, couponOrder(ruler)), read.slice(0, 1)));
      const typed = read.slice(1, 6).map(([, mm]) => mm);
      for (const day of days) put(witness, `w-${day}`, asRead(readFilm(inOrder(witness), machine, random, HAND), day)); // biome-ignore format: one call
      const { said } = await desk.type(`enter ${folder}/scale-ruler.readings.csv`, [...typed, 'q']);
      return said.replaceAll(folder, '');
    };
    const alone = await saidBeside('alone', []);
    expect(alone).toMatch(/enough for scale|more for scale/);
    expect(await saidBeside('later', ['2031-05-01', '2031-05-08'])).toBe(alone);
  });

  it('is the same to `enter` and to `fit`, and so are the numbers', async () => {
    const random = seeded(5);
    const machine: Machine = [1.003, 0.998, 0.001, 0.14, 0.12];
    for (const coupon of [ladder, ruler]) {
      const file = `results/${coupon.name}`;
      desk.put(`${file}.features.json`, JSON.stringify(coupon.features));
      desk.put(`${file}.readings.csv`, blankReadings(coupon, couponOrder(coupon)));
    }
    const put = ({ name }: Coupon, readings: readonly (readonly [string, string])[]): void => {
      const file = `results/${name}.readings.csv`;
      desk.put(file, filledIn(desk.text(file), readings));
    };
    put(ladder, rowsOf(readFilm(inOrder(ladder).slice(0, 26), machine, random, HAND), 2));
    const files = 'results/scale-ruler.readings.csv results/aperture-ladder.readings.csv';
    const all = rowsOf(readFilm(inOrder(ruler).slice(0, 26), machine, random, HAND), 2);
    for (const [from, to] of [
      [0, 7],
      [22, 26],
    ]) {
      put(ruler, all.slice(0, from));
      const typed = all.slice(from, to).map(([, mm]) => mm);
      const { said, out } = await desk.type('enter results/scale-ruler.readings.csv', [...typed, 'q']);
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

  it('is the same to both with a caliper too, is said once, and goes up and down with no reading', async () => {
    const random = seeded(9);
    const machine: Machine = [1.003, 0.998, 0.001, 0.14, 0.12];
    const caliper = { name: 'caliper', resolutionMm: 0.02 };
    const loupe = { name: 'loupe', resolutionMm: 0.01 };
    desk.put('apertrue.json', JSON.stringify({ format: 'apertrue-project', version: 1, out: 'two', gauges: [caliper, loupe] })); // biome-ignore format: one row
    const sheetOf = (coupon: Coupon, taken: ReadWith, count: number, noiseMm: number) => {
      const { resolutionMm } = taken.stepMm === caliper.resolutionMm ? caliper : loupe;
      const order = couponOrder(coupon, taken)!;
      const lengths = order.features.filter((one): one is DimensionalFeature => 'nominalMm' in one).slice(0, count);
      desk.put(`two/${coupon.name}.features.json`, JSON.stringify(coupon.features));
      return {
        blank: blankReadings(coupon, order),
        read: rowsOf(
          readFilm(lengths, machine, random, () => ({ noiseMm, resolutionMm })),
          2,
        ),
      };
    };
    const widths = sheetOf(ladder, { takes: 'edges', stepMm: loupe.resolutionMm }, 40, 0.004);
    desk.put('two/aperture-ladder.readings.csv', filledIn(widths.blank, widths.read, { gauge: 'loupe', resolution_mm: '0.01' })); // biome-ignore format: one call
    const spans = sheetOf(ruler, { takes: 'windows', stepMm: caliper.resolutionMm }, 56, 0.008);
    const typed = async (from: number, to: number): Promise<string> => {
      desk.put('two/scale-ruler.readings.csv', filledIn(spans.blank, spans.read.slice(0, from), { gauge: 'caliper', resolution_mm: '0.02' })); // biome-ignore format: one call
      return (await desk.type('enter scale-ruler', [...spans.read.slice(from, to).map(([, mm]) => mm), 'q'])).said;
    };
    const verdicts: string[] = [];
    for (const [from, to] of [
      [10, 12],
      [15, 18],
      [28, 31],
      [54, 55],
    ] as const) {
      const said = await typed(from, to);
      const told = said.match(/^ {2}(?:some more|nearly|That is (?:most|about all|enough)).*$/gm) ?? [];
      // Each step once.
      expect(new Set(told).size).toBe(told.length);
      expect(said).not.toMatch(/about \d+ more tell|\bopen\b/);
      const { out } = await desk.type('fit aperture-ladder scale-ruler --out p.json --overwrite --no-report');
      const isAll = /About all that can be told with these gauges/.test(out.replaceAll('\n', ' '));
      expect(/That is about all/.test(said)).toBe(isAll);
      expect(/Read next/.test(out)).toBe(!isAll);
      verdicts.push(isAll ? 'all' : 'more');
    }
    expect(verdicts).toEqual(['more', 'more', expect.any(String), 'all']);
  });
});
