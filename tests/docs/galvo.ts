import { mkdir, readFile } from 'node:fs/promises';
import sharp from 'sharp';
import { readArtwork } from '../../src/artwork/read.js';
import { type Feature, isForJaws } from '../../src/coupon/features.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import { parseFeatures } from '../../src/coupon/parse-features.js';
import { parseProfile } from '../../src/machine/profile-file.js';
import { makeStencil } from '../../src/stencil/make-stencil.js';
import { scanFilm, type Vec } from '../scan/virtual-scanner.js';
import { gaussian, seeded } from '../virtual-laser/random.js';
import { type Acts, deskOf } from './desk.js';
import type { Desk } from './fill-page.js';

/** The invented galvo: a straight machine, and a barrel of 0.25 mm at the corners of its bed. */
const HIDDEN = { scaleX: 0.9972, scaleY: 1.0043, shear: -0.0012, kerfXMm: 0.062, kerfYMm: 0.058 };
const BED = { widthMm: 110, heightMm: 80, pitchXMm: 0.0254 };
const MIDDLE: Vec = [55, 40];
const BARREL_MM = 0.25;
const SCAN = { dpi: 600, blurMm: 0.025, film: 215, open: 40, vignette: 0.2, noise: 2, specksPerCm2: 1, hairsPerCm2: 1 };

function bent([x, y]: Vec): Vec {
  const [dx, dy] = [x - MIDDLE[0], y - MIDDLE[1]];
  const k = (BARREL_MM * (dx * dx + dy * dy)) / Math.hypot(...MIDDLE) ** 3;
  return [x + k * dx, y + k * dy];
}
const lands = ([x, y]: Vec): Vec => bent([HIDDEN.scaleX * x + HIDDEN.shear * y, HIDDEN.scaleY * y]);

/** What is there to read, without noise; undefined where there is no length. */
function lengthMm(feature: Feature): number | undefined {
  if (!('from' in feature)) return undefined;
  const [[px, py], [qx, qy]] = [lands(feature.from), lands(feature.to)];
  const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
  const kerf = Math.hypot(HIDDEN.kerfXMm * dx, HIDDEN.kerfYMm * dy) / Math.hypot(dx, dy);
  return Math.hypot(qx - px, qy - py) + (feature.kind === 'opening' ? kerf : feature.kind === 'web' ? -kerf : 0);
}

/** The galvo, and a person with a loupe of 0.05 mm, an inch caliper and a flatbed scanner. */
export function galvo(more: Acts): Desk {
  const features = new Map<string, Feature>();
  const random = seeded(11);
  const hand = (id: string): string => {
    const feature = features.get(id);
    const power = /^GP(\d+)/.exec(id)?.[1];
    if (power) return Number(power) < 15 ? 'u' : Number(power) < 25 ? 'p' : Number(power) < 55 ? 't' : 'm';
    const length = feature && lengthMm(feature);
    if (!feature || length === undefined) return 's';
    const noisy = length + (feature.kind === 'span' ? 0.008 : 0.015) * gaussian(random);
    if (noisy < 0.02) return feature.kind === 'web' ? 'g' : 'c';
    const isByCaliper = feature.kind === 'span' || isForJaws(feature);
    return isByCaliper
      ? (Math.round(noisy / 0.0127) * 0.0005).toFixed(4)
      : (Math.round(noisy / 0.05) * 0.05).toFixed(2);
  };
  return deskOf(hand, {
    ...more,
    async cut(coupon) {
      const path = `stencils/${coupon}.features.json`;
      for (const one of parseFeatures(await readFile(path, 'utf8'), path).features) features.set(one.id, one);
      return undefined;
    },
    async scan(coupon) {
      await mkdir('scans', { recursive: true });
      const { openings } = await generateCoupon(coupon, BED);
      for (const [i, turnDeg] of [1.3, 91].entries()) {
        const laid = i === 0 ? { widthMm: 120, heightMm: 90, atMm: [5, 3] as Vec } : { widthMm: 90, heightMm: 120, atMm: [84, 4] as Vec }; // biome-ignore format: one line
        const own = { scaleX: 0.9987, scaleY: 1.001, skew: 0.0005, seed: 3 + i };
        const picture = scanFilm({ openings, machine: HIDDEN, bend: bent }, { ...SCAN, ...laid, ...own, turnDeg });
        await sharp(picture.levels, { raw: { width: picture.widthPx, height: picture.heightPx, channels: 1 } })
          .withMetadata({ density: SCAN.dpi })
          .png({ compressionLevel: 1 })
          .toFile(`scans/${coupon}-${i + 1}.png`);
      }
      return undefined;
    },
    /** How far openings lie from where they belong, once the film is shifted and turned to the board. */
    async measure(board, ...profiles) {
      const artwork = await readArtwork(await readFile(`${board}.gbr`));
      const rows = await Promise.all(
        profiles.map(async (path) => {
          const profile = await parseProfile(await readFile(path, 'utf8'), path);
          const canvas = { widthMm: BED.widthMm, heightMm: BED.heightMm };
          const { corrected, frame } = makeStencil(artwork, profile, { formats: ['svg'], canvas }).commanded;
          const [x0, y0] = frame.originMm;
          const cut = corrected.openings.map(({ outer }) => middleOf(outer.map(([x, y]) => lands([x - x0, y - y0]))));
          const off = worstMm(
            cut,
            artwork.openings.map(({ outer }) => middleOf(outer)),
          );
          return `${path.padEnd(28)} places off by ${Math.round(1000 * off)} µm at most`;
        }),
      );
      return rows.join('\n');
    },
  });
}

function middleOf(ring: readonly Vec[]): Vec {
  const [xs, ys] = [ring.map(([x]) => x), ring.map(([, y]) => y)];
  return [(Math.min(...xs) + Math.max(...xs)) / 2, (Math.min(...ys) + Math.max(...ys)) / 2];
}

/** The largest distance after the best shift and turn (Procrustes without scale). */
function worstMm(cut: readonly Vec[], asked: readonly Vec[]): number {
  const mean = (points: readonly Vec[]): Vec =>
    [0, 1].map((k) => points.reduce((sum, p) => sum + p[k], 0) / points.length) as unknown as Vec;
  const [c, a] = [mean(cut), mean(asked)];
  const pairs = cut.map((p, i) => [p[0] - c[0], p[1] - c[1], asked[i][0] - a[0], asked[i][1] - a[1]]);
  const dot = pairs.reduce((sum, [px, py, qx, qy]) => sum + px * qx + py * qy, 0);
  const cross = pairs.reduce((sum, [px, py, qx, qy]) => sum + px * qy - py * qx, 0);
  const [cos, sin] = [dot / Math.hypot(dot, cross), cross / Math.hypot(dot, cross)];
  return Math.max(...pairs.map(([px, py, qx, qy]) => Math.hypot(cos * px - sin * py - qx, sin * px + cos * py - qy)));
}
