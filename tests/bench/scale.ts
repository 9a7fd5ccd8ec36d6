import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { profileOf } from '../cli/bench.js';
import { flashes } from './flashes.js';
import { BARE_ENV, PEAK_KB } from './peak.js';

const COUNTS = [4000, 16_000, 64_000];
const COMMANDS: Readonly<Record<string, readonly string[]>> = {
  correct: ['--profile', 'laser.json'],
  predict: ['--profile', 'laser.json'],
  layout: ['--profile', 'laser.json'],
  check: ['--thickness-mm', '0.1'],
  treat: ['--thickness-mm', '0.1'],
  number: [],
};
const cli = fileURLToPath(new URL('../../bin/apertrue.js', import.meta.url));

/**
 * How each command grows with the openings: processor time and memory of the whole process, beside bare Node and
 * `correct` in the same run. Time on the processor, for a busy machine stretches all other time.
 *
 * @param names - commands to run (default: all), and numbers for how many openings (default: 4,000, 16,000 and 64,000)
 */
export async function main(log: (line: string) => void = console.log, names: readonly string[] = []): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'scale-'));
  const asked = names.filter((name) => name in COMMANDS);
  const numbers = names.map(Number).filter((n) => n > 0);
  const counts = numbers.length > 0 ? numbers : COUNTS;
  try {
    writeFileSync(join(folder, 'laser.json'), profileOf());
    for (const count of counts) writeFileSync(join(folder, `${count}.gbr`), flashes(count));
    const bare = cost(folder, ['-e', '0']);
    log(`bare Node ${bare.seconds.toFixed(2)} s, ${bare.peakMb.toFixed(0)} MB; limits at 64,000: 6 s and 1000 MB`);
    const corrects = new Map<number, number>();
    for (const command of asked.length > 0
      ? ['correct', ...asked.filter((name) => name !== 'correct')]
      : Object.keys(COMMANDS)) {
      let first: number | undefined;
      for (const count of counts) {
        const args = [cli, command, `${count}.gbr`, ...COMMANDS[command], '--out', command];
        const { seconds, peakMb } = cost(folder, args);
        if (command === 'correct') corrects.set(count, seconds);
        first ??= seconds;
        const linear = (seconds / first / (count / counts[0])).toFixed(2);
        const ratio = (seconds / (corrects.get(count) ?? seconds)).toFixed(2);
        log(
          `${command.padEnd(8)} ${String(count).padStart(6)}: ${seconds.toFixed(2)} s, ${peakMb.toFixed(0)} MB; ${linear} of linear (limit 1.2), ${ratio} x correct`,
        );
      }
    }
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function cost(folder: string, args: readonly string[]): { seconds: number; peakMb: number } {
  const told = `const u=process.cpuUsage();process.stderr.write('\\nCOST '+(u.user+u.system)/1e6+' '+${PEAK_KB})`;
  const atEnd = `data:text/javascript,${encodeURIComponent(`process.on('exit',()=>{${told}})`)}`;
  const { stderr, status } = spawnSync(process.execPath, ['--import', atEnd, ...args], {
    cwd: folder,
    env: BARE_ENV,
    encoding: 'utf8',
    maxBuffer: 1 << 28,
  });
  const [, seconds, peakKb] = /COST (\S+) (\d+)/.exec(stderr ?? '') ?? [];
  if ((status !== 0 && status !== 3) || seconds === undefined) throw new Error(`${args.join(' ')}\n${stderr}`);
  return { seconds: Number(seconds), peakMb: Number(peakKb) / 1024 };
}
