import { describe, expect, it } from 'vitest';
import type { DimensionalFeature } from '../../src/coupon/features.js';
import { otherFilmMm, readingsOfScans } from '../../src/scan/readings-of-scans.js';
import { checkReferences } from '../../src/scan/scanner/references.js';
import { fitScanner, type ScannedLength, scaleUncertainty, trueLength } from '../../src/scan/scanner/scanner.js';

/** What a scanner shows for a millimetre, and a film; all of it first worked out with plain 2 x 2 products. */
const SCANNER = [
  [0.9985, 0.0008],
  [0, 1.0012],
] as const;
const FILM = [
  [1.0031, 0.002],
  [0, 0.9968],
] as const;

const DIRECTIONS = [
  [1, 0],
  [0, 1],
  [0.8, -0.6],
  [0.8, 0.6],
] as const;
const features = DIRECTIONS.flatMap(([x, y], d) =>
  [10, 60, 140].map(
    (nominalMm, i): DimensionalFeature => ({
      id: `S${d}${i}`,
      kind: 'span',
      from: [0, 0],
      to: [x * nominalMm, y * nominalMm],
      nominalMm,
      say: 'a span',
    }),
  ),
);

type Map2 = readonly (readonly [number, number])[];
const apply = ([p, q]: Map2, [x, y]: readonly [number, number]): [number, number] => [
  p[0] * x + p[1] * y,
  q[0] * x + q[1] * y,
];
const onFilm = ({ to }: DimensionalFeature): number => Math.hypot(...apply(FILM, [to[0], to[1]]));

function scanned(turnDeg: number, faceDown = false): ScannedLength[] {
  const turn = (turnDeg * Math.PI) / 180;
  const rotation: Map2 = [
    [Math.cos(turn), -Math.sin(turn)],
    [Math.sin(turn), Math.cos(turn)],
  ];
  return features.map((feature) => {
    const [right, up] = apply(FILM, [feature.to[0], feature.to[1]]);
    const [x, y] = apply(SCANNER, apply(rotation, [faceDown ? -right : right, up]));
    const lengthMm = Math.hypot(x, y);
    return { coupon: 'ruler', feature, lengthMm, uMm: 0.0005, direction: [x / lengthMm, y / lengthMm] };
  });
}

