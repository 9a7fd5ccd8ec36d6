import sharp, { type Sharp } from 'sharp';
import { beforeAll, describe, expect, it } from 'vitest';
import { processIo } from '../../src/cli/io.js';
import { loadPicture } from '../../src/cli/scan/load-picture.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import type { Coupon } from '../../src/coupon/types.js';
import { couponOpenings } from '../../src/scan/find/coupon-openings.js';
import { Openings } from '../../src/scan/find/places.js';
import { type KnownCoupon, scanPicture } from '../../src/scan/scan-picture.js';
import { bench } from '../cli/bench.js';
import { type Picture, scanFilm, type VirtualScan } from './virtual-scanner.js';

const MACHINE = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.1, kerfYMm: 0.08 };
const DPI = 1000;

const desk = bench({}, { once: true });
let coupon: Coupon;
let known: KnownCoupon;
let picture: Picture;

const scan = (over: Partial<VirtualScan> = {}): Picture =>
  scanFilm(
    { openings: coupon.openings, machine: MACHINE },
    {
      ...{ dpi: DPI, widthMm: 16, heightMm: 16, turnDeg: 1.3, atMm: [2, 1.5], blurMm: 0.025, film: 205, open: 60 },
      ...{ vignette: 0.2, noise: 1.5 },
      ...over,
    },
  );

beforeAll(async () => {
  coupon = await generateCoupon('witness', { widthMm: 40, heightMm: 30, pitchXMm: 0.0254 });
  known = { features: coupon.features, openings: new Openings(await couponOpenings(coupon.features, [])) };
  picture = scan();
});

const grey = (): Sharp =>
  sharp(picture.levels, { raw: { width: picture.widthPx, height: picture.heightPx, channels: 1 } }).withMetadata({
    density: DPI,
  });

/** The same light through a filter of one colour, so that one channel shows more than the others. */
function coloured(): Sharp {
  const data = new Uint8Array(3 * picture.levels.length);
  picture.levels.forEach((level, i) => {
    data.set([200, level, 190 + 0.1 * level], 3 * i);
  });
  return sharp(data, { raw: { width: picture.widthPx, height: picture.heightPx, channels: 3 } }).withMetadata({
    density: DPI,
  });
}

function deep(channels: 1 | 3): Sharp {
  const data = new Uint16Array(channels * picture.levels.length);
  picture.levels.forEach((level, i) => {
    for (let k = 0; k < channels; k += 1) data[channels * i + k] = 257 * (k === 1 ? 0.5 * level + 60 : level);
  });
  const raw = { width: picture.widthPx, height: picture.heightPx, channels } as const;
  return sharp(data, { raw })
    .toColourspace(channels === 1 ? 'grey16' : 'rgb16')
    .withMetadata({ density: DPI });
}

/** What a feature measures on the film, mm: the machine has no scale of its own here. */
function truth(id: string): number {
  const feature = coupon.features.features.find((one) => one.id === id);
  if (!feature || !('from' in feature)) throw new Error(id);
  const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
  const kerf = Math.hypot(MACHINE.kerfXMm * dx, MACHINE.kerfYMm * dy) / feature.nominalMm;
  return feature.nominalMm + (feature.kind === 'span' ? 0 : feature.kind === 'opening' ? kerf : -kerf);
}

const largestUm = (seen: Pick<Picture, 'widthPx' | 'heightPx' | 'levels' | 'dotsPerMm'>): number => {
  const [found] = scanPicture(seen, [known], 'scan').coupons;
  expect(found.scanned).toHaveLength(12);
  return Math.max(
    ...found.scanned.map(({ feature, lengthMm = Number.NaN }) => 1000 * Math.abs(lengthMm - truth(feature.id))),
  );
};

