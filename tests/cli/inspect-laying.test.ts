import { expect, it } from 'vitest';
import { scanFilm, type Vec, type VirtualScan } from '../scan/virtual-scanner.js';
import { bench, profileOf } from './bench.js';
import { type Pad, padsSvg, scannedPng } from './scanned.js';

/** What `inspect` says where pictures can not tell all: stencils drawn here, seen by the virtual scanner. */
const desk = bench({ 'laser.json': profileOf() }, { once: true });

const ring = ([x, y, w, h]: Pad): Vec[] => [[x, y], [x + w, y], [x + w, y + h], [x, y + h]]; // biome-ignore format: a ring

async function inspect(name: string, pads: readonly Pad[], scan: Partial<VirtualScan> = {}, cut = pads) {
  desk.put(`${name}.svg`, padsSvg(pads, 12, 12));
  await desk.run(`correct ${name}.svg --profile laser.json --format pdf --out ${desk.folder}`); // biome-ignore format: one line
  const picture = scanFilm(
    {
      openings: cut.map((pad) => ({ outer: ring(pad).map(([x, y]): Vec => [x - 6, y - 6]) })),
      machine: { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 1e-4, kerfYMm: 1e-4 },
    },
    {
      ...{ dpi: 600, widthMm: 18, heightMm: 18, turnDeg: 183, atMm: [9, 9], blurMm: 0.03, film: 215, open: 40 },
      ...{ noise: 2, vignette: 0.2, seed: 3, ...scan },
    },
  );
  desk.put(`${name}.png`, await scannedPng(picture));
  const result = await desk.run(`inspect ${name}.png --job ${name}.job.json --artwork ${name}.svg --out look --json`); // biome-ignore format: one line
  const { warnings = [], openings = [], error } = JSON.parse(result.out);
  return {
    ...result,
    codes: warnings.map(({ code }: { code: string }) => code),
    faults: openings.flatMap(({ number, faults }: { number: number; faults: string[] }) => faults.map((one) => `${number} ${one}`)), // biome-ignore format: one line
    error: error?.problems?.[0]?.code ?? error?.code,
  };
}

const LEADS = [-1.6, -0.8, 0, 0.8, 1.6].flatMap((t): Pad[] => [
  [5.8 + t, 1.4, 0.4, 1.2],
  [5.8 + t, 9.4, 0.4, 1.2],
  [1.4, 5.8 + t, 1.2, 0.4],
  [9.4, 5.8 + t, 1.2, 0.4],
]);

it('tells that a lone ring of leads looks the same laid otherwise, and not where a pad tells it apart', async () => {
  const alone = await inspect('ring', LEADS, {}, LEADS.slice(1));
  expect(alone.codes).toEqual(['INSPECT_ALIKE']);
  expect(alone.said).toMatch(/looks the same upside down, or turned by (90|180|270) degrees, or/);
  // Upright is how it is taken to lie; it lies turned by half.
  expect(alone.faults).toHaveLength(1);
  expect(alone.code).toBe(3);
  const marked: Pad[] = [...LEADS, [3.2, 4.6, 0.5, 0.5]];
  const told = await inspect('marked', marked, { mirrored: true }, marked.slice(1));
  expect(told).toMatchObject({ codes: [], faults: ['1 missing'] });
});

it('does not judge places by two openings, and says so', async () => {
  const { codes, faults, code } = await inspect('two', [[2, 3, 1, 1.5], [7, 8, 0.8, 0.6]]); // biome-ignore format: one line
  expect({ codes, faults, code }).toEqual({ codes: ['INSPECT_NO_PLACES'], faults: [], code: 0 });
});

it('refuses to choose between two places that look like one opening, and to read clear film', async () => {
  const one: Pad[] = [[2, 3, 1, 1.5]];
  expect(await inspect('one', one, {}, [...one, [8, 8, 1, 1.5]])).toMatchObject({ code: 2, error: 'INSPECT_SEVERAL' });
  expect(await inspect('gone', one, {}, [])).toMatchObject({ code: 2, error: 'SCAN_NO_COUPON' });
  const clear = await inspect('clear', [...LEADS, [3.2, 4.6, 0.5, 0.5]], {
    film: 215,
    open: 60,
    wallLineMm: 0.03,
    dpi: 1200,
  });
  expect(clear).toMatchObject({ code: 2, error: 'INSPECT_CLEAR_FILM' });
});

it('names what is missing of a stencil that the laser left half way, and not a film that is clear', async () => {
  const marked: Pad[] = [...LEADS, [3.2, 4.6, 0.5, 0.5], [4.1, 8.1, 0.9, 0.5], [8.2, 5.1, 0.6, 0.6]];
  const half = await inspect('half', marked, {}, marked.slice(10));
  expect(half).toMatchObject({ code: 3, error: undefined, codes: ['INSPECT_HALF'] });
  expect(half.faults).toEqual(Array.from({ length: 10 }, (_, i) => `${i + 1} missing`));
  expect(half.said).toMatch(/only 13 of the 23 openings were seen/);
});

it('names one cause where most openings are off in the same way', async () => {
  const marked: Pad[] = [...LEADS, [3.2, 4.6, 0.5, 0.5]];
  const grown = (mm: number): Pad[] => marked.map(([x, y, w, h]) => [x - mm / 2, y - mm / 2, w + mm, h + mm]);
  const large = await inspect('large', marked, {}, grown(0.08));
  expect(large).toMatchObject({ code: 3, codes: ['INSPECT_MOST'] });
  expect(large.said).toMatch(
    /most openings are too large: in the middle of all, (7[5-9]|8[0-5]) µm wider and (7[5-9]|8[0-5]) µm higher than asked. Likely it was cut with more power/,
  );
  // The edges of openings so narrow lean in dots so large, which is no tone of the picture.
  const small = await inspect('small', marked, { seed: 3 }, grown(-0.08));
  expect(small.codes).not.toContain('SCAN_TONE');
  expect(small.said).toMatch(/most openings are too small: .* µm narrower and .* µm lower than asked.* out of focus/);
});