describe('fitScanner', () => {
  const reference = [{ coupon: 'ruler', feature: features[2], readingMm: onFilm(features[2]), uMm: 0.005 }];
  const worst = (lengths: readonly ScannedLength[], known: typeof reference): number => {
    const scanner = fitScanner(lengths, known);
    return Math.max(
      ...lengths.map(({ feature, lengthMm, direction }) =>
        Math.abs(trueLength(lengthMm, direction, scanner) / onFilm(feature) - 1),
      ),
    );
  };

  it('tells film from scanner when the film was turned, and takes the scale from one span', () => {
    const lengths = [...scanned(1.3), ...scanned(91)];
    expect(worst(lengths, reference)).toBeLessThan(1e-5);
    const scanner = fitScanner(lengths, reference);
    expect(scanner).toMatchObject({ reversed: true, scaled: true });
    // The one reading is off by 5 um in 140 mm, so is everything.
    for (const direction of DIRECTIONS) expect(scaleUncertainty(direction, scanner)).toBeCloseTo(3.6e-5, 5);
  });

  it.each([
    [0, false, ['ratio', 'shear', 'bends']],
    [180, false, ['ratio', 'shear', 'bends']],
    [30, false, ['ratio', 'shear', 'bends']],
    [90, false, []],
    [-90, false, []],
    [60, false, []],
    [135, false, []],
    // Upside down, one combination of skew and axes looks like the film's own, at any angle.
    [0, true, ['ratio']],
    [180, true, ['ratio']],
    [90, true, ['shear']],
    [-90, true, ['shear']],
    [45, true, ['ratio', 'shear']],
    [60, true, ['ratio', 'shear']],
  ] as const)('tells by how the films lie what stays open: turned by %d, upside down %s', (turnDeg, faceDown, open) => {
    for (const first of [0, 90]) {
      const lengths = [...scanned(first), ...scanned(first + turnDeg, faceDown)];
      const scanner = fitScanner(lengths, reference);
      expect(scanner.open).toEqual(open);
      const pictures = [0, 1].map((k) => lengths.slice(k * features.length, (k + 1) * features.length));
      const readings = readingsOfScans(features, pictures, scanner, true);
      // What is said to be told is right, and what isn't has a limit of error that holds it.
      const tight = open.length === 0 ? 2e-5 : 1;
      for (const { feature: id, readingMm = 0, gaugeLimitMm = 0 } of readings) {
        const off = Math.abs(readingMm - onFilm(features.find((one) => one.id === id)!));
        expect(off).toBeLessThan(Math.min(gaugeLimitMm, tight * readingMm));
      }
    }
    // Another film that lies in one direction tells nothing, however it lies, and both upside down are as both upright.
    const other = scanned(90).map((one) => ({ ...one, coupon: 'other' }));
    const both = [...scanned(0, true), ...scanned(turnDeg, !faceDown)];
    for (const more of [[], other]) expect(fitScanner([...both, ...more], reference).open).toEqual(open);
  });

  it('does not tell a shear from one picture that is whole and one without slanted spans', () => {
    const crop = scanned(90.6).filter(({ feature: { to } }) => to[0] === 0 || to[1] === 0);
    const scanner = fitScanner([...scanned(0.7), ...crop], reference);
    expect(scanner.open).toEqual(['shear']);
    const readings = readingsOfScans(features, [scanned(0.7), crop], scanner, true);
    expect(new Set(readings.map(({ gauge }) => gauge))).toEqual(
      new Set(['scanner spans X', 'scanner spans Y', 'scanner spans slanted']),
    );
  });

  it('takes the carriage’s jerks from how spans differ between pictures', () => {
    const plain = [...scanned(1.3), ...scanned(91)];
    // A tenth of a per mille, to and fro.
    const jerky = plain.map((one, i) => ({ ...one, lengthMm: one.lengthMm * (1 + 1e-4 * Math.cos(7 * i * i)) }));
    const skewOf = (lengths: readonly ScannedLength[]): number =>
      Math.sqrt(fitScanner(lengths, reference).covariance[2][2]);
    expect(skewOf(jerky)).toBeGreaterThan(4 * skewOf(plain));
    const { strain } = fitScanner(jerky, reference);
    expect(Math.abs(strain[2] - fitScanner(plain, reference).strain[2])).toBeLessThan(3 * skewOf(jerky));
  });

  it('leaves in slanted spans what all of them share of a right angle that few were seen twice for', () => {
    const whole = scanned(1.3);
    const crop = scanned(91).filter(({ feature: { id, to } }) => to[0] === 0 || to[1] === 0 || id === 'S21');
    const scanner = fitScanner([...whole, ...crop], reference);
    expect(scanner.open).toEqual([]);
    expect(scanner.uShear).toBeGreaterThan(1e-5);
    const slanted = readingsOfScans(features, [whole, crop], scanner, true).slice(6);
    // By least squares each of them says x y L of the shear.
    const says = slanted.map(({ readingMm = 0, uncertaintyMm = 1 }) => (0.48 * readingMm) / uncertaintyMm);
    const uShear = 1 / Math.sqrt(says.reduce((sum, one) => sum + one ** 2, 0));
    expect(uShear).toBeGreaterThan(0.99 * scanner.uShear);
    expect(uShear).toBeLessThan(1.3 * scanner.uShear);
    // Of two whole pictures the mean holds nothing of it.
    expect(fitScanner([...whole, ...scanned(91)], reference).uShear).toBeLessThan(1e-6);
  });

  it('knows what it does not know', () => {
    const unturned = fitScanner(scanned(0), reference);
    expect(unturned.reversed).toBe(false);
    expect(scaleUncertainty([1, 0], unturned)).toBeLessThan(5e-5);
    expect(scaleUncertainty([0, 1], unturned)).toBeGreaterThan(2e-3);
    const unscaled = fitScanner([...scanned(0), ...scanned(90)], []);
    expect(scaleUncertainty([1, 0], unscaled)).toBeGreaterThan(2e-3);
    // What is left open is one factor for all directions: their ratio is known.
    const ratio = (at: number): number => {
      const { lengthMm, direction, feature } = scanned(0)[at];
      return trueLength(lengthMm, direction, unscaled) / onFilm(feature);
    };
    for (const at of [3, 6, 9]) expect(ratio(at) / ratio(0)).toBeCloseTo(1, 5);
  });

  it('takes the offset of walls from one opening, and does not average out what all readings share', () => {
    const opening = (id: string, nominalMm: number): DimensionalFeature => ({
      ...features[0],
      id,
      kind: 'opening',
      nominalMm,
      to: [nominalMm, 0],
    });
    const wide = [opening('A', 1), opening('B', 2)];
    const lengths = wide.map(
      (feature): ScannedLength => ({
        coupon: 'ladder',
        feature,
        lengthMm: feature.nominalMm + 0.13,
        uMm: 0.001,
        direction: [1, 0],
      }),
    );
    const scanner = fitScanner(lengths, [{ coupon: 'ladder', feature: wide[1], readingMm: 2.1, uMm: 0.003 }], {
      walls: true,
    });
    expect(scanner.offsetMm).toBeCloseTo(-0.03, 3);
    const rows = readingsOfScans(wide, [lengths.map((one) => ({ ...one }))], scanner, true);
    expect(rows.map(({ readingMm }) => readingMm)).toEqual([expect.closeTo(1.1, 3), expect.closeTo(2.1, 3)]);
    expect(rows[0].uncertaintyMm).toBeCloseTo(0.001, 6);
    expect(rows[0].gaugeLimitMm).toBeGreaterThan(Math.sqrt(6) * 0.003);
    expect(readingsOfScans(wide, [lengths], scanner, false)).toEqual([]);
    // Where both sides differ simulated kerfs are up to 0.3 µm off: a doubt of 0.5 µm, and what the levels leave open.
    expect(fitScanner(lengths, []).uOffsetMm).toBeLessThan(0.0006);
    expect(fitScanner(lengths, [], { uToneMm: 0.0005 }).uOffsetMm).toBeGreaterThan(0.001);
  });
});

