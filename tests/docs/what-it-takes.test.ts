import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';

const root = fileURLToPath(new URL('../../', import.meta.url));
const textOf = (name: string): string => readFileSync(join(root, name), 'utf8');

/** Bytes of all files of a package, but not those of packages within it, which the lock file names by themselves. */
function bytesOf(folder: string): number {
  return readdirSync(folder, { withFileTypes: true }).reduce((sum, entry) => {
    if (entry.name === 'node_modules') return sum;
    const path = join(folder, entry.name);
    return sum + (entry.isDirectory() ? bytesOf(path) : statSync(path).size);
  }, 0);
}

/** Packages that a user gets: those of the lock file that are no tools of ours and made for this platform. */
function packagesOfUsers(): string[] {
  const { packages } = JSON.parse(textOf('package-lock.json')) as { packages: Record<string, { dev?: boolean }> };
  const wanted = Object.keys(packages).filter((path) => path !== '' && !packages[path].dev);
  return wanted.map((path) => join(root, path)).filter((path) => existsSync(path));
}

const isTable = process.platform === 'linux' && process.arch === 'x64';

// Sharp brings other binaries to other platforms.
it.runIf(isTable)('README says truly how many packages come along, and how large they are', () => {
  const [, count, megabytes] = /\| packages that come along \| (\d+), ([\d.]+) MB /.exec(textOf('README.md')) ?? [];
  const found = packagesOfUsers();
  expect(found.length).toBe(Number(count));
  const size = found.reduce((sum, path) => sum + bytesOf(path), 0) / 1e6;
  expect(Math.abs(size / Number(megabytes) - 1)).toBeLessThan(0.03);
});

it('README names the versions of Node.js that are compared with each other, and the oldest that will do', () => {
  const [, majors] = /const MAJORS = \[([\d, ]+)\]/.exec(textOf('tests/nodes/run.ts')) ?? [];
  const [, oldest] = /^>=(\d+\.\d+)/.exec(JSON.parse(textOf('package.json')).engines.node) ?? [];
  const row = textOf('README.md').match(/^\| Node\.js \| .*$/m)?.[0] ?? '';
  expect(row).toContain(`${oldest} or later`);
  expect(row.match(/\b\d\d\b(?!\.)/g)?.map(Number)).toEqual(majors.split(',').map(Number));
});
