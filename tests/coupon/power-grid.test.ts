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
    const { images, labels, steps } = await generateCoupon('power-speed-grid', BED);
    // Whoever stops before that one has none.
    expect(steps.find((step) => step.includes('leave out what is stronger'))).toMatch(/leaves out the labels, too/);
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

  it('tries more of one where the other has a single value, as many as have room, and what is named as it is', async () => {
    const settings = async (options: object): Promise<[powers: number[], speeds: number[]]> => {
      const { features } = await generateCoupon('power-speed-grid', { ...BED, ...options } as typeof BED);
      const cells = features.features.filter((one) => one.kind === 'cell');
      const [powers, speeds] = [cells.map((cell) => cell.powerPercent), cells.map((cell) => cell.speedMmS)];
      return [[...new Set(powers)], [...new Set(speeds)]];
    };
    const [large, small] = [
      { widthMm: 200, heightMm: 120 },
      { widthMm: 80, heightMm: 60 },
    ];
    const none = { powersPercent: undefined };
    expect(await settings({ ...none, ...large, speedsMmS: [100] })).toEqual([
      [20, 24, 29, 34, 41, 49, 58, 70, 84, 100],
      [100],
    ]);
    expect(await settings({ ...none, ...small, speedsMmS: [100] })).toEqual([[20, 26, 34, 45, 58, 76, 100], [100]]);
    expect((await settings({ ...large, powersPercent: [100], speedsMmS: undefined }))[1]).toHaveLength(10);
    expect(await settings({ ...none, ...large, speedsMmS: [50, 100] })).toEqual([
      [20, 30, 45, 65, 100],
      [100, 50],
    ]);
    expect(await settings({ ...large, powersPercent: [30, 60], speedsMmS: [80] })).toEqual([[30, 60], [80]]);
  });
});
