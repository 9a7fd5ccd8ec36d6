import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { ENVIRONMENT, INWARD, LARGE_FOLDERS, LONG_FUNCTIONS, MOST_LINES, TAKEN_IN, UNTAKEN } from './reasons.js';
import { ROOT, readSources, type SourceFile } from './source-graph.js';

const files = readSources(['src', 'tests']);
const sources = new Map([...files].filter(([path]) => path.startsWith('src/')));
const { dependencies, devDependencies } = JSON.parse(readFileSync(`${ROOT}package.json`, 'utf8')) as {
  readonly dependencies: Readonly<Record<string, string>>;
  readonly devDependencies: Readonly<Record<string, string>>;
};
const folderOf = (path: string): string => path.slice(0, path.lastIndexOf('/'));

/** Groups of files that know each other in a circle (Tarjan 1972), types and what is loaded late included. */
function circlesIn(graph: ReadonlyMap<string, SourceFile>): string[] {
  const [found, lowest, stack] = [new Map<string, number>(), new Map<string, number>(), [] as string[]];
  const circles: string[] = [];
  const visit = (path: string): void => {
    const number = found.size;
    found.set(path, number);
    lowest.set(path, number);
    stack.push(path);
    for (const { from } of graph.get(path)!.imports) {
      if (!graph.has(from)) continue;
      if (!found.has(from)) visit(from);
      if (stack.includes(from)) lowest.set(path, Math.min(lowest.get(path)!, lowest.get(from)!));
    }
    if (lowest.get(path) !== number) return;
    const circle = stack.splice(stack.indexOf(path));
    if (circle.length > 1) circles.push(circle.sort().join(' '));
  };
  for (const path of graph.keys()) if (!found.has(path)) visit(path);
  return circles.sort();
}

/** Who takes each name of each file. */
function takersOf(graph: ReadonlyMap<string, SourceFile>): Map<string, string[]> {
  const takers = new Map<string, string[]>();
  for (const [path, { imports }] of graph) {
    for (const { from, names } of imports) {
      for (const name of names) takers.set(`${from} ${name}`, [...(takers.get(`${from} ${name}`) ?? []), path]);
    }
  }
  return takers;
}

it('no file of the product imports in a circle', () => {
  expect(circlesIn(sources)).toEqual([]);
});

it('imports point inward, from the command line to the numbers', () => {
  const outward: string[] = [];
  // Folders within a folder stand before it.
  const placeOf = (path: string): number => INWARD.findIndex((folder) => path.startsWith(`src/${folder}/`));
  for (const [path, { imports }] of sources) {
    const own = placeOf(path);
    if (path.split('/').length < 3) continue;
    expect(own, `the order of the folders lacks that of ${path}`).toBeGreaterThanOrEqual(0);
    for (const { from } of imports) {
      const other = placeOf(from);
      if (sources.has(from) && other > own) outward.push(`${path} -> ${from}`);
    }
  }
  expect(outward).toEqual([]);
});

it('only the command line touches disk, clock, console and process', () => {
  const inner = [...sources].filter(([path]) => !path.startsWith('src/cli/'));
  const touched = inner.flatMap(([path, { globals, packages }]) => [
    ...[...globals].map((name) => `${path} ${name}`),
    ...packages.filter((name) => /^node:(?!zlib|module|events|url)/.test(name)).map((name) => `${path} ${name}`),
  ]);
  expect(touched.filter((each) => !(each in ENVIRONMENT))).toEqual([]);
});

