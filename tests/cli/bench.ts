import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Io, processIo } from '../../src/cli/io.js';
import { run } from '../../src/cli/main.js';

export interface Bench {
  readonly folder: string;
  path(name: string): string;
  put(name: string, content: string | Uint8Array): string;
  read(name: string): Buffer;
  list(name?: string): string[];
  /** Runs a command line; relative names in it are as given. */
  run(...args: string[]): Promise<{ code: number; out: string; said: string }>;
  remove(): void;
}

/** A folder of its own to run commands in. */
export function bench(): Bench {
  const folder = mkdtempSync(join(tmpdir(), 'bench-'));
  const path = (name: string): string => join(folder, name);
  return {
    folder,
    path,
    put(name, content) {
      writeFileSync(path(name), content);
      return path(name);
    },
    read: (name) => readFileSync(path(name)),
    list: (name = '') => readdirSync(path(name)).sort(),
    async run(...args) {
      let [out, said] = ['', ''];
      const io: Io = {
        ...processIo(),
        out: (text) => {
          out += text;
        },
        say: (text) => {
          said += text;
        },
        isTerminal: false,
        columns: 100,
      };
      return { code: await run(args, io), out, said };
    },
    remove: () => rmSync(folder, { recursive: true, force: true }),
  };
}

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

/** A small invented paste layer: a chip, a row of leads, a disc; `extra` goes before the end. */
export function layer(side: 'Top' | 'Bot' = 'Top', extra = ''): string {
  return `%TF.FileFunction,Paste,${side}*%%FSLAX46Y46*%%MOMM*%%ADD10R,0.5X0.6*%%ADD11R,0.3X1.2*%%ADD12C,0.8*%
D10*X0Y0D03*X1000000Y0D03*
D11*X5000000Y0D03*X5650000Y0D03*X6300000Y0D03*
D12*X12000000Y3000000D03*${extra}
M02*
`;
}
