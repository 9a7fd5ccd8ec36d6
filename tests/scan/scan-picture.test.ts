import { createRequire } from 'node:module';
import type CV from '@techstark/opencv-js';
import sharp from 'sharp';
import { beforeAll, describe, expect, it } from 'vitest';
import type { DimensionalFeature } from '../../src/coupon/features.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import type { Coupon } from '../../src/coupon/types.js';
import type { Point } from '../../src/geometry/types.js';
import { couponOpenings } from '../../src/scan/find/coupon-openings.js';
import { Openings } from '../../src/scan/find/places.js';
import { Scene } from '../../src/scan/find/recognise.js';
import { blobsOf } from '../../src/scan/find/standing-out.js';
import { measureCoupon } from '../../src/scan/measure/measure-coupon.js';
import { isResampled } from '../../src/scan/picture/resampled.js';
import { type KnownCoupon, scanPicture, slantOf } from '../../src/scan/scan-picture.js';
import { type Picture, scanFilm, type Vec, type VirtualScan } from './virtual-scanner.js';

// Required, not imported: the module has a `then`, and a promise that resolves to it never settles.
const cv = createRequire(import.meta.url)('@techstark/opencv-js') as typeof CV;

const MACHINE = { scaleX: 1.0031, scaleY: 0.9968, shear: 0.002, kerfXMm: 0.1, kerfYMm: 0.08 };
const DARK = { film: 215, open: 40 };
const LOOKS = {
  darker: DARK,
  lighter: { film: 120, open: 220 },
  walls: { film: 210, open: 60, wallLineMm: 0.03 },
} as const;

let coupon: Coupon;
let known: KnownCoupon;

beforeAll(async () => {
  coupon = await generateCoupon('witness', { widthMm: 40, heightMm: 30, pitchXMm: 0.0254 });
  known = { features: coupon.features, openings: new Openings(await couponOpenings(coupon.features, [])) };
});

function scan(
  over: Partial<VirtualScan> = {},
  more: { closed?: ReadonlySet<number>; machine?: typeof MACHINE } = {},
): Picture {
  return scanFilm(
    { openings: coupon.openings, machine: MACHINE, ...more },
    {
      ...{ dpi: 1200, widthMm: 17, heightMm: 17, turnDeg: 1.3, atMm: [2.5, 2], blurMm: 0.025, ...DARK },
      ...{ vignette: 0.3, noise: 2, specksPerCm2: 3, hairsPerCm2: 3 },
      ...over,
    },
  );
}

/** What a feature measures on the virtual film, mm. */
function truth(id: string): number {
  const feature = coupon.features.features.find((one) => one.id === id);
  if (!feature || !('from' in feature)) throw new Error(id);
  const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
  const length = Math.hypot(MACHINE.scaleX * dx + MACHINE.shear * dy, MACHINE.scaleY * dy);
  const kerf = Math.hypot(MACHINE.kerfXMm * dx, MACHINE.kerfYMm * dy) / feature.nominalMm;
  return length + (feature.kind === 'span' ? 0 : feature.kind === 'opening' ? kerf : -kerf);
}

/** Errors in units of 2 um or of four stated uncertainties, whichever is more: dirt may lie along an edge, and must show. */
const errorsInLimits = (picture: Picture): number[] =>
  scanPicture(picture, [known], 'scan.png').coupons[0].scanned.flatMap(({ feature, lengthMm, uMm = 0 }) =>
    lengthMm === undefined ? [] : [(lengthMm - truth(feature.id)) / Math.max(0.002, 4 * uMm)],
  );

const errorsUm = (picture: Picture, kinds = ['span', 'opening', 'web']): number[] =>
  scanPicture(picture, [known], 'scan.png').coupons[0].scanned.flatMap(({ feature, lengthMm }) =>
    lengthMm !== undefined && kinds.includes(feature.kind) ? [1000 * (lengthMm - truth(feature.id))] : [],
  );

const largest = (values: readonly number[]): number => Math.max(...values.map(Math.abs));