it('nothing is exported that nobody takes, and no file is left over', () => {
  const takers = takersOf(files);
  const dead: string[] = [];
  for (const [path, { exports, types, usedInside }] of files) {
    if (path === 'src/index.ts' || path === 'src/cli/main.ts' || path.endsWith('.test.ts')) continue;
    for (const name of exports) {
      const all = [...(takers.get(`${path} ${name}`) ?? []), ...(takers.get(`${path} *`) ?? [])];
      const own = path.startsWith('src/') ? all.filter((taker) => taker.startsWith('src/')) : all;
      // Types of what is exported are named for readers; helpers may be tested by themselves.
      const isUsed = usedInside.has(name) && (types.has(name) || all.length > 0);
      if (own.length === 0 && !isUsed && name !== 'main' && name !== 'default') dead.push(`${path} ${name}`);
    }
  }
  expect(dead.filter((each) => !(each in UNTAKEN))).toEqual([]);
  const reached = new Set(['src/index.ts', 'src/cli/main.ts']);
  for (const path of reached)
    for (const { from } of sources.get(path)!.imports) if (sources.has(from)) reached.add(from);
  const kept = Object.keys(UNTAKEN).map((each) => each.split(' ')[0]);
  expect([...sources.keys()].filter((path) => !reached.has(path) && !kept.includes(path))).toEqual([]);
});

it('a name that is exported means one thing', () => {
  const places = new Map<string, string[]>();
  for (const [path, { exports }] of sources)
    for (const name of exports) if (path !== 'src/index.ts') places.set(name, [...(places.get(name) ?? []), path]);
  expect([...places].filter(([name, paths]) => paths.length > 1 && name !== 'default')).toEqual([]);
});

it('every package that is installed with the product is used by it', () => {
  const used = [...sources.values()].flatMap(({ packages }) => packages);
  const byPath = ['dejavu-fonts-ttf'];
  const isUsed = (name: string): boolean => used.some((each) => each === name || each.startsWith(`${name}/`));
  expect(Object.keys(dependencies).filter((name) => !isUsed(name) && !byPath.includes(name))).toEqual([]);
  const listed = (name: string): boolean =>
    name.startsWith('node:') ||
    [...Object.keys(dependencies), ...TAKEN_IN].some((each) => name === each || name.startsWith(`${each}/`));
  expect(used.filter((name) => !listed(name))).toEqual([]);
  // A package that is no dependency is built in, so it must be there when that is done.
  expect(TAKEN_IN.filter((name) => !(name in devDependencies) || !isUsed(name))).toEqual([]);
});

it('large folders and long functions have a reason', () => {
  const counts = new Map<string, number>();
  for (const path of sources.keys()) counts.set(folderOf(path), (counts.get(folderOf(path)) ?? 0) + 1);
  const large = [...counts].filter(([, count]) => count > 25).map(([folder]) => folder);
  expect(large.filter((each) => !(each in LARGE_FOLDERS))).toEqual([]);
  const long = [...sources].flatMap(([path, { functions }]) =>
    functions.filter(({ lines }) => lines > 60).map(({ name }) => `${path} ${name}`),
  );
  expect(long.filter((each) => !(each in LONG_FUNCTIONS))).toEqual([]);
});

it('the code grows no further', () => {
  let inComment = false;
  const isCode = (line: string): boolean => {
    const text = line.trim();
    const begins = text.startsWith('/*');
    const isComment = inComment || begins || text.startsWith('//') || text === '';
    if (inComment || begins) inComment = !text.includes('*/');
    return !isComment;
  };
  const lines = [...sources.keys()].flatMap((path) => readFileSync(`${ROOT}${path}`, 'utf8').split('\n'));
  expect(lines.filter(isCode).length).toBeLessThanOrEqual(MOST_LINES);
});

it('DEVELOPERS.md names only files that there are', () => {
  const named = readFileSync(`${ROOT}DEVELOPERS.md`, 'utf8').match(/[\w/-]+(?:\.test)?\.ts\b/g) ?? [];
  const paths = [...files.keys()].map((path) => `/${path}`);
  // What stands for any name is written large.
  const isThere = (name: string): boolean => /NAME/.test(name) || paths.some((path) => path.endsWith(`/${name}`));
  expect(named.filter((name) => !isThere(name))).toEqual([]);
});
