/**
 * What pictures of a whole sheet of A4 cost: four at 1200 dpi, and one at 2400, each with two coupons of 190 x 130 mm.
 * Run by hand: `npx tsx tests/bench/big-scan.ts [2400]`; it takes minutes, most of them to draw the pictures.
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { generateCoupon } from '../../src/coupon/generate.js';
import { scanFilm, type Vec } from '../scan/virtual-scanner.js';

const fine = process.argv.includes('2400');
const folder = mkdtempSync(join(tmpdir(), 'big-'));
const bed = { widthMm: 190, heightMm: 130, pitchXMm: 0.0254 };
const machine = { scaleX: 1.0031, scaleY: 0.9968, shear: 0.002, kerfXMm: 0.11, kerfYMm: 0.09 };
const coupons = await Promise.all(['scale-ruler', 'aperture-ladder'].map((name) => generateCoupon(name, bed)));
const features = coupons.map((coupon) => {
  const path = join(folder, `${coupon.name}.features.json`);
  writeFileSync(path, JSON.stringify(coupon.features));
  return path;
});
const openings = coupons.flatMap(({ openings: own }, i) =>
  own.map(({ outer }) => ({ outer: outer.map(([x, y]): Vec => [x, y + 140 * i]) })),
);
const scans = [
  { turnDeg: 1.3, atMm: [14, 6] as const },
  { turnDeg: 181, atMm: [200, 286] as const },
];
const files: string[] = [];
for (const [i, lies] of (fine ? scans.slice(0, 1) : scans).entries()) {
  const { widthPx, heightPx, levels } = scanFilm(
    { openings, machine },
    {
      ...{ dpi: 1200, widthMm: 210, heightMm: 297, blurMm: 0.025, film: 215, open: 40, vignette: 0.3, noise: 2 },
      ...{ specksPerCm2: 3, hairsPerCm2: 1, scaleX: 0.9985, scaleY: 1.0012, seed: i + 1, ...lies },
    },
  );
  const drawn = sharp(levels, { raw: { width: widthPx, height: heightPx, channels: 1 }, limitInputPixels: false });
  const whole = fine ? drawn.resize(2 * widthPx, 2 * heightPx, { kernel: 'cubic' }) : drawn;
  for (const copy of fine ? ['a'] : ['a', 'b']) {
    const file = join(folder, `sheet-${i}${copy}.png`);
    const image = files.length % 2 === 1 ? sharp(files[files.length - 1], { limitInputPixels: false }) : whole;
    await image
      .withMetadata({ density: fine ? 2400 : 1200 })
      .png({ compressionLevel: 1 })
      .toFile(file);
    files.push(file);
  }
}
const args = ['bin/apertrue.js', 'scan', ...files, '--features', ...features, '--out', join(folder, 'read')];
const began = Date.now();
const { stdout, stderr } = spawnSync('/usr/bin/env', ['time', '-v', 'node', ...args], { encoding: 'utf8' });
console.log(
  stdout,
  stderr
    .split('\n')
    .filter((line) => /error|Maximum resident|User time|System time/.test(line))
    .join('\n'),
);
console.log(
  `${files.length} pictures at ${fine ? 2400 : 1200} dpi: ${((Date.now() - began) / 1000).toFixed(1)} s by the clock`,
);
rmSync(folder, { recursive: true });
