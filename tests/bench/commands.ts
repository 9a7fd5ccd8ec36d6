import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { writeArtwork } from '../../src/export/write.js';
import { profileOf } from '../cli/bench.js';
import { board } from '../export/boards.js';
import { flashes } from './flashes.js';
import { greyPage } from './page.js';
import { BARE_ENV, PEAK_KB } from './peak.js';

/**
 * Whole commands, from start to end of the process, as ratios to a peer in the same run: sharp (libvips) copying the
 * same image, bare Node, and one file after the other.
 */
const A4 = { widthMm: 210.0072, heightMm: 297.0022 };
const PITCH = { x: 0.0254, y: 0.0254 };
const RUNS = 3;
const cli = fileURLToPath(new URL('../../bin/apertrue.js', import.meta.url));

function seconds(args: readonly string[]): { seconds: number; peakMb: number } {
  let least = Infinity;
  let peakMb = 0;
  for (let run = 0; run < RUNS; run += 1) {
    const start = performance.now();
    const script = `process.on('exit',()=>process.stderr.write('\\nPEAK '+${PEAK_KB}))`;
    const { stderr, status } = spawnSync(
      process.execPath,
      ['--import', `data:text/javascript,${encodeURIComponent(script)}`, ...args],
      { encoding: 'utf8', env: BARE_ENV },
    );
    if (status !== 0 && status !== 3) throw new Error(`${args.join(' ')}\n${stderr}`);
    least = Math.min(least, (performance.now() - start) / 1000);
    peakMb = Math.max(peakMb, Number(/PEAK (\d+)/.exec(stderr)?.[1] ?? 0) / 1024);
  }
  return { seconds: least, peakMb };
}

export async function main(log: (line: string) => void = console.log): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'commands-'));
  const file = (name: string): string => join(folder, name);
  try {
    writeFileSync(file('laser.json'), profileOf());
    const { openings } = board(4000, 1);
    const onA4 = openings.filter((o) =>
      o.outer.every(([x, y]) => x < A4.widthMm - 1 && y < A4.heightMm - 1 && x > 1 && y > 1),
    );
    writeFileSync(file('grey.png'), await greyPage(onA4, 8268, 11693, PITCH.x));
    writeFileSync(file('bits.png'), (await writeArtwork(onA4, { format: 'png', canvas: A4, pitchMm: PITCH })).bytes);
    writeFileSync(file('four.gbr'), flashes(4000));
    writeFileSync(file('fifty.gbr'), flashes(50_000));
    for (let i = 0; i < 20; i += 1) writeFileSync(file(`batch${i}.gbr`), flashes(4000));
    const correct = (names: readonly string[], ...more: string[]): string[] => [
      cli,
      'correct',
      ...names.map(file),
      '--profile',
      file('laser.json'),
      '--out',
      file('out'),
      '--overwrite',
      ...more,
    ];
    const copyScript = (name: string): string =>
      `import sharp from ${JSON.stringify(import.meta.resolve('sharp'))};await sharp(${JSON.stringify(file(name))},{limitInputPixels:false}).png().toFile(${JSON.stringify(file('copy.png'))})`;
    const bare = seconds(['-e', '0']);
    const help = seconds([cli, '--help']);
    log(`bare Node ${bare.seconds.toFixed(3)} s, ${bare.peakMb.toFixed(0)} MB`);
    log(`--help ${(help.seconds / bare.seconds).toFixed(2)} x bare Node (limit 2)`);
    for (const [name, limit] of [
      ['grey.png', 1],
      ['bits.png', 0.6],
    ] as const) {
      const copy = seconds(['--input-type=module', '-e', copyScript(name)]);
      const ours = seconds(correct([name]));
      log(
        `${name}: sharp copy ${copy.seconds.toFixed(2)} s; correct ${ours.seconds.toFixed(2)} s = ${(ours.seconds / copy.seconds).toFixed(2)} x (limit ${limit}), ${(ours.peakMb - bare.peakMb).toFixed(0)} MB above bare Node (limit 200)`,
      );
    }
    const four = seconds(correct(['four.gbr']));
    const fifty = seconds(correct(['fifty.gbr']));
    log(
      `Gerber: 4,000 openings ${four.seconds.toFixed(2)} s (limit 1.0), 50,000 openings ${fifty.seconds.toFixed(2)} s = ${(fifty.seconds / four.seconds / 12.5).toFixed(2)} of linear`,
    );
    const batch = Array.from({ length: 20 }, (_, i) => `batch${i}.gbr`);
    const one = seconds(correct(batch, '--jobs', '1'));
    const two = seconds(correct(batch, '--jobs', '2'));
    log(
      `20 layers: one after the other ${one.seconds.toFixed(2)} s, two at a time ${two.seconds.toFixed(2)} s = ${(one.seconds / two.seconds).toFixed(2)} x faster (aim 1.7)`,
    );
    readFileSync(file('out/four.png'));
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
