import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { commandsOf, wordsOf, wrongWith } from './command-lines.js';
import { fillPage } from './fill-page.js';

const root = fileURLToPath(new URL('../../', import.meta.url));
const PAGES = ['README.md', ...readdirSync(join(root, 'docs')).filter((name) => name.endsWith('.md')).map((name) => `docs/${name}`)]; // biome-ignore format: one line
const textOf = (page: string): string => readFileSync(join(root, page), 'utf8');
const packed: readonly string[] = JSON.parse(textOf('package.json')).files;

describe.each(PAGES)('%s', (page) => {
  it('types only commands that there are, with options that they have', async () => {
    const commands = commandsOf(textOf(page));
    expect(commands.length).toBeGreaterThan(4);
    for (const { line, args } of commands) {
      expect([`${page}:${line} ${args.join(' ')}`, await wrongWith(args)]).toEqual([expect.any(String), undefined]);
    }
  });

  it('links to files that the package holds', () => {
    const links = [...textOf(page).matchAll(/\]\((?!https?:|#)([^)#]+)/g)].map(([, link]) => join(dirname(page), link));
    for (const link of links) {
      expect([link, existsSync(join(root, link))]).toEqual([link, true]);
      expect([link, packed.some((one) => link === one || link.startsWith(`${one}/`))]).toEqual([link, true]);
    }
  });

  it('has no line over 100 columns in its blocks, but for commands', () => {
    let isFenced = false;
    for (const line of textOf(page).split('\n')) {
      if (line.startsWith('```')) isFenced = !isFenced;
      if (isFenced && !line.startsWith('$ ')) expect([line, line.length <= 100]).toEqual([line, true]);
    }
  });
});

describe('what finds commands and fills pages', () => {
  it('tells a command that is wrong', async () => {
    expect(await wrongWith(['correct', 'a.gbr', '--profil', 'x'])).toContain('--profile');
    expect(await wrongWith(['corect', 'a.gbr'])).toContain('corect');
    expect(await wrongWith(['layout', 'a.gbr', '--board-mm', 'wide'])).toContain('--board-mm');
    expect(await wrongWith(['fit'])).toContain('readings');
    expect(await wrongWith(['correct', 'a.gbr', '-p', 'x'])).toBeUndefined();
  });

  it('finds commands in blocks only, with quotes, sends and remarks taken off', () => {
    const page =
      'apertrue not this\n```sh\napertrue fit \'b/*.csv\' -o "a b.json"   # once\n$ apertrue doctor > x\n```\n';
    expect(commandsOf(page).map(({ args }) => args)).toEqual([['fit', 'b/*.csv', '-o', 'a b.json'], ['doctor']]);
    expect(wordsOf("a 'b c'")).toEqual(['a', 'b c']);
  });

  it('fills blocks anew, keeps what is asked for, and stays the same the second time', async () => {
    const desk = {
      run: async (command: string) => `one ${command}\ntwo\nthree\n`,
      act: async (words: readonly string[]) => words.join('+'),
    };
    const page = '<!-- only: o -->\n```console\n$ apertrue a\nold\n```\ntext\n<!-- do: x y -->\n```text\n```\n';
    const filled = await fillPage(page, desk);
    expect(filled).toBe('<!-- only: o -->\n```console\n$ apertrue a\none a\ntwo\n…\n```\ntext\n<!-- do: x y -->\n```text\nx+y\n```\n'); // biome-ignore format: one line
    expect(await fillPage(filled, desk)).toBe(filled);
  });
});

describe('the package', () => {
  it('carries the pages and their pictures, which are small', () => {
    const sizes = readdirSync(join(root, 'docs')).map((name) => statSync(join(root, 'docs', name)).size);
    expect(packed).toContain('docs');
    expect(sizes.reduce((sum, size) => sum + size)).toBeLessThan(400_000);
    expect(Math.max(...sizes)).toBeLessThan(60_000);
  });
});