describe('scanPicture', () => {
  it.each([
    ['upright', {}],
    ['turned', { turnDeg: 91, atMm: [14.5, 2] as const }],
    ['upside down', { mirrored: true, atMm: [14.5, 2] as const, turnDeg: -2 }],
    ['lighter openings', LOOKS.lighter],
    ['sharp scanner', { dpi: 2400, blurMm: 0.012, widthMm: 16, heightMm: 15 }],
  ])('reads every feature within 2 um: %s', (_, over) => {
    const errors = errorsInLimits(scan(over));
    expect(errors).toHaveLength(12);
    expect(largest(errors)).toBeLessThan(1);
  });

  it('says how it lies', () => {
    const [found] = scanPicture(scan({ mirrored: true, atMm: [14.5, 2] }), [known], 'scan.png').coupons;
    expect(found.recognised).toMatchObject({ look: 'darker', mirrored: true });
    // The scanner's blur and the share of a pixel's own square, whose variance is a twelfth.
    const blur = Math.hypot(0.025, 25.4 / 1200 / Math.sqrt(12));
    expect(Math.abs(found.sharpness.sigmaMm / blur - 1)).toBeLessThan(0.03);
  });

  it('reads spans between the lines of walls, and widths with one offset', () => {
    const picture = scan({ ...LOOKS.walls, specksPerCm2: 0, hairsPerCm2: 0 });
    const [{ recognised, scanned }] = scanPicture(picture, [known], 'scan.png').coupons;
    expect(recognised.look).toBe('walls');
    // A tear draws the middle of an opening's lines aside, and closes nothing.
    const one = scanned.find(({ feature }) => feature.kind === 'opening')?.feature as DimensionalFeature;
    const middle: Point = [(one.from[0] + one.to[0]) / 2, (one.from[1] + one.to[1]) / 2];
    const { opening } = known.openings.placeAt(middle, [1, 0]);
    const seenAt = recognised.seenAt.map((at, i): Point | undefined => at && (i === opening ? (one.to[1] === one.from[1] ? [at[0] + 9.2, at[1]] : [at[0], at[1] + 9.2]) : at)); // biome-ignore format: one line
    const torn = measureCoupon(picture, coupon.features.features, known.openings, { ...recognised, seenAt }).scanned;
    expect(torn.map(({ outcome }) => outcome)).toEqual(scanned.map(({ outcome }) => outcome));
    expect(largest(errorsUm(picture, ['span']))).toBeLessThan(4);
    // The line lies outside of the opening, so its middle is half a line away from each wall.
    const widths = errorsUm(picture, ['opening']);
    expect(widths.length).toBeGreaterThan(3);
    for (const error of widths) expect(error).toBeCloseTo(30, -1);
  });

  it('says that an opening is closed and that a web is gone', () => {
    const closed = coupon.openings.findIndex(({ outer }) =>
      outer.some(([x, y]) => Math.hypot(x - 8.0264, y - 7.6708) < 1.5),
    );
    const [found] = scanPicture(scan({}, { closed: new Set([closed]) }), [known], 'scan.png').coupons;
    expect(found.scanned.filter(({ outcome }) => outcome === 'closed')).toHaveLength(1);
    const wide = scanFilm(
      { openings: coupon.openings, machine: { ...MACHINE, kerfXMm: 0.2, kerfYMm: 0.2 } },
      { dpi: 1200, widthMm: 17, heightMm: 17, turnDeg: 1, atMm: [2.5, 2], blurMm: 0.025, ...DARK, noise: 2 },
    );
    const gone = scanPicture(wide, [known], 'scan.png').coupons[0].scanned.filter(({ outcome }) => outcome === 'gone');
    expect(gone.map(({ feature }) => feature.id).sort()).toEqual(['WD0', 'WF0']);
  });

  it('proposes what became of the cells of a power/speed grid', async () => {
    const bed = { widthMm: 40, heightMm: 26, pitchXMm: 0.0508, powersPercent: [20, 60], speedsMmS: [50, 100, 200] };
    const { features, openings } = await generateCoupon('power-speed-grid', bed);
    const cells = features.features.flatMap((one) => (one.kind === 'cell' ? [one.box] : []));
    const ring = ([x0, y0, x1, y1]: readonly number[], wander = 0): Vec[] =>
      [[x0, y0, x1, y0], [x1, y0, x1, y1], [x1, y1, x0, y1], [x0, y1, x0, y0]].flatMap(([ax, ay, bx, by]) =>
        Array.from({ length: wander === 0 ? 1 : 40 }, (_, k): Vec => {
          const off = wander * Math.sin(7.7 * k * k);
          return [ax + ((bx - ax) * k) / 40 + off, ay + ((by - ay) * k) / 40 + off];
        }),
      ); // biome-ignore format: four sides
    const [whole, , barred, ragged, scorched, crumb] = cells;
    const [x, y] = [(barred[0] + barred[2]) / 2, (crumb[1] + crumb[3]) / 2];
    const cut = [
      ...[ring(whole), ring(ragged, 0.06), ring(scorched)],
      ...[ring([barred[0], barred[1], x - 0.5, barred[3]]), ring([x + 0.5, barred[1], barred[2], barred[3]])],
      // Film of 0.1 mm by 3 mm that was left where the kerf is 0.1 mm.
      ...[ring([crumb[0], crumb[1], crumb[2], y - 0.1]), ring([crumb[0] + 3, y - 0.2, crumb[2], y + 0.2])],
      ...[ring([crumb[0], y + 0.1, crumb[2], crumb[3]])],
    ].map((outer) => ({ outer }));
    const labels = openings.filter(({ outer: [[u, v]] }) =>
      cells.every((box) => u < box[0] - 0.1 || u > box[2] + 0.1 || v < box[1] - 0.1 || v > box[3] + 0.1),
    );
    const machine = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.1, kerfYMm: 0.1 };
    const look = { dpi: 600, widthMm: 44, heightMm: 30, turnDeg: 0, atMm: [2, 2] as const, blurMm: 0.025, ...DARK };
    const picture = scanFilm(
      { openings: [...labels, ...cut], machine },
      { ...look, noise: 2, specksPerCm2: 3, hairsPerCm2: 3 },
    );
    picture.levels.forEach((level, at) => {
      const u = ((at % picture.widthPx) * 25.4) / 600 - 2;
      const v = ((picture.heightPx - Math.floor(at / picture.widthPx)) * 25.4) / 600 - 2;
      const far = Math.max(scorched[0] - u, u - scorched[2], scorched[1] - v, v - scorched[3]);
      if (far > 0.05 && far < 0.4) picture.levels[at] = 0.9 * level;
    });
    const grid = { features, openings: new Openings(await couponOpenings(features, [])) };
    const [{ scanned }] = scanPicture(picture, [grid], 'grid.png').coupons;
    expect(scanned.map(({ outcome, note }) => `${outcome}: ${note}`)).toEqual([
      'through: proposal: 100 % clear; confirm by eye',
      'uncut: proposal: 0 % clear; confirm by eye',
      expect.stringMatching(/^partial: proposal: \d\d % clear; /),
      expect.stringMatching(/^marked: proposal: \d+ % clear, edges ragged by \d\d µm; /),
      expect.stringMatching(/^marked: proposal: \d+ % clear, \d+ % darker beside it; /),
      expect.stringMatching(/^partial: proposal: 98 % clear; /),
    ]);
  });

  it('finds a coupon that is cut off at the side of the picture', () => {
    const [found] = scanPicture(scan({ atMm: [-1.5, 2] }), [known], 'scan.png').coupons;
    expect(found.unread.length).toBeGreaterThan(0);
    for (const { feature, lengthMm } of found.scanned)
      if (lengthMm !== undefined) expect(1000 * Math.abs(lengthMm - truth(feature.id))).toBeLessThan(3);
  });

  it('refuses what it can not read, by name', () => {
    const code = (picture: Picture): string => {
      try {
        scanPicture(picture, [known], 'scan.png');
        return 'read';
      } catch (error) {
        return (error as { code: string }).code;
      }
    };
    expect(code(scan({ dpi: 200 }))).toBe('SCAN_TOO_COARSE');
    expect(code(scan({ film: 300, vignette: 0 }))).toBe('SCAN_CLIPPED');
    expect(code(scan({ perspective: [0.004, 0.001] }))).toBe('SCAN_SLANTED');
    expect(code(scan({}, { closed: new Set(coupon.openings.keys()) }))).toBe('SCAN_NO_COUPON');
    // It was not found, and nothing said why.
    expect(code(scan({}, { machine: { ...MACHINE, scaleX: 1.075 } }))).toBe('SCAN_SQUEEZED');
    expect(code(scan({ turnDeg: 91, atMm: [14.5, 2] }, { machine: { ...MACHINE, scaleY: 0.925 } }))).toBe('SCAN_SQUEEZED'); // biome-ignore format: as above
  });

  it('reads a film that is nearly clear by its walls, and says where dark walls spoil what is read', () => {
    const [walls, plain] = [scan({ ...LOOKS.walls, vignette: 0 }), scan({ film: 210, open: 0, vignette: 0, noise: 0 })];
    const darker = (share: number): Picture => {
      return {
        ...walls,
        levels: walls.levels.map((level, i) => Math.min(255, level - share * (210 - plain.levels[i]))),
      };
    };
    // As darker openings spans were 0.7 mm off.
    expect(scanPicture(darker(0.1), [known], 'scan.png').coupons[0].recognised.look).toBe('walls');
    expect(largest(errorsUm(darker(0.1), ['span']))).toBeLessThan(3);
    const told = scanPicture(darker(-0.1), [known], 'scan.png').warnings.map(({ code }) => code);
    expect(told).toEqual(['SCAN_WALLS_SHOW']);
  });

  it('takes no film for a clear one whose openings look otherwise than it: edges had been read as lines, 0.3 mm off', () => {
    const clear = (look: keyof typeof LOOKS) =>
      new Scene(scan(LOOKS[look])).find(known.openings, 'walls') !== undefined;
    expect([clear('darker'), clear('walls')]).toEqual([false, true]);
  });

  it('tells of a slant that is too slight to be refused', async () => {
    const { features, openings } = await generateCoupon('scale-ruler', { widthMm: 64, heightMm: 44, pitchXMm: 0.0254 });
    const ruler = { features, openings: new Openings(openings) };
    // A quarter of a percent from side to side.
    const picture = scanFilm(
      { openings, machine: MACHINE },
      {
        dpi: 400,
        widthMm: 72,
        heightMm: 52,
        turnDeg: 1,
        atMm: [3, 3],
        blurMm: 0.025,
        ...DARK,
        noise: 2,
        perspective: [4e-5, 1e-5],
      },
    );
    const { warnings } = scanPicture(picture, [ruler], 'scan.png');
    expect(warnings.map(({ code }) => code)).toEqual(['SCAN_SLIGHT_SLANT']);
  });

  it('tells of a scan that is out of focus, and states wider doubts for what that does to widths', () => {
    const { warnings, coupons } = scanPicture(scan({ blurMm: 0.08 }), [known], 'scan.png');
    expect(warnings.map(({ code, message }) => `${code} ${message}`)).toEqual([
      expect.stringMatching(
        /^SCAN_OUT_OF_FOCUS edges are 2\d\d µm wide .* under 0\.3\d mm may be off by about \d µm\.$/,
      ),
    ]);
    const [{ scanned }] = coupons;
    const off = scanned.flatMap(({ feature, uMm = 0 }) => (feature.kind === 'opening' ? [uMm] : []));
    expect(Math.min(...off.filter((uMm) => uMm > 0))).toBeGreaterThan(0.003);
  });

  it('tells of a scan that was sharpened', () => {
    const picture = scan({ noise: 0, specksPerCm2: 0, hairsPerCm2: 0, vignette: 0, film: 190, open: 70 });
    const { warnings } = scanPicture({ ...picture, levels: unsharp(picture) }, [known], 'scan.png');
    expect(warnings.map(({ code }) => code)).toEqual(['SCAN_SHARPENED']);
    expect(scanPicture(picture, [known], 'scan.png').warnings).toEqual([]);
  });

  it.each([
    ['nearest', 1.5],
    ['linear', 2],
    ['cubic', 1.7],
    ['lanczos3', 1.2],
    ['mitchell', 4 / 3],
  ] as const)('tells of a scan whose dots a program has made from others: %s, %f', async (kernel, factor) => {
    // By libvips.
    const { levels, widthPx, heightPx } = scan({ dpi: 600 });
    const [width, height] = [widthPx, heightPx].map((px) => Math.round(factor * px));
    const raw = { width: widthPx, height: heightPx, channels: 1 } as const;
    const scaled = await sharp(levels, { raw }).resize(width, height, { kernel }).extractChannel(0).raw().toBuffer();
    const dots = (600 * factor) / 25.4;
    const picture = { widthPx: width, heightPx: height, levels: scaled, dotsPerMm: { x: dots, y: dots } };
    expect(isResampled(picture)).toBe(true);
    if (kernel !== 'cubic') return;
    const { warnings } = scanPicture(picture, [known], 'scan.png');
    expect(warnings.map(({ code }) => code)).toContain('SCAN_RESAMPLED');
  });

  it.each(['INTER_CUBIC', 'INTER_LINEAR'] as const)(
    'tells of one made twice as large about its middle: %s',
    (kernel) => {
      // By a general vision library, which lays dots a quarter beside those that were seen.
      const { levels, widthPx, heightPx } = scan({ dpi: 600 });
      const seen = cv.matFromArray(heightPx, widthPx, cv.CV_8UC1, Array.from(levels));
      const made = new cv.Mat();
      cv.resize(seen, made, new cv.Size(2 * widthPx, 2 * heightPx), 0, 0, cv[kernel]);
      const picture = {
        widthPx: 2 * widthPx,
        heightPx: 2 * heightPx,
        levels: Uint8Array.from(made.data as Uint8Array),
      };
      for (const one of [seen, made]) one.delete();
      expect(isResampled({ ...picture, dotsPerMm: { x: 1200 / 25.4, y: 1200 / 25.4 } })).toBe(true);
    },
  );

  it.each([
    [0.015, 1],
    [0.025, 2],
    [0.035, 4],
  ])(
    'takes no plain scan for one that a program made, nor its JPEG (libjpeg): blur %f mm, noise %d',
    async (blurMm, noise) => {
      const picture = scan({ blurMm, noise });
      const raw = { width: picture.widthPx, height: picture.heightPx, channels: 1 } as const;
      expect(isResampled(picture)).toBe(false);
      for (const quality of [70, 85, 95]) {
        const jpeg = await sharp(picture.levels, { raw }).jpeg({ quality }).toBuffer();
        expect(isResampled({ ...picture, levels: await sharp(jpeg).extractChannel(0).raw().toBuffer() })).toBe(false);
      }
    },
  );

  it('is not misled by what lies on an opening and moves its middle', () => {
    const picture = scan({ specksPerCm2: 0, hairsPerCm2: 0 });
    const recognised = new Scene(picture).find(known.openings);
    if (!recognised) throw new Error('not found');
    const seenAt = recognised.seenAt.map(
      (at, i): Point | undefined => at && (i % 7 === 3 ? [at[0] + 18, at[1] - 6] : at),
    );
    const { scanned } = measureCoupon(picture, coupon.features.features, known.openings, { ...recognised, seenAt });
    const errors = scanned.map(({ feature, lengthMm = Number.NaN }) => 1000 * (lengthMm - truth(feature.id)));
    expect(errors).toHaveLength(12);
    expect(largest(errors)).toBeLessThan(2);
  });

  it.each(['darker', 'lighter'] as const)('is not misled by what is cut beside an opening: %s', (look) => {
    const box = (x: number, y: number, w: number, h: number) => ({
      outer: [
        [x, y],
        [x + w, y],
        [x + w, y + h],
        [x, y + h],
      ] as Point[],
      islands: [],
    });
    // Wide ones with little or no film left between them; a fine pitch; slots as narrow as the blur; two to know it by.
    const webs = [0.1, 0.1, 0.13, 0.16, 0.2];
    const pairs = webs.flatMap((web, i) => [box(2.6 * i, 0, 0.8, 2), box(2.6 * i + 0.8 + web, 0, 0.8, 2)]);
    const pitch = Array.from({ length: 8 }, (_, i) => box(0.5 * i, 4, 0.25, 1.5));
    const narrow = [0.08, 0.1, 0.12].map((width, i) => box(6 + 2 * i, 4, width, 1.5));
    const all = [...pairs, ...pitch, ...narrow, box(1, 7, 1.5, 1), box(9, 6.6, 0.7, 1.9)];
    const openings = new Openings(all);
    const picture = scanFilm(
      { openings: all, machine: MACHINE },
      {
        ...{ dpi: 1200, widthMm: 17, heightMm: 12, turnDeg: 1.3, atMm: [2, 1.5], blurMm: 0.025, ...LOOKS[look] },
        ...{ vignette: 0.05, noise: 2, seed: 3 },
      },
    );
    const recognised = new Scene(picture).find(openings);
    if (!recognised) throw new Error('not found');
    const slots = all.flatMap(({ outer: [[x, y], , [right]] }, i): DimensionalFeature[] =>
      i < pairs.length || i >= pairs.length + 11
        ? []
        : [{ id: `S${i}`, kind: 'opening', from: [x, y + 0.75], to: [right, y + 0.75], nominalMm: right - x, say: '' }],
    );
    const between = webs.map((web, i): DimensionalFeature => {
      const x = 2.6 * i + 0.8;
      return { id: `W${i}`, kind: 'web', from: [x, 1], to: [x + web, 1], nominalMm: web, say: '' };
    });
    const found = measureCoupon(picture, [...between, ...slots], openings, recognised);
    expect(found.sharpness.openShare / (LOOKS[look].open / LOOKS[look].film)).toBeCloseTo(1, 2);
    expect(found.sharpness.halo).toBeLessThan(0.02);
    const errors = found.scanned.flatMap(({ feature, lengthMm }) =>
      feature.kind === 'opening' && 'from' in feature && lengthMm !== undefined
        ? [1000 * (lengthMm - MACHINE.scaleX * feature.nominalMm - MACHINE.kerfXMm)]
        : [],
    );
    expect(errors).toHaveLength(11);
    const gone = found.scanned.filter(({ outcome }) => outcome === 'gone');
    expect(gone.map(({ feature }) => feature.id)).toEqual(['W0', 'W1']);
    expect(largest(errors)).toBeLessThan(2);
  });

  it.each(['darker', 'lighter'] as const)('is not misled by hairs over squares and beside them: %s', (look) => {
    const box = (x: number, y: number, w: number, h: number): Point[] => [[x, y], [x + w, y], [x + w, y + h], [x, y + h]]; // biome-ignore format: four corners
    const sizes = [0.15, 0.2, 0.3, 0.4, 0.6, 0.8];
    const squares = sizes.map((size, i) => box(0.5 + 1.7 * i, 4, size, size));
    const all = [...[0, 2.1, 5.3, 8].map((x) => box(x, 0, 1, 2)), ...squares, box(1, 7, 1.5, 1), box(9, 6.6, 0.7, 1.9)];
    const openings = new Openings(all.map((outer) => ({ outer, islands: [] })));
    const picture = scanFilm(
      { openings: openings.all, machine: MACHINE },
      {
        ...{ dpi: 1200, widthMm: 15, heightMm: 12, turnDeg: 0, atMm: [2, 1.5], blurMm: 0.025, ...LOOKS[look] },
        ...{ noise: 2, seed: 3 },
      },
    );
    const features = sizes.flatMap((size, i): DimensionalFeature[] => {
      const [x, y] = [0.5 + 1.7 * i, 4];
      const base = { kind: 'opening', shape: 'square', nominalMm: size, say: '' } as const;
      return [
        { ...base, id: `X${i}`, from: [x, y + size / 2], to: [x + size, y + size / 2] },
        { ...base, id: `Y${i}`, from: [x + size / 2, y], to: [x + size / 2, y + size] },
      ];
    });
    // By wide ones it is known how openings grew.
    const wide = [0, 2.1, 5.3, 8].flatMap((x, i): DimensionalFeature[] => [
      { id: `V${i}`, kind: 'opening', from: [x, 1], to: [x + 1, 1], nominalMm: 1, say: '' },
      { id: `W${i}`, kind: 'opening', from: [x + 0.5, 0], to: [x + 0.5, 2], nominalMm: 2, say: '' },
    ]);
    const wanted = ({ id, nominalMm }: DimensionalFeature): number =>
      id.startsWith('X') ? MACHINE.scaleX * nominalMm + MACHINE.kerfXMm : MACHINE.scaleY * nominalMm + MACHINE.kerfYMm;
    for (const far of [-0.1, 0.1, 0.2]) {
      // Hairs lean past the upper right corner of each square, or over it, and half of the light is gone there.
      const dots = 1200 / 25.4;
      const levels = picture.levels.map((level, at) => {
        const y = ((picture.heightPx - Math.floor(at / picture.widthPx)) / dots - 1.5) / MACHINE.scaleY;
        if (y < 3.5 || y > 5.5) return level;
        const x = ((at % picture.widthPx) / dots - 2) / MACHINE.scaleX;
        const beside = Math.min(...sizes.map((size, i) => Math.abs((x - (0.5 + 1.7 * i + size)) * 0.9 + (y - (4 + size)) * 0.44 - far))); // biome-ignore format: one line
        return level * (1 - 0.5 * Math.exp(-((beside / 0.025) ** 2) / 2));
      });
      const recognised = new Scene({ ...picture, levels }).find(openings);
      if (!recognised) throw new Error('not found');
      const { scanned } = measureCoupon({ ...picture, levels }, [...features, ...wide], openings, recognised);
      const off = features.map((feature, i) => 1000 * ((scanned[i].lengthMm ?? 9) - wanted(feature)));
      expect(off).toHaveLength(12);
      // Of a square that is hidden by a third little is known, and that is said.
      expect(largest(off.map((um, i) => um / Math.max(3, 2000 * (scanned[i].uMm ?? 0))))).toBeLessThan(1);
      expect(off.filter((um) => Math.abs(um) > 3).length).toBeLessThan(3);
    }
  });

  it('takes the lines of a rule beside the film for one length', () => {
    // 61 lines, one each millimetre of the glass, the fifth and tenth longer; the machine's map is taken out of them.
    const rule = Array.from({ length: 61 }, (_, n) => {
      const length = n % 10 === 0 ? 5 : n % 5 === 0 ? 4 : 2.5;
      const corner = (x: number, y: number): Point => [
        (x - (MACHINE.shear * y) / MACHINE.scaleY) / MACHINE.scaleX,
        y / MACHINE.scaleY,
      ];
      return { outer: [corner(n, 15), corner(n + 0.05, 15), corner(n + 0.05, 15 + length), corner(n, 15 + length)] };
    });
    const picture = scanFilm(
      { openings: [...coupon.openings, ...rule], machine: MACHINE },
      {
        ...{ dpi: 600, widthMm: 66, heightMm: 26, turnDeg: 1.3, atMm: [3, 2], blurMm: 0.025, ...DARK },
        ...{ vignette: 0.3, noise: 2, specksPerCm2: 3, hairsPerCm2: 3, scaleX: 0.9985, scaleY: 1.0012 },
      },
    );
    const seen = scanPicture(picture, [known], 'scan.png', 1).rule;
    expect(seen?.lines).toBeGreaterThan(50);
    const { lengthMm = 0, feature } = seen?.length ?? {};
    // What the scanner shows of a millimetre along its X, which the rule lies along but for 1.3 degrees.
    expect(Math.abs(lengthMm / (feature?.nominalMm ?? 1) - 0.9985)).toBeLessThan(3e-5);
    expect(scanPicture(scan(), [known], 'scan.png', 1).rule).toBeUndefined();
  });

  it.each([
    ['darker', 2.2, -27],
    ['lighter', 2.2, 11],
    ['darker', 0.6, 10],
  ] as const)('undoes levels that are bent for the eye, and says how far: %s, gamma %f', (look, gamma, plainUm) => {
    // IEC 61966-2-1 (sRGB) is about 2.2; read as they are, openings come out wrong by `plainUm`.
    const { coupons, warnings } = scanPicture(scan({ ...LOOKS[look], gamma, seed: 2 }), [known], 'scan.png');
    expect(warnings.map(({ code }) => code)).toEqual(['SCAN_TONE']);
    const { tone } = coupons[0].sharpness;
    const widths = coupons[0].scanned.flatMap(({ feature, lengthMm }) =>
      feature.kind === 'opening' && lengthMm !== undefined ? [1000 * (lengthMm - truth(feature.id))] : [],
    );
    expect(largest(widths)).toBeLessThan(0.4 * Math.abs(plainUm));
    expect(largest(widths)).toBeLessThan(2 * 2 * 1000 * (tone?.uShiftMm ?? 0));
  });

  it('does not take a coupon of another bed for this one', async () => {
    const other = await generateCoupon('scale-ruler', { widthMm: 80, heightMm: 60, pitchXMm: 0.0254 });
    const openings = new Openings(await couponOpenings(other.features, []));
    expect(() => scanPicture(scan(), [{ features: other.features, openings }], 'scan.png')).toThrow(/none of the/);
  });
});

