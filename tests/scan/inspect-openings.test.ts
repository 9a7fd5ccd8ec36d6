import { describe, expect, it } from 'vitest';
import { Openings } from '../../src/scan/find/places.js';
import { Scene } from '../../src/scan/find/recognise.js';
import { inspectOpenings } from '../../src/scan/inspect/inspect-openings.js';
import { opened, pathsOf } from '../truth/laser.js';
import { type Picture, scanFilm, type Vec } from './virtual-scanner.js';

const box = (x: number, y: number, w: number, h: number): Vec[] => [
  [x, y],
  [x + w, y],
  [x + w, y + h],
  [x, y + h],
];
const circle = (x: number, y: number, d: number): Vec[] =>
  Array.from({ length: 48 }, (_, k) => [
    x + (d / 2) * Math.cos((Math.PI * k) / 24),
    y + (d / 2) * Math.sin((Math.PI * k) / 24),
  ]);

/** Two rows of leads that are all alike, round pads, chips' pads, one large. */
const asked: Vec[][] = [
  ...Array.from({ length: 20 }, (_, k) => box(1 + 0.5 * (k % 10), k < 10 ? 1 : 5, 0.25, 1.2)),
  ...Array.from({ length: 4 }, (_, k) => circle(9 + 1.9 * k, 2, 1 + 0.12 * k)),
  ...Array.from({ length: 8 }, (_, k) => box(1 + 0.9 * k, 8 + (k % 2) * 1.5, 0.5, 0.55)),
  box(9, 5, 3.1, 1.4),
  box(14, 5.5, 1.1, 0.9),
];
const LEADS = 0;
const ROUND = 20;
const CHIPS = 24;
const LARGE = 32;

/** An outline with a tear that sticks out of its upper side, or a chip of film left in it (`height` below 0). */
const torn = ([a, b, c, d]: readonly Vec[], width: number, height: number): Vec[] => {
  const middle = (a[0] + b[0]) / 2;
  return [a, b, c, [middle + width / 2, c[1]], [middle, c[1] + height], [middle - width / 2, c[1]], d];
};

/** A hair, 40 µm wide, that touches a corner of the last opening and passes beside its upper side. */
function layHair({ levels, widthPx, heightPx, dotsPerMm }: Picture, turnDeg: number, [ex, ey]: Vec): void {
  const [cos, sin] = [Math.cos((turnDeg * Math.PI) / 180), Math.sin((turnDeg * Math.PI) / 180)];
  for (let at = 0; at < levels.length; at += 1) {
    const [u, v] = [(at % widthPx) + 0.5, heightPx - Math.floor(at / widthPx) - 0.5].map((px) => px / dotsPerMm.x);
    const [x, y] = [cos * (u - ex) + sin * (v - ey), cos * (v - ey) - sin * (u - ex)];
    if (x > 13.5 && x < 15.6 && Math.abs(y - 6.49 - 0.3 * (x - 14.3)) < 0.021) levels[at] *= 0.5;
  }
}

function inspect(
  cut: ReadonlyMap<number, Vec[] | undefined>,
  more: Vec[][],
  over: { turnDeg: number; seed: number },
  hair = false,
) {
  const whole = asked.map((ring, i) => (cut.has(i) ? cut.get(i) : ring));
  const outlines = [...whole.flatMap((ring) => (ring ? [ring] : [])), ...more];
  const turned = over.turnDeg > 45;
  const picture = scanFilm(
    {
      openings: outlines.map((outer) => ({ outer })),
      machine: { scaleX: 1.0003, scaleY: 0.9998, shear: 0.0002, kerfXMm: 0.01, kerfYMm: 0.006 },
    },
    {
      ...{ dpi: 1200, blurMm: 0.025, film: 215, open: 40, vignette: 0.3, noise: 2, specksPerCm2: 3, hairsPerCm2: 3 },
      ...{ scaleX: 0.9985, scaleY: 1.0012, widthMm: turned ? 13 : 20, heightMm: turned ? 20 : 13 },
      ...{ atMm: turned ? ([12, 1] as const) : ([1, 0.8] as const), ...over },
    },
  );
  if (hair) layHair(picture, over.turnDeg, turned ? [12, 1] : [1, 0.8]);
  const openings = new Openings(asked.map((outer) => ({ outer: outer.map(([x, y]) => [x, y] as const), islands: [] })));
  const scene = new Scene(picture);
  const recognised = scene.findStencil(openings, 'darker');
  if (!recognised) throw new Error('not found');
  const limits = { areaPercent: 15, sizeMm: 0.04, placeMm: 0.06 };
  const { inspected } = inspectOpenings(picture, openings, recognised, limits);
  return Object.fromEntries(inspected.flatMap(({ faults }, i) => (faults.length > 0 ? [[i, faults.join()]] : [])));
}

