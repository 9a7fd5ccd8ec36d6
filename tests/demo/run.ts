/**
 * The main job from end to end, as `npm run demo`: an invented board, an invented laser with hidden errors.
 * The laser is simulated; everything else is what a user would run.
 */
import { spawnSync } from 'node:child_process';
import { mkdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { readArtwork } from '../../src/artwork/read.js';
import { writeArtwork } from '../../src/export/write.js';
import { openingCentroid } from '../../src/geometry/area.js';
import { boundsOf } from '../../src/geometry/bounds.js';
import { correctOpenings } from '../../src/machine/correct-openings.js';
import { parseProfile } from '../../src/machine/profile-file.js';
import { burnImage, cutAndRead, targetsOf } from '../virtual-laser/bench-day.js';
import { measureStencil, type StencilErrors } from '../virtual-laser/measure-stencil.js';
import { seeded } from '../virtual-laser/random.js';

const root = fileURLToPath(new URL('../../', import.meta.url));
const results = join(root, 'demo-results');
const bench = join(results, '1-bench');
const board = join(root, 'patterns/demo/brook-logger-paste-top.gbr');
const profilePath = join(results, '2-desk-laser.profile.json');

/** The invented machine: nobody but the simulation below looks at these numbers. */
const HIDDEN = { scaleX: 1.0061, scaleY: 0.9948, shear: 0.0027, kerfXMm: 0.138, kerfYMm: 0.112 };
const GAUGE = { noiseMm: 0.005, resolutionMm: 0.01 };
const PITCH = { x: 0.0254, y: 0.0254 };

const say = (text: string): void => void process.stdout.write(`${text}\n`);

function apertrue(...args: string[]): void {
  const shown = args.map((arg) => (arg.startsWith(root) ? relative(root, arg) : arg));
  say(`\n$ apertrue ${shown.join(' ')}`);
  const { status, stdout, stderr } = spawnSync(process.execPath, [join(root, 'bin/apertrue.js'), ...shown], {
    cwd: root,
    encoding: 'utf8',
  });
  say(`${stdout}${stderr}`.trimEnd());
  if (status !== 0 && status !== 3) throw new Error(`apertrue ${args[0]} ended with exit code ${status}`);
}

/** The stencil as it would have been cut before: the openings filled in an image at true size, nothing corrected. */
async function measureUncorrected(): Promise<StencilErrors> {
  const { openings } = await readArtwork(await readFile(board));
  const box = boundsOf(openings);
  if (!box) throw new Error('the demo board holds no openings');
  const originMm: [number, number] = [box.minX - 2, box.minY - 2];
  const { bytes } = await writeArtwork(openings, {
    format: 'png',
    canvas: { widthMm: box.maxX - box.minX + 4, heightMm: box.maxY - box.minY + 4 },
    originMm,
    pitchMm: PITCH,
  });
  await writeFile(join(results, 'uncorrected.png'), bytes);
  const film = await burnImage(bytes, HIDDEN, PITCH);
  return measureStencil(film, targetsOf(openings, openings.map(openingCentroid), originMm));
}

async function measureCorrected(): Promise<StencilErrors> {
  const { openings } = await readArtwork(await readFile(board));
  const profile = await parseProfile(await readFile(profilePath, 'utf8'), 'profile');
  const { openings: told } = correctOpenings(openings, profile);
  const job = JSON.parse(await readFile(join(results, '3-stencils/brook-logger-paste-top.job.json'), 'utf8'));
  const film = await burnImage(await readFile(join(results, '3-stencils/brook-logger-paste-top.png')), HIDDEN, PITCH);
  return measureStencil(film, targetsOf(openings, told.map(openingCentroid), job.canvas.originMm));
}

function table(before: StencilErrors, after: StencilErrors): string {
  const um = (mm: number): string => (mm * 1000).toFixed(1).padStart(14);
  const rows: [string, (e: StencilErrors) => string][] = [
    ['openings found / not cut', (e) => `${e.measured} / ${e.missing}`.padStart(14)],
    ['openings run together', (e) => String(e.merged).padStart(14)],
    ['width error, root mean square, µm', (e) => um(e.rmsWidthMm)],
    ['width error, mean (+ is too wide), µm', (e) => um(e.meanWidthMm)],
    ['width error, largest, µm', (e) => um(e.maxWidthMm)],
    ['place error, root mean square, µm', (e) => um(e.rmsPositionMm)],
    ['place error, largest, µm', (e) => um(e.maxPositionMm)],
  ];
  const head = `${''.padEnd(40)}${'before'.padStart(14)}${'after'.padStart(14)}`;
  return [head, ...rows.map(([label, pick]) => `${label.padEnd(40)}${pick(before)}${pick(after)}`)].join('\n');
}

await rm(results, { recursive: true, force: true });
await mkdir(results, { recursive: true });
say('THE LASER IN THIS DEMO IS SIMULATED: a program burns the images with errors that only it knows, and reads the');
say('coupons with a gauge of 0.01 mm steps and 5 µm of noise. The board is invented. All else is the real thing.');
apertrue(
  'coupon',
  'power-speed-grid',
  '--width-mm',
  '100',
  '--height-mm',
  '80',
  '--pitch-mm',
  '0.0254',
  '--power-steps',
  '30,45,60,75',
  '--speeds',
  '60,100,150',
  '--out',
  join(bench, 'power'),
);
apertrue(
  'coupon',
  'scale-ruler',
  'aperture-ladder',
  '--width-mm',
  '150',
  '--height-mm',
  '100',
  '--pitch-mm',
  '0.0254',
  '--out',
  bench,
);
say('\n(simulated: cutting both coupons, reading them, filling in the readings files)');
const random = seeded(20);
for (const coupon of ['scale-ruler', 'aperture-ladder']) {
  say(`  ${coupon}: ${await cutAndRead(bench, coupon, HIDDEN, GAUGE, random)} features read`);
}
apertrue(
  'fit',
  join(bench, 'scale-ruler.readings.csv'),
  join(bench, 'aperture-ladder.readings.csv'),
  '--machine',
  'simulated desk laser',
  '--film',
  'pet',
  '--thickness-mm',
  '0.1',
  '--power-percent',
  '45',
  '--speed-mm-s',
  '100',
  '--out',
  profilePath,
);
apertrue(
  'correct',
  board,
  '--profile',
  profilePath,
  '--format',
  'png,bmp,svg,pdf',
  '--out',
  join(results, '3-stencils'),
);
apertrue('predict', board, '--profile', profilePath, '--out', join(results, '4-look'));
say('\n(simulated: cutting the stencil before and after correction, and measuring it under a perfect microscope)\n');
say(table(await measureUncorrected(), await measureCorrected()));
say(
  `\nThe machine was simulated with scales ${HIDDEN.scaleX} and ${HIDDEN.scaleY}, shear ${HIDDEN.shear}, kerf ${HIDDEN.kerfXMm} x ${HIDDEN.kerfYMm} mm.`,
);
say(`Look at what was made in ${relative(process.cwd(), results) || '.'}/`);
