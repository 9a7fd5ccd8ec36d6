import { expect, it } from 'vitest';
import { generateCoupon } from '../../src/coupon/generate.js';
import { InputError } from '../../src/errors.js';
import { seeded } from '../virtual-laser/random.js';

/** Dots per inch of cheap machines and their programs (common practice), and beds that were refused or crowded once. */
const DPIS = [254, 300, 423.33, 508, 600, 1000, 1200];
const KNOWN: [number, number, number][] = [
  [300, 200, 300],
  [60, 40, 254],
  [60, 40, 600],
  [63, 45, 508],
  [400, 40, 300],
];

it.each(['scale-ruler', 'aperture-ladder'])(
  '%s fits on every bed from 60 x 40 mm on, at every pitch',
  async (name) => {
    const random = seeded(12);
    const one = (): [number, number, number] => [
      60 + 340 * random() ** 3,
      40 + 260 * random() ** 3,
      DPIS[Math.floor(random() * DPIS.length)],
    ];
    for (const [widthMm, heightMm, dpi] of [...KNOWN, ...Array.from({ length: 8 }, one)]) {
      const coupon = await generateCoupon(name, { widthMm, heightMm, pitchXMm: 25.4 / dpi });
      const directions = new Set(
        coupon.features.features.map((feature) => {
          if (!('from' in feature)) return '';
          const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
          return `${feature.kind} ${dy === 0 ? 'x' : dx === 0 ? 'y' : 'slanted'}`;
        }),
      );
      const wanted = name === 'scale-ruler' ? ['span x', 'span y', 'span slanted'] : ['opening x', 'opening y', 'web x', 'web y']; // biome-ignore format: two lists
      expect([widthMm, heightMm, dpi, [...directions]]).toEqual([
        widthMm,
        heightMm,
        dpi,
        expect.arrayContaining(wanted),
      ]);
    }
  },
  60_000,
);

it('a smaller bed is refused with the size that is needed', async () => {
  const made = generateCoupon('scale-ruler', { widthMm: 40, heightMm: 30, pitchXMm: 0.0254 });
  await expect(made).rejects.toBeInstanceOf(InputError);
  await expect(made).rejects.toThrow(/at least 60 x 40 mm/);
});