/** Adds half of the difference to a blurred copy, as scanner programs do. */
function unsharp({ widthPx: w, heightPx: h, levels }: Picture): Uint8Array {
  const out = new Uint8Array(levels);
  for (let y = 3; y < h - 3; y += 1) {
    for (let x = 3; x < w - 3; x += 1) {
      let sum = 0;
      for (let j = -3; j <= 3; j += 1) for (let i = -3; i <= 3; i += 1) sum += levels[(y + j) * w + x + i];
      const level = levels[y * w + x];
      out[y * w + x] = Math.max(0, Math.min(255, level + 0.6 * (level - sum / 49)));
    }
  }
  return out;
}

describe('slantOf', () => {
  const marks = Array.from({ length: 48 }, (_, i): [number, number] => [
    25 * (i % 8) + 3 * (i % 5),
    22 * Math.floor(i / 8),
  ]);
  /** A bed with waves of 5 um, seen by a camera that looks at it at a slant: `share` of the size from side to side. */
  const seen = (share: number): [[number, number], [number, number]][] =>
    marks.map(([x, y], i) => {
      const far = 1 + (share * x) / 190;
      return [
        [x, y],
        [(x + 0.005 * Math.sin(x / 9)) / far, y / far + 0.001 * Math.cos(7 * i)],
      ];
    });

  it('sees a slant of a thousandth, and none in a bed that is not straight', () => {
    const plain = slantOf(seen(0));
    expect(plain?.perspective).toBeGreaterThan(0.9 * (plain?.affine ?? 1));
    for (const share of [0.001, 0.002, 0.01]) {
      const slant = slantOf(seen(share));
      // Off from an affine map by about an eighth of the share, at the ends of 190 mm.
      expect(slant?.affine).toBeGreaterThan((share * 190) / 20);
      expect(slant?.perspective).toBeLessThan(0.3 * (slant?.affine ?? 0));
    }
  });
});