it('tells pictures of two films by openings that are wider and webs that are narrower', () => {
  const widths = [0, 1].flatMap((axis) =>
    [0.3, 0.4, 0.6, 1, 2].map((nominalMm, i): DimensionalFeature => {
      const to: [number, number] = axis === 0 ? [nominalMm, 0] : [0, nominalMm];
      return { ...features[0], id: `L${axis}${i}`, kind: i % 2 === 0 ? 'opening' : 'web', to, nominalMm };
    }),
  );
  const scanner = fitScanner([...scanned(0), ...scanned(90)], []);
  const picture = (kerfXMm: number, dirtMm = 0) =>
    widths.map((feature, i) => {
      const kerf = (feature.kind === 'opening' ? 1 : -1) * (feature.to[0] > 0 ? kerfXMm : 0.08);
      const noise = 0.0005 * Math.cos(7 * i + 1e4 * kerfXMm);
      return {
        feature,
        lengthMm: feature.nominalMm + kerf + noise + (i === 1 ? dirtMm : 0),
        uMm: 0.0005,
        direction: [1, 0] as const,
      };
    });
  expect(otherFilmMm([picture(0.1), picture(0.12)], scanner)).toBeCloseTo(0.02, 2);
  expect(otherFilmMm([picture(0.1), picture(0.1), picture(0.08)], scanner)).toBeCloseTo(0.02, 2);
  expect(otherFilmMm([picture(0.1), picture(0.103, 0.05)], scanner)).toBeUndefined();
  expect(otherFilmMm([picture(0.1)], scanner)).toBeUndefined();
});

