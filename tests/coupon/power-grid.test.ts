import { describe, expect, it } from 'vitest';
import type { CellFeature } from '../../src/coupon/features.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import type { CouponOptions } from '../../src/coupon/types.js';

const BED: CouponOptions = {
  widthMm: 100,
  heightMm: 80,
  pitchXMm: 0.0254,
  powersPercent: [60, 20, 40],
  speedsMmS: [50, 200],
};

describe('the power-speed-grid', () => {
  it('with a knob gives one image per setting, power by power, gentler first', async () => {
    const { images, jobs } = await generateCoupon('power-speed-grid', BED);
    expect(images.map(({ powerPercent, speedMmS }) => [powerPercent, speedMmS])).toEqual([
      [20, 200],
      [20, 50],
      [40, 200],
      [40, 50],
      [60, 200],
      [60, 50],
    ]);
    expect(jobs).toHaveLength(6);
    expect(jobs[0]).toContain('power-speed-grid.p20-s200.png with power 20 % and speed 200 mm/s');
  });

  it('burns every cell once, in the image of its own setting, at the place that its feature says', async () => {
    const coupon = await generateCoupon('power-speed-grid', BED);
    const cells = coupon.features.features as readonly CellFeature[];
    expect(cells).toHaveLength(6);
    for (const { powerPercent, speedMmS, box } of cells) {
      const own = coupon.images.filter(({ openings }) =>
        openings.some(({ outer }) => outer[0][0] === box[0] && outer[0][1] === box[1] && outer[2][0] === box[2]),
      );
      expect(own.map((image) => [image.powerPercent, image.speedMmS])).toEqual([[powerPercent, speedMmS]]);
    }
    const burnt = coupon.images.reduce((sum, { openings }) => sum + openings.length, 0);
    expect(burnt).toBe(coupon.openings.length);
  });

  it('cuts the labels with the strongest setting, so that they are there when any cell is', async () => {
    const { images, labels } = await generateCoupon('power-speed-grid', BED);
    expect(images.map(({ openings }) => openings.length > 1)).toEqual([false, false, false, false, false, true]);
    expect(labels.map(({ text }) => text).sort()).toEqual(['P20', 'P40', 'P60', 'S200', 'S50']);
  });

  it('with grey levels gives one image per speed, darker for more power', async () => {
    const { images } = await generateCoupon('power-speed-grid', { ...BED, powerBy: 'grey' });
    expect(images.map(({ name, speedMmS }) => [name, speedMmS])).toEqual([
      ['power-speed-grid.s200', 200],
      ['power-speed-grid.s50', 50],
    ]);
    expect(images[0].greyLevels?.map(({ grey, powerPercent }) => [powerPercent, grey])).toEqual([
      [20, 204],
      [40, 153],
      [60, 102],
    ]);
  });

  it('with grey levels and one speed gives one image', async () => {
    const { images } = await generateCoupon('power-speed-grid', { ...BED, speedsMmS: [100], powerBy: 'grey' });
    expect(images.map(({ name }) => name)).toEqual(['power-speed-grid']);
  });

  it('warns of fire, fumes, PVC and the beam', async () => {
    const { cautions } = await generateCoupon('power-speed-grid', BED);
    for (const word of [/class 4/, /eyewear/, /PVC/, /fumes/, /fire/, /manual/, /alone/]) {
      expect(cautions.join(' ')).toMatch(word);
    }
  });
});
