import { spawn } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';

const source = (name: string): string => fileURLToPath(new URL(`../../src/cli/${name}`, import.meta.url));

/** Writes large files, one after the other, until it is stopped. */
const WRITER = `
import { processIo } from ${JSON.stringify(source('io.ts'))};
import { stopOnSignals } from ${JSON.stringify(source('write-together.ts'))};
stopOnSignals();
const bytes = new Uint8Array(48e6);
for (let i = 0; ; i += 1) await processIo().writeFiles([{ path: process.argv[2] + '/' + i % 3 + '.bin', bytes }], { overwrite: true });
`;

it.runIf(process.platform !== 'win32').each([
  ['SIGINT', 130],
  ['SIGTERM', 143],
] as const)('%s in the middle of a file leaves no half of it, and ends with %i', async (signal, expected) => {
  const folder = mkdtempSync(join(tmpdir(), 'stopped-'));
  const script = join(folder, 'writer.mts');
  writeFileSync(script, WRITER);
  const tsx = import.meta.resolve('tsx');
  const child = spawn(process.execPath, ['--import', tsx, script, folder], { stdio: ['ignore', 'ignore', 'pipe'] });
  let said = '';
  child.stderr.on('data', (text) => {
    said += text;
  });
  const ended = new Promise<number | null>((resolve) => child.on('exit', resolve));
  const isHalf = (name: string): boolean => name.endsWith('.part');
  const watch = setInterval(() => {
    if (!readdirSync(folder).some(isHalf)) return;
    // Once: the second signal ends a process that has not come to its first one yet.
    clearInterval(watch);
    child.kill(signal);
  }, 5);
  expect([await ended, said]).toEqual([expected, expect.stringContaining('stopped')]);
  expect(readdirSync(folder).filter(isHalf)).toEqual([]);
  rmSync(folder, { recursive: true, force: true });
});