describe('checkReferences', () => {
  const turned = [...scanned(1.3), ...scanned(91)];
  const limit = 0.02;
  const read = (at: number, slipMm: number) => ({
    coupon: 'ruler',
    feature: features[at],
    readingMm: onFilm(features[at]) + slipMm,
    uMm: limit / Math.sqrt(3),
  });
  const codes = (...slips: [at: number, slipMm: number][]): string[] =>
    checkReferences(turned, slips.map(([at, slipMm]) => read(at, slipMm)), {}).warnings.map(({ code }) => code); // biome-ignore format: one call

  it('tells of a reading that would make the scanner worse than scanners are, and refuses what none is', () => {
    // 140 mm, and the scanner is 0.15 % large and 0.12 % small.
    for (const fine of [-0.4, 0, 0.4]) expect(codes([2, fine])).toEqual([]);
    for (const slip of [-1.1, -0.6, 0.6, 1.1]) expect(codes([2, slip])).toEqual(['SCAN_REFERENCE_FAR']);
    for (const slip of [-4, 4]) expect(() => codes([2, slip])).toThrow(/S02.* % apart/);
    // Of pictures that don't say their resolution nothing is known.
    expect(checkReferences(turned, [read(2, 4)], { unsized: true }).warnings).toEqual([]);
  });

  it('takes one that is likely a slip to be as unsure as that, and two that agree for what they are', () => {
    const uOf = (...slips: [at: number, slipMm: number][]): number[] =>
      checkReferences(turned, slips.map(([at, slipMm]) => read(at, slipMm)), {}).believed.map(({ uMm }) => uMm * Math.sqrt(3)); // biome-ignore format: one call
    expect(uOf([2, 0])).toEqual([expect.closeTo(limit, 9)]);
    const slips = uOf([2, 1.1], [5, 0]);
    expect(slips[0]).toBeGreaterThan(0.8);
    expect(slips[1]).toBeCloseTo(limit, 9);
    const { believed } = checkReferences(turned, [read(2, 1.1)], {});
    const scanner = fitScanner(turned, believed, {});
    const { lengthMm, direction } = turned[2];
    const off = Math.abs(trueLength(lengthMm, direction, scanner) - onFilm(features[2]));
    expect(off).toBeLessThan(2 * lengthMm * scaleUncertainty(direction, scanner));
    const agree = uOf([2, 1.1], [1, (1.1 * onFilm(features[1])) / onFilm(features[2])]);
    expect(agree.every((mm) => mm < 2 * limit)).toBe(true);
  });

  it('says what one span alone does not show, and lets two check each other', () => {
    const { unchecked } = checkReferences(turned, [read(2, 0.4)], {});
    expect(unchecked).toEqual([expect.stringMatching(/^not checked: S02; a slip of up to 0\.7\d mm may not show/)]);
    expect(checkReferences(turned, [read(2, 0), read(5, 0)], {}).unchecked).toEqual([]);
    expect(codes([2, 0.015], [5, -0.015])).toEqual([]);
    expect(codes([2, 0.1], [5, 0])).toEqual(['SCAN_REFERENCE_FAR']);
    const { warnings } = checkReferences(turned, [read(5, 0), read(2, 0.1), read(8, 0)], {});
    expect(warnings.map(({ message }) => message)).toEqual([expect.stringMatching(/^S02 was read /)]);
  });

  it('holds an opening against what the pictures show', () => {
    const opening: DimensionalFeature = { ...features[0], id: 'A', kind: 'opening', nominalMm: 1, to: [1, 0] };
    const shown: ScannedLength = { coupon: 'ladder', feature: opening, lengthMm: 1.1, uMm: 0.001, direction: [1, 0] };
    const messages = (readingMm: number): string[] =>
      checkReferences([shown], [{ coupon: 'ladder', feature: opening, readingMm, uMm: limit / Math.sqrt(3) }], {}).warnings.map(({ message }) => message); // biome-ignore format: one call
    expect(messages(1.115)).toEqual([]);
    expect(messages(1.2)).toEqual([expect.stringContaining('A was read 1.200 mm, and the pictures show 1.100')]);
  });

  it('takes no scale from a span that no picture shows', () => {
    const lost = { ...features[2], id: 'lost' };
    expect(fitScanner(turned, [{ ...read(2, 0), feature: lost }]).scaled).toBe(false);
  });
});
