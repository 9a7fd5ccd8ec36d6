import fc from 'fast-check';
import sharp from 'sharp';
import { beforeAll, describe, expect, it } from 'vitest';
import { BUILT_IN_PATTERNS, builtInPattern } from '../../src/coupon/built-in.js';
import type { DimensionalFeature, Feature } from '../../src/coupon/features.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import { parseFeatures } from '../../src/coupon/parse-features.js';
import type { Coupon, CouponOptions } from '../../src/coupon/types.js';
import { InputError } from '../../src/errors.js';
import { writeArtwork } from '../../src/export/write.js';
import { predictLength } from '../../src/fit/calibration/design.js';
import { cases as times } from '../cases.js';
import { filmReader, type Machine } from './burn.js';

const BED: CouponOptions = { widthMm: 150, heightMm: 100, pitchXMm: 0.0254 };
const SLANTED: CouponOptions = { ...BED, pitchXMm: 0.05, pitchYMm: 0.0254 };

const isDimension = (feature: Feature): feature is DimensionalFeature => 'from' in feature;
const dimensions = (coupon: Coupon): DimensionalFeature[] => coupon.features.features.filter(isDimension);

function direction({ from, to, nominalMm }: DimensionalFeature): [number, number] {
  return [(to[0] - from[0]) / nominalMm, (to[1] - from[1]) / nominalMm];
}

/** What the fit needs of a coupon, however small its bed. */
const MEASURES: Readonly<Record<string, string[]>> = {
  'scale-ruler': ['span x', 'span y', 'span slanted'],
  'aperture-ladder': ['opening x', 'opening y', 'web x', 'web y'],
};

/** Beds that were refused or crowded once: mm, and dots per inch. */
const CROWDED_ONCE = [
  [300, 200, 300],
  [60, 40, 254],
  [60, 40, 600],
  [63, 45, 508],
  [400, 40, 300],
] as const;

it('no coupon says how a file is filled in: the prompt, the page and the table each say that themselves', () => {
  for (const name of BUILT_IN_PATTERNS)
    expect([name, builtInPattern(name).steps.join(' ')]).toEqual([
      name,
      expect.not.stringMatching(/the column|_mm|readings file/),
    ]);
});

/** What must hold for every coupon on every bed. */
function checkInvariants(coupon: Coupon): void {
  const { widthMm, heightMm, pitchXMm, pitchYMm } = coupon.canvas;
  const onGrid = (value: number, pitch: number): boolean => Math.abs(value / pitch - Math.round(value / pitch)) < 1e-6;
  for (const { outer, islands } of coupon.openings) {
    expect(islands).toHaveLength(0);
    for (const [x, y] of outer) {
      if (!(onGrid(x, pitchXMm) && onGrid(y, pitchYMm))) throw new Error(`${x}, ${y} is off the dots`);
      if (x < 0 || y < 0 || x > widthMm || y > heightMm) throw new Error(`${x}, ${y} is off the canvas`);
    }
  }
  const ids = coupon.features.features.map(({ id }) => id);
  expect(new Set(ids).size).toBe(ids.length);
  for (const feature of dimensions(coupon)) {
    const { from, to, nominalMm, id } = feature;
    const distance = Math.hypot(to[0] - from[0], to[1] - from[1]);
    if (Math.abs(distance - nominalMm) > 1e-8) throw new Error(`${id}: ${distance} is not ${nominalMm}`);
  }
  expect(parseFeatures(JSON.stringify(coupon.features), 'coupon')).toEqual(coupon.features);
  const axis = ([dx, dy]: readonly [number, number]): string => (dy === 0 ? 'x' : dx === 0 ? 'y' : 'slanted');
  const measured = dimensions(coupon).map((feature) => `${feature.kind} ${axis(direction(feature))}`);
  expect(measured).toEqual(expect.arrayContaining(MEASURES[coupon.name] ?? []));
}

