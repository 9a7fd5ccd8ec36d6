/*
 * Runs the tests and the demo on each version of Node.js that the README names, and compares the demo's files byte for
 * byte. The versions come from the package registry, which carries Node.js for each platform as a package.
 *
 *   npm run nodes            all of them, tests included
 *   npm run nodes -- --demo  the demo's files only
 */
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';

const MAJORS = [20, 22, 24];
const root = fileURLToPath(new URL('../../', import.meta.url));
const demoOnly = process.argv.includes('--demo');
const folder = mkdtempSync(join(tmpdir(), 'apertrue-nodes-'));

/** A Node.js of this major version, unpacked into a folder that goes away again. */
function nodeOf(major: number): string {
  const platform = process.platform === 'win32' ? 'win' : process.platform;
  const name = `node-${platform}-${process.arch}`;
  const prefix = join(folder, String(major));
  execFileSync(
    'npm',
    ['install', '--silent', '--no-save', '--ignore-scripts', '--prefix', prefix, `${name}@${major}`],
    {
      stdio: 'inherit',
    },
  );
  return join(prefix, 'node_modules', name, 'bin', process.platform === 'win32' ? 'node.exe' : 'node');
}

function hashesOf(results: string): Map<string, string> {
  const files = readdirSync(results, { recursive: true, withFileTypes: true }).filter((entry) => entry.isFile());
  const hash = (path: string): string => createHash('sha256').update(readFileSync(path)).digest('hex');
  return new Map(
    files.map(({ parentPath, name }) => join(parentPath, name)).map((path) => [relative(results, path), hash(path)]),
  );
}

let failed = false;
let first: Map<string, string> | undefined;
try {
  for (const major of MAJORS) {
    const node = nodeOf(major);
    const version = execFileSync(node, ['--version'], { encoding: 'utf8' }).trim();
    if (!demoOnly) {
      execFileSync(node, ['node_modules/vitest/vitest.mjs', 'run', '--reporter=dot'], { cwd: root, stdio: 'inherit' });
    }
    execFileSync(node, ['--import', 'tsx', 'tests/demo/run.ts'], { cwd: root, stdio: 'ignore' });
    const hashes = hashesOf(join(root, 'demo-results'));
    first ??= hashes;
    const other = [...hashes].filter(([name, hash]) => first?.get(name) !== hash).map(([name]) => name);
    failed ||= other.length > 0 || hashes.size !== first.size;
    console.log(
      `${version}: ${hashes.size} files of the demo, ${other.length === 0 ? 'the same to the byte' : `others: ${other.join(', ')}`}`,
    );
  }
} finally {
  rmSync(folder, { recursive: true, force: true });
}
process.exitCode = failed ? 1 : 0;
