/**
 * A machine with a barrel of 0.3 mm and a belt out of round, from coupons through scans and the fit to a stencil, whose
 * places are then looked at on the same machine. Written to be run by hand: `npx tsx tests/bench/bent-bed.ts [dpi]`.
 */

import { execFileSync } from 'node:child_process';
import { mkdtemp, readFile, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Matrix, solve } from 'ml-matrix';
import sharp from 'sharp';
import { generateCoupon } from '../../src/coupon/generate.js';
import { openingCentroid } from '../../src/geometry/area.js';
import { parseProfile } from '../../src/machine/profile-file.js';
import { makeStencil } from '../../src/stencil/make-stencil.js';
import { scanFilm, type Vec } from '../scan/virtual-scanner.js';

const dpi = Number(process.argv[2] ?? 1200);
const BED = { widthMm: 120, heightMm: 90, pitchXMm: 0.0254 };
const MACHINE = { scaleX: 1.0031, scaleY: 0.9968, shear: 0.002, kerfXMm: 0.11, kerfYMm: 0.09 };
const corner = Math.hypot(60, 45);

/** Film mm to film mm: what the bed adds after the straight machine. */
function bent([x, y]: Vec): Vec {
  const [dx, dy] = [x - 60, y - 45];
  const k = (0.3 * (dx * dx + dy * dy)) / corner ** 3;
  return [x + k * dx + 0.02 * Math.sin((2 * Math.PI * x) / 31 + 1), y + k * dy];
}

const folder = await mkdtemp(join(tmpdir(), 'bent-'));
const run = (...args: string[]): string => {
  try {
    return execFileSync('node', ['bin/apertrue.js', ...args], {
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'inherit'],
    });
  } catch (error) {
    return (error as { stdout: string }).stdout;
  }
};
const features: string[] = [];
for (const name of ['field-grid', 'scale-ruler', 'aperture-ladder']) {
  const coupon = await generateCoupon(name, BED);
  await writeFile(join(folder, `${name}.features.json`), JSON.stringify(coupon.features));
  features.push(join(folder, `${name}.features.json`));
  for (const [i, turnDeg] of [1.3, 91].entries()) {
    const picture = scanFilm(
      { openings: coupon.openings, machine: MACHINE, bend: bent },
      {
        ...{
          dpi,
          blurMm: 0.025,
          turnDeg,
          film: 215,
          open: 40,
          vignette: 0.3,
          noise: 2,
          specksPerCm2: 3,
          hairsPerCm2: 3,
        },
        ...(i === 0 ? { widthMm: 128, heightMm: 97, atMm: [4, 2] } : { widthMm: 97, heightMm: 128, atMm: [94, 3] }),
        ...{ scaleX: 0.9985, scaleY: 1.0012, skew: 0.0007, seed: 11 + i },
      },
    );
    const { widthPx: width, heightPx: height, levels } = picture;
    await sharp(levels, { raw: { width, height, channels: 1 } })
      .withMetadata({ density: dpi })
      .png({ compressionLevel: 1 })
      .toFile(join(folder, `${name}-${i}.png`));
  }
}
const span = (await generateCoupon('scale-ruler', BED)).features.features[0];
const truth = (f: typeof span): number => {
  if (!('from' in f)) return 0;
  const at = ([x, y]: Vec): Vec => bent([MACHINE.scaleX * x + MACHINE.shear * y, MACHINE.scaleY * y]);
  const [p, q] = [at(f.from), at(f.to)];
  return Math.hypot(q[0] - p[0], q[1] - p[1]);
};
const began = Date.now();
console.log(
  run(
    ...['scan', join(folder, '*.png'), '--features', ...features, '--out', join(folder, 'read')],
    ...['--reference', `${span.id}=${truth(span).toFixed(3)}`],
  ),
);
console.log(`scan: ${(Date.now() - began) / 1000} s`);
const profile = join(folder, 'laser.profile.json');
for (const places of [[], [join(folder, 'read/*.places.csv')]]) {
  console.log(
    run('fit', join(folder, 'read/*.readings.csv'), ...places, '--keep-all', '--overwrite', '-o', profile, '--report'),
  );
  const parsed = await parseProfile(await readFile(profile, 'utf8'), 'p');
  const pads = Array.from({ length: 63 }, (_, n): Vec => [8 + 12.5 * (n % 9), 6 + 12.5 * Math.floor(n / 9)]);
  const artwork = pads.map(([x, y], n) => {
    const [w, h] = n % 3 === 0 ? [2, 2] : n % 3 === 1 ? [0.3, 1.4] : [1.2, 0.5];
    return {
      outer: [
        [x, y],
        [x + w, y],
        [x + w, y + h],
        [x, y + h],
      ] as Vec[],
      islands: [],
    };
  });
  const stencil = makeStencil({ openings: artwork }, parsed, {
    formats: ['svg'],
    pitchMm: { x: 0.0254, y: 0.0254 },
    canvas: { widthMm: 120, heightMm: 90 },
  });
  const { corrected, frame } = stencil.commanded;
  const film = corrected.openings.map((opening) => ({
    outer: opening.outer.map(([x, y]): Vec => {
      const [cx, cy] = [x - frame.originMm[0], y - frame.originMm[1]];
      return bent([MACHINE.scaleX * cx + MACHINE.shear * cy, MACHINE.scaleY * cy]);
    }),
    islands: [],
  }));
  const [to, from] = [artwork, film].map((all) => all.map((one) => openingCentroid(one)));
  // A shift and a turn are free: to first order x + a − t y, y + b + t x.
  const rows = new Matrix([...from.map((p) => [1, 0, -p[1]]), ...from.map((p) => [0, 1, p[0]])]);
  const off = Matrix.columnVector([...to.map(([x], i) => x - from[i][0]), ...to.map(([, y], i) => y - from[i][1])]);
  const left = Matrix.sub(off, rows.mmul(solve(rows, off))).to1DArray();
  const far = from.map((_, i) => Math.hypot(left[i], left[i + from.length]));
  const width = (ring: readonly Vec[]): number => Math.max(...ring.map(([x]) => x)) - Math.min(...ring.map(([x]) => x));
  const widths = artwork.map((one, i) => width(film[i].outer) + MACHINE.kerfXMm - width(one.outer));
  console.log(
    `places off by ${(1000 * Math.max(...far)).toFixed(1)} um at most, widths by ${(1000 * Math.max(...widths.map(Math.abs))).toFixed(1)}`,
    stencil.warnings.map(({ code }) => code),
  );
}
console.log(folder);