describe('generateCoupon', () => {
  const made = new Map<string, Coupon>();
  const get = (name: string, options: 'square' | 'slanted' = 'square'): Coupon =>
    made.get(`${name} ${options}`) as Coupon;
  beforeAll(async () => {
    for (const name of BUILT_IN_PATTERNS) {
      made.set(`${name} square`, await generateCoupon(name, BED));
      made.set(`${name} slanted`, await generateCoupon(name, SLANTED));
    }
  });

  it.each(BUILT_IN_PATTERNS)('%s: corners on the dots, ids unique, nominal the distance, readable back', (name) => {
    checkInvariants(get(name));
    checkInvariants(get(name, 'slanted'));
  });

  it('no two coupons share an id', () => {
    const ids = BUILT_IN_PATTERNS.flatMap((name) => get(name).features.features.map(({ id }) => id));
    expect(new Set(ids).size).toBe(ids.length);
  });

  it('a canvas is the largest whole number of dots in the bed', () => {
    expect(get('scale-ruler').canvas).toMatchObject({ widthPx: 5905, heightPx: 3937, widthMm: 149.987 });
    expect(get('scale-ruler', 'slanted').canvas).toMatchObject({ widthPx: 3000, widthMm: 150 });
  });

  it('the ruler spans the bed at three places each way, repeats nominals, and crosses it both ways', () => {
    const spans = dimensions(get('scale-ruler'));
    const along = (axis: 0 | 1) => spans.filter((span) => Math.abs(direction(span)[axis]) > 0.999999);
    // The shortest differ from axis to axis: interchanged axes would not fit.
    for (const [axis, size, shortest] of [
      [0, 150, 10],
      [1, 100, 12],
    ] as const) {
      const own = along(axis);
      expect(new Set(own.map((span) => span.from[1 - axis].toFixed(2))).size).toBeGreaterThanOrEqual(3);
      expect(Math.max(...own.map((span) => span.nominalMm))).toBeGreaterThan(size - 11);
      for (const nominal of [shortest, 20, 25]) {
        expect(own.filter((span) => Math.abs(span.nominalMm - nominal) < 0.03).length).toBeGreaterThanOrEqual(3);
      }
    }
    const slanted = spans.filter((span) => direction(span).every((part) => Math.abs(part) > 0.4));
    const rising = slanted.filter((span) => direction(span)[1] > 0);
    expect(rising.length).toBeGreaterThanOrEqual(6);
    expect(slanted.length - rising.length).toBeGreaterThanOrEqual(6);
    // Shear from readings with 5 um noise: each span weighs (L ux uy)^2; scale cancels between the two senses.
    const information = slanted.reduce(
      (sum, span) => sum + (span.nominalMm * direction(span)[0] * direction(span)[1]) ** 2,
      0,
    );
    expect(0.005 / Math.sqrt(information)).toBeLessThan(5e-5);
  });

  it('slanted slots are read from middle to middle: only that length is the one of the model', () => {
    const [sx, sy, shear] = [1.01, 0.99, 0.004];
    for (const span of dimensions(get('scale-ruler')).filter((one) => direction(one).every((part) => part !== 0))) {
      const [dx, dy] = [span.to[0] - span.from[0], span.to[1] - span.from[1]];
      const between = Math.hypot(sx * dx + shear * dy, sy * dy);
      expect(between).toBeCloseTo(predictLength({ kind: 'span', dx, dy }, [sx, sy, shear, 0.1, 0.1]), 9);
      const square = (sx * sy * (dx * dx + dy * dy)) / Math.hypot(shear * dx - sx * dy, sy * dx);
      expect(between - square).toBeGreaterThan(0.005);
      expect(span.say).toMatch(
        /^From the middle of the edge of slanted slot .* to the middle of the same edge of slot/,
      );
    }
  });

  it.each([
    [60, 40],
    [65.9, 40],
    [65.9, 45.9],
    [80, 60],
  ])('on a bed of %f x %f mm slanted spans rise and fall: a slip in one of them shows', async (widthMm, heightMm) => {
    for (const pitchXMm of [0.0254, 0.1]) {
      const spans = dimensions(await generateCoupon('scale-ruler', { widthMm, heightMm, pitchXMm })).map(direction);
      const slanted = spans.filter(([x, y]) => Math.abs(x * y) > 0.3);
      expect([slanted.some(([x, y]) => x * y > 0), slanted.some(([x, y]) => x * y < 0)]).toEqual([true, true]);
    }
  });

  it.each([
    [400, 300],
    [500, 300],
    [600, 400],
  ])(
    'on a bed of %i x %i mm a caliper of 150 mm reaches spans along X, along Y and slanted',
    async (widthMm, heightMm) => {
      const bed = { widthMm, heightMm, pitchXMm: 0.0254 };
      const reached = dimensions(await generateCoupon('scale-ruler', bed)).filter(({ nominalMm }) => nominalMm <= 150);
      for (const isOfSort of [
        ([x]: number[]) => Math.abs(x) > 0.999999,
        ([, y]: number[]) => Math.abs(y) > 0.999999,
        ([x, y]: number[]) => Math.abs(x * y) > 0.3,
      ]) {
        const own = reached.filter((span) => isOfSort([...direction(span)]));
        expect(Math.max(0, ...own.map(({ nominalMm }) => nominalMm))).toBeGreaterThan(100);
      }
    },
  );

  it('the ladder has all sizes across X and Y at three places, and each web between openings of its own', () => {
    const features = dimensions(get('aperture-ladder'));
    for (const kind of ['opening', 'web'] as const) {
      for (const axis of [0, 1] as const) {
        const own = features.filter((feature) => feature.kind === kind && direction(feature)[axis] > 0.999999);
        const sizes = own.map((feature) => feature.nominalMm);
        const [least, most] = kind === 'opening' ? [0.1, 2] : [0.05, 0.6];
        expect(Math.min(...sizes)).toBeCloseTo(least, 2);
        expect(Math.max(...sizes)).toBeCloseTo(most, 1);
        const places = new Set(own.map(({ from }) => `${Math.round(from[0] / 40)} ${Math.round(from[1] / 40)}`));
        expect(places.size).toBeGreaterThanOrEqual(3);
      }
    }
    // An opening's reading is its own: nothing else within 0.8 mm of it, so no thin web can spoil it.
    const boxes = get('aperture-ladder').openings.map(({ outer }) => {
      const [xs, ys] = [outer.map(([x]) => x), outer.map(([, y]) => y)];
      return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
    });
    const gap = (p: number[], q: number[]): number =>
      Math.hypot(Math.max(0, p[0] - q[2], q[0] - p[2]), Math.max(0, p[1] - q[3], q[1] - p[3]));
    for (const { kind, from, to } of features) {
      const middle = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2, (from[0] + to[0]) / 2, (from[1] + to[1]) / 2];
      const own = boxes.filter((box) => gap(box, middle) < (kind === 'web' ? 0.4 : 1e-9));
      expect(own).toHaveLength(kind === 'web' ? 2 : 1);
      for (const box of boxes)
        if (!own.includes(box)) for (const mine of own) expect(gap(box, mine)).toBeGreaterThan(0.8 - 1e-6);
    }
  });

  const machines: [string, Machine][] = [
    ['true', { sx: 1, sy: 1, shear: 0, kx: 0.12, ky: 0.12 }],
    ['stretched, sheared, oblong spot', { sx: 1.004, sy: 0.997, shear: 0.005, kx: 0.18, ky: 0.09 }],
    ['told the wrong resolution', { sx: 0.26, sy: 0.262, shear: -0.002, kx: 0.09, ky: 0.12 }],
  ];
  const readable = ['scale-ruler', 'aperture-ladder', 'witness'] as const;
  const cases = machines.flatMap(([words, machine]) =>
    readable.flatMap((name) => (['square', 'slanted'] as const).map((dots) => [name, dots, words, machine] as const)),
  );
  it.each(cases)(
    '%s on %s dots, read off a film from a machine that is %s, agrees with the model',
    (name, dots, _w, m) => {
      const coupon = get(name, dots);
      const film = filmReader(coupon.openings, m);
      const wrong: string[] = [];
      for (const feature of dimensions(coupon)) {
        const [ux, uy] = direction(feature);
        const stretch = Math.hypot(m.sx * ux + m.shear * uy, m.sy * uy);
        const kerf = Math.hypot(m.kx * ux, m.ky * uy);
        const share = { span: 0, opening: kerf, web: -kerf }[feature.kind];
        const expected = stretch * feature.nominalMm + share;
        const got = film.read(feature);
        const agrees = typeof got === 'number' ? Math.abs(got - expected) < 1e-3 : got === 'gone' && expected <= 1e-3;
        if (!agrees) wrong.push(`${feature.id}: ${got} for ${expected}`);
      }
      expect(wrong).toEqual([]);
    },
  );

  it.each(readable)('%s: from and to of every feature are edges of the image that is burnt', async (name) => {
    for (const dots of ['square', 'slanted'] as const) {
      const coupon = get(name, dots);
      const { canvas } = coupon;
      const pitchMm = { x: canvas.pitchXMm, y: canvas.pitchYMm };
      const png = await writeArtwork(coupon.images[0].openings, {
        format: 'png',
        canvas,
        pitchMm,
        rounding: 'snapped',
      });
      expect([png.widthPx, png.heightPx]).toEqual([canvas.widthPx, canvas.heightPx]);
      const { data, info } = await sharp(png.bytes).greyscale().raw().toBuffer({ resolveWithObject: true });
      const { density } = await sharp(png.bytes).metadata();
      expect(density).toBe(Math.round(25.4 / canvas.pitchXMm));
      const dark = (x: number, y: number): boolean => {
        const column = Math.floor(x / canvas.pitchXMm);
        const row = info.height - 1 - Math.floor(y / canvas.pitchYMm);
        return data[(row * info.width + column) * info.channels] < 128;
      };
      for (const feature of dimensions(coupon)) {
        const [ux, uy] = direction(feature);
        // Half a dot along the way, and a hair aside so as not to walk between two rows of dots.
        const step = 0.5 * Math.min(canvas.pitchXMm, canvas.pitchYMm);
        const aside = Math.abs(ux * uy) > 1e-6 ? 0 : 0.1 * step;
        const at = ([x, y]: readonly [number, number], t: number): boolean =>
          dark(x + ux * t - uy * aside, y + uy * t + ux * aside);
        const seen = [at(feature.from, -step), at(feature.from, step), at(feature.to, -step), at(feature.to, step)];
        const wanted = {
          span: [false, true, false, true],
          opening: [false, true, true, false],
          web: [true, false, false, true],
        }[feature.kind];
        expect([feature.id, seen]).toEqual([feature.id, wanted]);
      }
    }
  });

  it('fits every bed from the smallest up, at any pitch, with the invariants', async () => {
    const pitch = fc.constantFrom(0.01, 0.0254, 25.4 / 600, 0.05, 0.0635, 0.1);
    const share = fc.double({ min: 0, max: 1, noNaN: true });
    const least = (name: string): readonly [number, number] => builtInPattern(name).smallestBedMm as [number, number];
    // How far a bed goes from the smallest to 600 mm.
    const part = (mm: number, leastMm: number): number => Math.sqrt((mm - leastMm) / (600 - leastMm));
    await fc.assert(
      fc.asyncProperty(fc.constantFrom(...BUILT_IN_PATTERNS), share, share, pitch, pitch, async (name, a, b, x, y) => {
        const [leastX, leastY] = least(name);
        const widthMm = leastX + a * a * (600 - leastX);
        const heightMm = leastY + b * b * (600 - leastY);
        checkInvariants(await generateCoupon(name, { widthMm, heightMm, pitchXMm: x, pitchYMm: y }));
      }),
      {
        numRuns: times(12),
        seed: 20,
        examples: [
          ['scale-ruler', 0, 0, 0.01, 0.1],
          ['aperture-ladder', 0, 0, 0.0254, 0.0254],
          ...(['scale-ruler', 'aperture-ladder'] as const).flatMap((name) =>
            CROWDED_ONCE.map(([wide, high, dpi]): [typeof name, number, number, number, number] => {
              const [leastX, leastY] = least(name);
              return [name, part(wide, leastX), part(high, leastY), 25.4 / dpi, 25.4 / dpi];
            }),
          ),
        ],
      },
    );
  });

  const refusals: [string, string, CouponOptions, string, RegExp][] = [
    [
      'a bed that is too small, with what is needed',
      'scale-ruler',
      { ...BED, widthMm: 40, heightMm: 30 },
      'BED_TOO_SMALL',
      /60 x 40 mm/,
    ],
    [
      'a bed that is too small for the ladder',
      'aperture-ladder',
      { ...BED, widthMm: 30, heightMm: 20 },
      'BED_TOO_SMALL',
      /60 x 40 mm/,
    ],
    [
      'a pitch coarser than the smallest opening, with the remedy',
      'aperture-ladder',
      { ...BED, pitchXMm: 0.15 },
      'PITCH_TOO_COARSE',
      /254 dots per inch/,
    ],
    ['a pitch of zero', 'scale-ruler', { ...BED, pitchXMm: 0 }, 'COUPON_OPTION', /pitchXMm/],
    ['a bed that is no number', 'scale-ruler', { ...BED, widthMm: Number.NaN }, 'COUPON_OPTION', /widthMm/],
    ['an unknown pattern, with the nearest', 'scale-rulers', BED, 'UNKNOWN_PATTERN', /Did you mean "scale-ruler"/],
    ['a power above 100 %', 'power-speed-grid', { ...BED, powersPercent: [50, 120] }, 'COUPON_OPTION', /120/],
    ['a speed named twice', 'power-speed-grid', { ...BED, speedsMmS: [50, 50] }, 'COUPON_OPTION', /twice/],
    [
      'more cells than the bed holds',
      'power-speed-grid',
      { ...BED, powersPercent: Array.from({ length: 20 }, (_, i) => 5 + i) },
      'BED_TOO_SMALL',
      /block of/,
    ],
  ];
  it.each(refusals)('refuses %s', async (_words, name, options, code, message) => {
    const error = await generateCoupon(name, options).then(
      () => undefined,
      (reason: unknown) => reason,
    );
    expect(error).toBeInstanceOf(InputError);
    expect((error as InputError).code).toBe(code);
    expect((error as InputError).message).toMatch(message);
  });

  it('says so when the pitch makes two sizes the same', async () => {
    const coupon = await generateCoupon('aperture-ladder', { ...BED, pitchXMm: 0.1 });
    // Once for each axis, whatever merges: openings, webs, squares, circles.
    expect(coupon.warnings.map(({ code }) => code)).toEqual(['SIZES_MERGED', 'SIZES_MERGED']);
    const row = dimensions(coupon).filter(({ id }) => id.startsWith('LA'));
    expect(new Set(row.map(({ nominalMm }) => nominalMm)).size).toBe(row.length);
  });

  it('gives the same coupon for the same inputs', async () => {
    expect(await generateCoupon('scale-ruler', BED)).toEqual(get('scale-ruler'));
  });
});
