import { beforeAll, expect, it } from 'vitest';
import { generateCoupon } from '../../../src/coupon/generate.js';
import type { Coupon } from '../../../src/coupon/types.js';
import { couponOrder, uncheckedSentences } from '../../../src/fit/plan/plan-words.js';
import { calibratedExtent, extentWarnings } from '../../../src/machine/machine-model.js';
import type { ReadingSession } from '../../../src/machine/types.js';

let square: Coupon;

beforeAll(async () => {
  square = await generateCoupon('scale-ruler', { widthMm: 100, heightMm: 100, pitchXMm: 0.0254 });
});

const sessionOf = (ids: (id: string) => boolean, more: Partial<ReadingSession> = {}): ReadingSession => {
  const features = square.features.features;
  const readings = features.filter(({ id }) => ids(id)).map(({ id }) => ({ feature: id, readingMm: 10 }));
  return { coupon: 'scale-ruler', features, readings, ...more };
};

it('long spans of a square bed show neither a turned film nor interchanged axes, and the report says so', () => {
  const [sentence] = uncheckedSentences([sessionOf((id) => /^R[AD]0-6$/.test(id))]);
  expect(sentence).toMatch(
    /neither turned nor mirrored; that X and Y were not interchanged \(the short spans.*\); that the coupon was cut/,
  );
  expect(sentence).toContain('10 mm along X, 12 mm along Y');
});

it('the short spans at the ends show them', () => {
  const [sentence] = uncheckedSentences([sessionOf((id) => /^R[AD]0-1$/.test(id))]);
  expect(sentence).toMatch(/^Not checked, because lengths can't show it: that the coupon was cut with the power/);
  expect(sentence).not.toContain('turned');
  const short = square.features.features.flatMap((one) => (one.kind === 'span' && one.nominalMm < 26 ? [one.nominalMm] : [])); // biome-ignore format: one list
  expect(new Set(short.map(Math.round))).toEqual(new Set([10, 12, 20, 25]));
});

it('a ladder holds each width along both axes: beside spans alone it can’t show that X and Y were interchanged', async () => {
  const { features: { features } } = await generateCoupon('aperture-ladder', { widthMm: 100, heightMm: 100, pitchXMm: 0.0254 }); // biome-ignore format: one call
  const readings = features.map(({ id }) => ({ feature: id, readingMm: 1 }));
  const ladder: ReadingSession = { coupon: 'aperture-ladder', features, readings };
  const words = 'that X and Y of aperture-ladder were not interchanged (windows of the ruler';
  const spans = sessionOf((id) => /^R[AD]0-1$/.test(id));
  expect(uncheckedSentences([spans, ladder])[0]).toContain(words);
  expect(uncheckedSentences([sessionOf(() => true), ladder])[0]).not.toContain(words);
  // The ruler of a small bed has no windows to send anybody to.
  const { features: { features: edges } } = await generateCoupon('scale-ruler', { widthMm: 60, heightMm: 40, pitchXMm: 0.0254 }); // biome-ignore format: one call
  const small = { ...spans, features: edges, readings: edges.map(({ id }) => ({ feature: id, readingMm: 10 })) };
  expect(uncheckedSentences([small, ladder])[0]).toMatch(/aperture-ladder were not interchanged; that/);
  // These windows are it: along X others than along Y.
  const windows = sessionOf((id) => /^R[LM]/.test(id));
  expect(uncheckedSentences([windows])[0]).not.toContain('interchanged');
});

it('readings that are named first promise what they bring, not targets that they miss by far', async () => {
  const small = await generateCoupon('scale-ruler', { widthMm: 60, heightMm: 40, pitchXMm: 0.0254 });
  expect(couponOrder(square)!.enoughFor).toMatch(/^(enough for scale ± 0\.0001|they bring scale X ± 0\.000)/);
  expect(couponOrder(small)!.enoughFor).toMatch(/^they bring scale X ± 0\.000\d+, scale Y ± 0\.000\d+, shear ± 0\.00\d+, with/); // biome-ignore format: one line
});

it('a gauge without a stated limit may itself be long or short, and no reading shows it', () => {
  const [sentence] = uncheckedSentences([sessionOf((id) => /^R[AD]0-1$/.test(id))], [], ['loupe']);
  expect(sentence).toMatch(/that the gauge of loupe shows true lengths \(--gauge-limit-mm/);
});

it('knows the piece of the bed that was read, without what was refused or dropped', () => {
  const extent = calibratedExtent({ sessions: [sessionOf((id) => /^R[AD]0-6$/.test(id))] })!;
  expect(extent.widthMm).toBeGreaterThan(80);
  expect(extent.heightMm).toBeGreaterThan(80);
  expect(calibratedExtent({ sessions: [sessionOf(() => true, { refused: 'changed' })] })).toBeUndefined();
  const narrow = { sessions: [sessionOf((id) => /^RD0-6$/.test(id))] };
  expect(extentWarnings(narrow, { minX: 0, minY: 0, maxX: 50, maxY: 50 })[0].message).toMatch(
    /span 50 x 50 mm.* over 0 x/,
  );
  expect(extentWarnings({ sessions: [sessionOf(() => true)] }, { minX: 0, minY: 0, maxX: 90, maxY: 90 })).toEqual([]);
});

it('takes no rows of spans along X for spans along Y: across them nobody has looked at the scale', () => {
  const rows = square.features.features.flatMap((one) => one.kind === 'span' && one.from[1] === one.to[1] ? [one.id] : []); // biome-ignore format: one list
  expect(rows.length).toBeGreaterThan(5);
  const { widthMm, heightMm } = calibratedExtent({ sessions: [sessionOf((id) => rows.includes(id))] })!;
  expect([widthMm > 80, heightMm]).toEqual([true, 0]);
  // Short ones along Y, wherever the rows lie.
  const short = square.features.features.find((one) => one.kind === 'span' && one.from[0] === one.to[0] && one.nominalMm < 30)!; // biome-ignore format: one call
  const profile = { sessions: [sessionOf((id) => rows.includes(id) || id === short.id)] };
  expect(calibratedExtent(profile)!.heightMm).toBeLessThan(30);
  const box = { minX: 0, minY: 0, maxX: 70, maxY: 70 };
  expect(extentWarnings(profile, box).map(({ code }) => code)).toEqual(['BEYOND_CALIBRATED']);
});

it('counts windows that jaws grip', () => {
  const windows = square.features.features.flatMap((one) => ('by' in one && one.by === 'jaws' ? [one.id] : []));
  const profile = { sessions: [sessionOf((id) => windows.includes(id))] };
  expect(calibratedExtent(profile)!.widthMm).toBeGreaterThan(60);
  const box = { minX: 0, minY: 0, maxX: 150, maxY: 50 };
  expect(extentWarnings(profile, box).map(({ code }) => code)).toEqual(['BEYOND_CALIBRATED']);
});
