import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, afterEach, beforeAll, beforeEach } from 'vitest';
import { type Io, processIo } from '../../src/cli/io.js';
import { run } from '../../src/cli/main.js';
import { openSheet, type RowCells, sheetText, writeRow } from '../../src/readings/fill-in.js';
import { wordsOf } from '../docs/command-lines.js';

/** What a command ended with, printed and said. */
export interface Ran {
  readonly code: number;
  readonly out: string;
  readonly said: string;
}

export interface Bench {
  readonly folder: string;
  /** Puts a file there; returns its name. */
  put(name: string, content: string | Uint8Array): string;
  read(name: string): Buffer;
  text(name: string): string;
  // biome-ignore lint/suspicious/noExplicitAny: whatever the file holds
  json(name: string): any;
  list(name?: string): string[];
  /** Runs a command line, its words parted by blanks as in a shell; words behind it are taken as they are. */
  run(...words: readonly string[]): Promise<Ran>;
  /** The same for somebody who types lines, at a terminal or through a pipe. */
  type(words: string | readonly string[], lines?: readonly string[], isTerminal?: boolean): Promise<Ran>;
}

/**
 * A folder of its own for each test of a file, or once for all of them, in which everything happens; no settings of whoever
 * runs the tests are found.
 *
 * @param files - lie in it at the start
 */
export function bench(
  files: Readonly<Record<string, string | Uint8Array>> = {},
  { once = false, ...over }: Partial<Io> & { readonly once?: boolean } = {},
): Bench {
  let [before, folder] = ['', ''];
  let isOpen = false;
  // A test that took too long goes on behind its end, and would write wherever it is then.
  const demandOpen = (): void => {
    if (!isOpen) throw new Error('the folder of this test is gone');
  };
  const put: Bench['put'] = (name, content) => {
    demandOpen();
    mkdirSync(dirname(name), { recursive: true });
    writeFileSync(name, content);
    return name;
  };
  const read = (name: string): Buffer => readFileSync(name);
  const type: Bench['type'] = async (words, typed = [], isTerminal = false) => {
    demandOpen();
    let [out, said] = ['', ''];
    const io: Io = {
      ...processIo(),
      out: (text) => void (out += text),
      say: (text) => void (said += text),
      isTerminal: false,
      columns: 100,
      configFolder: join(folder, 'own-settings'),
      input: {
        isTerminal,
        async *lines() {
          yield* typed;
        },
      },
      ...over,
    };
    return { code: await run(typeof words === 'string' ? wordsOf(words) : words, io), out, said };
  };
  (once ? beforeAll : beforeEach)(() => {
    before = process.cwd();
    folder = mkdtempSync(join(tmpdir(), 'bench-'));
    process.chdir(folder);
    isOpen = true;
    for (const [name, content] of Object.entries(files)) put(name, content);
  });
  (once ? afterAll : afterEach)(() => {
    isOpen = false;
    process.chdir(before);
    rmSync(folder, { recursive: true, force: true });
  });
  return {
    get folder() {
      return folder;
    },
    put,
    read,
    text: (name) => read(name).toString(),
    json: (name) => JSON.parse(read(name).toString()),
    list: (name = '.') => readdirSync(name).sort(),
    run: (line, ...words) => type([...wordsOf(line), ...words]),
    type,
  };
}

/** A project file of an invented machine. */
export const PROJECT = {
  format: 'apertrue-project',
  version: 1,
  machine: 'desk laser',
  bed: { widthMm: 100, heightMm: 80 },
  pitchMm: { x: 0.0254, y: 0.0254 },
  film: { kind: 'pet', thicknessMm: 0.1 },
  profile: 'desk.profile.json',
  out: 'results',
  gauges: [{ name: 'caliper', resolutionMm: 0.01 }],
};

/** A profile of an invented machine. */
export function profileOf(
  over: Partial<Record<'scaleX' | 'scaleY' | 'shear' | 'kerfXMm' | 'kerfYMm', number>> = {},
  more: object = {},
): string {
  const numbers = { scaleX: 1.004, scaleY: 0.997, shear: 0.002, kerfXMm: 0.12, kerfYMm: 0.1, ...over };
  const fit = Object.fromEntries(
    Object.entries(numbers).map(([name, value]) => [name, { value, stdUncertainty: 0.0001 }]),
  );
  return JSON.stringify({
    format: 'apertrue-profile',
    version: 1,
    name: 'invented laser',
    film: { kind: 'pet', thicknessMm: 0.1 },
    settings: { powerPercent: 40, speedMmS: 90, passes: 2 },
    pitchMm: { x: 0.0254, y: 0.0254 },
    fit,
    ...more,
  });
}

/** What was laid out to be measured, as `coupon` writes it. */
export function featuresOf(features: readonly object[], coupon = 'bench'): string {
  const canvas = { widthMm: 150, heightMm: 100, pitchXMm: 0.0254, pitchYMm: 0.0254 };
  return JSON.stringify({ format: 'apertrue-features', version: 1, coupon, canvas, features });
}

/** A sheet of readings with some in it, as `enter` writes them, which fits all there are after each one. */
export function filledIn(
  sheet: string,
  readings: Iterable<readonly [feature: string, mm: string]>,
  gauge: RowCells = {},
): string {
  // biome-ignore format: one head
  let filled = openSheet(sheet, 'sheet');
  for (const [feature, reading_mm] of readings) filled = writeRow(filled, feature, { reading_mm, ...gauge });
  return sheetText(filled);
}

/** A small invented paste layer: a chip, a row of leads, a disc; `extra` goes before the end. */
export function layer(side: 'Top' | 'Bot' = 'Top', extra = ''): string {
  return `%TF.FileFunction,Paste,${side}*%%FSLAX46Y46*%%MOMM*%%ADD10R,0.5X0.6*%%ADD11R,0.3X1.2*%%ADD12C,0.8*%
D10*X0Y0D03*X1000000Y0D03*
D11*X5000000Y0D03*X5650000Y0D03*X6300000Y0D03*
D12*X12000000Y3000000D03*${extra}
M02*
`;
}

/** An invented paste layer: a row of four leads, a chip, a large pad and a disc too small for most films. */
export const PASTE_LAYER = `%TF.FileFunction,Paste,Top*%
%FSLAX46Y46*%
%MOMM*%
%ADD10R,0.300000X1.200000*%
%ADD11R,3.000000X3.000000*%
%ADD12C,0.200000*%
%ADD13R,0.800000X1.000000*%
D10*
X0Y0D03*
X500000Y0D03*
X1000000Y0D03*
X1500000Y0D03*
%TO.C,R1*%
D13*
X5000000Y0D03*
X6600000Y0D03*
%TD*%
D11*
X12000000Y0D03*
D12*
X18000000Y0D03*
M02*
`;

/** A layer in a file of its own, as `layout` lays it. */
export const layerIn = (file: string) => ({
  file,
  stem: file.replace(/\.\w+$/, ''),
  load: async () => ({ bytes: readFileSync(file) }),
});