describe('couponOpenings', () => {
  it('says when the pattern of a coupon is not known', async () => {
    const { features } = coupon;
    await expect(couponOpenings({ ...features, coupon: 'my-own' }, [])).rejects.toMatchObject({ code: 'SCAN_PATTERN' });
  });
});

describe('blobsOf', () => {
  it('counts and places parts as OpenCV does (connectedComponentsWithStats)', async () => {
    if (!cv.Mat) {
      await new Promise<void>((resolve) => {
        cv.onRuntimeInitialized = () => resolve();
      });
    }
    const picture = scan({ specksPerCm2: 20, hairsPerCm2: 5 });
    const { widthPx: w, heightPx: h, levels } = picture;
    const mask = Float32Array.from(levels, (level) => (level < 110 ? 1 : 0));
    const own = blobsOf(picture, mask).sort((a, b) => a.at[1] - b.at[1] || a.at[0] - b.at[0]);
    const mat = cv.matFromArray(h, w, cv.CV_8UC1, Uint8Array.from(mask));
    const [labels, stats, centres] = [new cv.Mat(), new cv.Mat(), new cv.Mat()];
    const count = cv.connectedComponentsWithStats(mat, labels, stats, centres, 8, cv.CV_32S);
    const theirs = Array.from({ length: count - 1 }, (_, k) => {
      const [left, top, width, height, area] = [0, 1, 2, 3, 4].map((i) => stats.data32S[5 * (k + 1) + i]);
      const [x, y] = [0, 1].map((i) => centres.data64F[2 * (k + 1) + i] + 0.5);
      return { left, top, right: left + width, bottom: top + height, area, x, y };
    })
      .filter(({ left, top, right, bottom }) => left > 0 && top > 0 && right < w && bottom < h)
      .sort((a, b) => a.y - b.y || a.x - b.x);
    for (const one of [mat, labels, stats, centres]) one.delete();
    expect(own).toHaveLength(theirs.length);
    own.forEach(({ at: [x, y], areaPx }, i) => {
      expect(areaPx).toBe(theirs[i].area);
      expect(Math.hypot(x - theirs[i].x, y - theirs[i].y)).toBeLessThan(1e-6);
    });
  });
});