describe('inspectOpenings', () => {
  it.each([1.3, 91])(
    'finds no fault in a good stencil, round pads and a hair beside one too, turned by %f degrees',
    (turnDeg) => {
      expect(inspect(new Map(), [], { turnDeg, seed: 2 }, true)).toEqual({});
    },
  );

  it('finds what is wrong with single openings, and nothing else', () => {
    const chip = box(1 + 0.9 * 3, 9.5, 0.57, 0.55);
    const cut = new Map<number, Vec[] | undefined>([
      [LEADS + 4, undefined],
      [LEADS + 12, box(1 + 0.5 * 2, 5, 0.25, 0.6)],
      [ROUND + 1, circle(10.9 + 0.1, 2, 1.12)],
      [CHIPS + 3, chip],
      [LARGE, torn(asked[LARGE], 0.45, 0.4)],
      [LARGE + 1, torn(asked[LARGE + 1], 0.4, -0.35)],
    ]);
    const bridge = box(1 + 0.5 * 7 + 0.25, 1.4, 0.25, 0.3);
    // In a web of 0.25 mm: it leaves 0.09 mm of film, and is no bridge.
    const slit = box(1 + 0.5 * 6 + 0.23, 5.5, 0.18, 0.1);
    expect(inspect(cut, [bridge, slit], { turnDeg: 1.3, seed: 5 })).toEqual({
      [LEADS + 4]: 'missing',
      [LEADS + 7]: 'bridged',
      [LEADS + 8]: 'bridged',
      [LEADS + 12]: 'partly closed',
      [ROUND + 1]: 'out of place',
      [CHIPS + 3]: 'too large',
      [LEADS + 16]: 'torn',
      [LARGE]: 'torn',
      [LARGE + 1]: 'partly closed',
    });
  });

  it('measures tips against what the beam makes of them: an arc, not a point', () => {
    const spear = (x: number, y: number): Vec[] => [[x, y], [x + 1, y], [x + 1, y + 0.7], [x + 0.5, y + 1.5], [x, y + 0.7]]; // biome-ignore format: one line
    const all = [...asked.slice(0, LARGE), spear(9, 5), spear(11.2, 5), spear(13.4, 5.2)];
    const kerf = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.14, kerfYMm: 0.11 };
    const regions = all.map((outer) => ({ outer: outer.map(([x, y]) => [x, y] as const), islands: [] }));
    const asCut = regions.map((region) => opened(pathsOf([region]), kerf).map((outer) => ({ outer, islands: [] })));
    const picture = scanFilm(
      { openings: asCut.flat(), machine: { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0, kerfYMm: 0 } },
      { ...{ dpi: 1200, blurMm: 0.025, film: 215, open: 40, vignette: 0.3, noise: 2, specksPerCm2: 0, hairsPerCm2: 0 }, ...{ scaleX: 1, scaleY: 1, widthMm: 20, heightMm: 13, atMm: [1, 0.8] as const, turnDeg: 1.3, seed: 9 } }, // biome-ignore format: a scan
    );
    const openings = new Openings(regions);
    const scene = new Scene(picture);
    const recognised = scene.findStencil(openings, 'darker');
    if (!recognised) throw new Error('not found');
    const limits = { areaPercent: 15, sizeMm: 0.04, placeMm: 0.06 };
    const { inspected } = inspectOpenings(picture, openings, recognised, limits, { asCut });
    for (const { faults, widthMm, heightMm } of inspected.slice(LARGE)) {
      expect(faults).toEqual([]);
      const outer = asCut[LARGE].flatMap((piece) => piece.outer);
      expect(Math.abs((heightMm ?? 0) - Math.max(...outer.map(([, y]) => y)) + 5)).toBeLessThan(0.012);
      expect(Math.abs((widthMm ?? 0) - 1)).toBeLessThan(0.012);
    }
  });

  it('does not take one lead of a row for the next', () => {
    // Leads that are missing at both ends of a row leave it as likely one pitch farther on.
    const cut = new Map<number, undefined>([9, 19, 0, 10].map((lead) => [lead, undefined]));
    const faults = inspect(cut, [], { turnDeg: 91, seed: 7 });
    expect(faults).toEqual({ 0: 'missing', 9: 'missing', 10: 'missing', 19: 'missing' });
  });
});
