import { cpSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { zipSync } from 'fflate';
import sharp from 'sharp';
import { beforeAll, describe, expect, it } from 'vitest';
import { COMMANDS } from '../../src/cli/main.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import { wordsOf, wrongWith } from '../docs/command-lines.js';
import { readAll } from '../fit/calibration/virtual-bench.js';
import { seeded } from '../virtual-laser/random.js';
import { bench, layer, profileOf } from './bench.js';

/** Need pictures of a scanner: `scan.test.ts` makes such pictures and runs these commands on them; here they are parsed. */
const WITH_SCANNER = ['scan', 'inspect'];
const before = process.cwd();
const desk = bench({}, { once: true });

const csv = (rows: readonly { feature: string; readingMm?: number; outcome?: string }[]): string =>
  ['feature,reading_mm,outcome', ...rows.map((r) => `${r.feature},${r.readingMm ?? ''},${r.outcome ?? ''}`)].join('\n');

async function putCoupons(): Promise<void> {
  const bed = { widthMm: 60, heightMm: 40, pitchXMm: 0.05 };
  for (const name of ['scale-ruler', 'aperture-ladder', 'witness']) {
    const { features } = await generateCoupon(name, name === 'witness' ? { ...bed, widthMm: 12, heightMm: 12 } : bed);
    const lengths = features.features.filter((feature) => 'nominalMm' in feature);
    // Readings that scatter by a step of the gauge: a coarser one takes a fit that is slower, and has tests of its own.
    const loupe = () => ({ noiseMm: 0.01, resolutionMm: 0.01 });
    const machine = [1.004, 0.997, 0.002, 0.13, 0.11] as const;
    const readings = readAll(lengths as Parameters<typeof readAll>[0], [...machine], seeded(4), loupe);
    const folder = name === 'witness' ? '' : 'bench/';
    desk.put(`${folder}${name}.features.json`, JSON.stringify(features));
    const rows = readings.map((one) => (one.readingMm !== undefined && one.readingMm < 0.02 ? { ...one, readingMm: undefined, outcome: 'gone' } : one)); // biome-ignore format: one line
    desk.put(`${folder}${name}.readings.csv`, csv(rows));
  }
  const { features } = await generateCoupon('power-speed-grid', {
    ...bed,
    powersPercent: [20, 40, 60, 80],
    speedsMmS: [50, 100, 200],
  });
  const rows = features.features.map((cell) => {
    const energy = 'powerPercent' in cell ? cell.powerPercent / cell.speedMmS : 0;
    return { feature: cell.id, outcome: energy < 0.3 ? 'uncut' : energy > 1 ? 'marked' : 'through' };
  });
  for (const stem of ['bench/power-speed-grid', 'bench/grid-1', 'grid']) {
    desk.put(`${stem}.features.json`, JSON.stringify(features));
    desk.put(`${stem}.readings.csv`, csv(rows));
  }
}

/** All files that the examples name. */
beforeAll(async () => {
  const { put } = desk;
  for (const name of ['board-paste', 'board', 'a', 'b', 'jobs/one', 'jobs/two']) put(`${name}.gbr`, layer());
  put('fab.zip', zipSync({ 'board-paste-top.gbr': Buffer.from(layer()) }));
  put('edge.gbr', '%TF.FileFunction,Profile,NP*%%FSLAX46Y46*%%MOMM*%%ADD10C,0.1*%D10*X-4000000Y-4000000D02*X40000000D01*Y36000000D01*X-4000000D01*Y-4000000D01*M02*\n'); // biome-ignore format: one file
  put('board.drl', 'M48\nMETRIC\nT1C3.2\n%\nT1\nX0.0Y30.0\nX36.0Y30.0\nM30\n');
  const svg = '<svg xmlns="http://www.w3.org/2000/svg" width="400" height="300"><rect width="400" height="300" fill="#fff"/><path d="M50 50h30v60h-30zM200 80h30v60h-30zM120 200h60v40h-60z"/></svg>'; // biome-ignore format: one file
  const picture = await sharp(Buffer.from(svg)).png().toBuffer();
  for (const name of ['scan.png', 'scan-of-artwork.png']) put(name, picture);
  put('my-limits.json', readFileSync(join(before, 'patterns/limits.json')));
  put('coupon-mine.json', readFileSync(join(before, 'patterns/witness.json')));
  put('treat-mine.json', readFileSync(join(before, 'patterns/rules/fine-pitch-thin-film.json')));
  await putCoupons();
  const { code, said } = await desk.run(
    `fit bench/*.readings.csv --film pet --thickness-mm 0.1 --date 2031-01-09 --power-percent 45 --speed-mm-s 100 -o laser.profile.json`,
  );
  expect([[0, 3].includes(code), said]).toEqual([true, expect.stringContaining('wrote')]);
  const profile = desk.json('laser.profile.json');
  put('old.json', JSON.stringify(profile));
  // Coarse dots: what the examples say does not hang on them, and fine ones take most of the time.
  profile.pitchMm = { x: 0.1, y: 0.1 };
  for (const name of ['laser', 'desk-laser.profile', 'january.profile', 'profiles/june.profile']) put(`${name}.json`, JSON.stringify(profile)); // biome-ignore format: one line
  put('june.profile.json', JSON.stringify(profile).replaceAll('2031-01-09', '2031-06-02'));
  rmSync('laser.profile.json');
  put('profiles/january.profile.json', JSON.stringify(profile).replaceAll('2031-01-09', '2031-02-02'));
  for (const [k, name] of ['slow', 'middle', 'fast'].entries()) {
    const powerPercent = 30 + 20 * k;
    const kerfMm = Math.sqrt(2 * 0.09 ** 2 * Math.log(powerPercent / 15));
    const ladder = profileOf(
      { kerfXMm: kerfMm, kerfYMm: kerfMm },
      { settings: { powerPercent, speedMmS: 90, passes: 1 } },
    );
    put(`${name}.profile.json`, ladder);
    put(`ladders/${name}.profile.json`, ladder);
  }
});

async function examplesOf(name: string): Promise<string[][]> {
  const { out } = await desk.type([name, '--help']);
  const lines = out
    .slice(out.indexOf('Examples:'))
    .split(/\n\n/)[0]
    .matchAll(/^ {2}apertrue (.*)$/gm);
  return [...lines].map(([, line]) => wordsOf(line));
}

/** What a person answers where the options leave a question. */
const answersTo = (args: readonly string[]): string[] =>
  Object.entries({
    '--machine': 'my laser',
    '--bed-mm': '150x100',
    '--format': 'png',
    '--dpi': '1000',
    '--film': 'pet',
    '--thickness-mm': '0.1',
    '--gauge': 'caliper 0.01',
  }).flatMap(([flag, answer]) => (args.includes(flag) ? [] : [answer]));

describe('every example of the help', () => {
  it.each(COMMANDS.map(({ name }) => name).filter((name) => !WITH_SCANNER.includes(name)))(
    'of %s does what it says',
    async (name) => {
      for (const args of await examplesOf(name)) {
        const folder = mkdtempSync(join(tmpdir(), 'example-'));
        cpSync(desk.folder, folder, { recursive: true });
        process.chdir(folder);
        if (name === 'coupon') rmSync('bench', { recursive: true });
        if (name === 'coupon' || name === 'treat') cpSync(`${name}-mine.json`, 'mine.json');
        // The profile that commands take, unless it is what the example makes.
        if (name !== 'fit') cpSync('laser.json', 'laser.profile.json');
        if (name === 'enter') desk.put('apertrue.json', '{"format":"apertrue-project","version":1,"out":"bench"}');
        const { code, said } = await desk.type(args, name === 'start' ? answersTo(args) : []);

        process.chdir(desk.folder);
        rmSync(folder, { recursive: true, force: true });
        expect([args.join(' '), [0, 3].includes(code) ? 'done' : said]).toEqual([args.join(' '), 'done']);
      }
    },
  );

  it.each(WITH_SCANNER)('of %s is a command line that can be read', async (name) => {
    for (const args of await examplesOf(name)) expect(await wrongWith(args)).toBeUndefined();
  });
});