describe('pictures', () => {
  it.each([
    ['grey PNG, 8 bit', 'png', () => grey().png()],
    ['grey PNG, 16 bit', 'png', () => deep(1).png()],
    ['colour PNG, 16 bit', 'png', () => deep(3).png()],
    ['colour PNG with opacity', 'png', () => coloured().ensureAlpha().png()],
    ['palette PNG', 'png', () => grey().png({ palette: true, colours: 256, dither: 0 })],
    ['grey TIFF', 'tif', () => grey().tiff({ compression: 'lzw', xres: DPI / 25.4, yres: DPI / 25.4 })],
    ['grey TIFF, 16 bit', 'tif', () => deep(1).tiff({ compression: 'deflate', xres: DPI / 25.4, yres: DPI / 25.4 })],
    [
      'colour TIFF in tiles',
      'tif',
      () => coloured().tiff({ tile: true, compression: 'none', xres: DPI / 25.4, yres: DPI / 25.4 }),
    ],
    [
      'grey TIFF, half as many dots down as across',
      'tif',
      () =>
        grey()
          .resize(picture.widthPx, picture.heightPx >> 1, { fit: 'fill', kernel: 'linear' })
          .tiff({ xres: DPI / 25.4, yres: DPI / 50.8 }),
    ],
    ['grey JPEG of quality 85', 'jpg', () => grey().jpeg({ quality: 85 })],
    ['colour JPEG of quality 90', 'jpg', () => coloured().jpeg({ quality: 90, chromaSubsampling: '4:4:4' })],
  ] as const)('are read within 3 um: %s', async (name, ending, make) => {
    const path = desk.put(`${name.replace(/\W+/g, '-')}.${ending}`, await make().toBuffer());
    const loaded = await loadPicture(path, undefined, processIo());
    const { widthPx, heightPx, dotsPerMm = { x: 0, y: 0 } } = loaded.picture;
    expect(widthPx / dotsPerMm.x).toBeCloseTo(16, 2);
    expect(heightPx / dotsPerMm.y).toBeCloseTo(16, 2);
    expect(largestUm(loaded.picture as Picture)).toBeLessThan(3);
  });

  it.each([
    ['nothing', 'png', () => Promise.resolve(Buffer.alloc(0)), /the file is empty/],
    [
      'two pages',
      'tif',
      () => {
        const { widthPx: width, heightPx: height, levels } = picture;
        const both = Buffer.concat([levels, levels]);
        return sharp(both, { raw: { width, height: 2 * height, channels: 1, pageHeight: height } })
          .tiff()
          .toBuffer();
      },
      /holds 2 pictures/,
    ],
    [
      'inks',
      'tif',
      async () => {
        const { data, info } = await coloured().raw().toBuffer({ resolveWithObject: true });
        return sharp(data, { raw: info }).toColourspace('cmyk').tiff().toBuffer();
      },
      /CMYK/,
    ],
    ['numbers of no kind', 'txt', () => Promise.resolve(Buffer.from('12 13 14')), /unsupported image format/],
  ] as const)('are refused by name: %s', async (name, ending, make, why) => {
    const path = desk.put(`${name.replace(/\W+/g, '-')}.${ending}`, await make());
    await expect(loadPicture(path, undefined, processIo())).rejects.toMatchObject({
      code: 'SCAN_UNREADABLE',
      message: expect.stringMatching(why),
    });
  });

  it('may hold several coupons, one of them turned, and what is cut off at the edge is told', () => {
    const turned = scan({ turnDeg: 91, atMm: [14, 1.5], seed: 3 });
    const cut = scan({ atMm: [-3, 1.5], seed: 4 });
    const { widthPx: w, heightPx: h } = picture;
    const levels = new Uint8Array(3 * w * h);
    for (const [k, one] of [picture, turned, cut].entries()) {
      for (let row = 0; row < h; row += 1) levels.set(one.levels.subarray(row * w, (row + 1) * w), (3 * row + k) * w);
    }
    const both = { ...picture, widthPx: 3 * w, levels };
    // Three films of one coupon: one of them is read, whole, and the others are told.
    expect(largestUm(both)).toBeLessThan(3);
    expect(scanPicture(both, [known], 'scan').warnings.map(({ code }) => code)).toEqual(['SCAN_TWICE']);
    expect(scanPicture(picture, [known], 'scan').warnings).toEqual([]);
    const [alone] = scanPicture(cut, [known], 'cut').coupons;
    expect(alone.unread.map(({ why }) => why)).toContain('it lies outside of the picture, or at its side');
    expect(alone.scanned.length + alone.unread.length).toBe(12);
  });
});
