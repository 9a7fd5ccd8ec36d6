import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Io, processIo } from '../../src/cli/io.js';
import { run } from '../../src/cli/main.js';

/** An invented paste layer: a row of four leads, a chip, a large pad and a disc too small for most films. */
const PASTE_LAYER = `%TF.FileFunction,Paste,Top*%
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

/** A folder of its own, with the paste layer in it. */
export function benchFolder(): { folder: string; paste: string; read(name: string): string; remove(): void } {
  const folder = mkdtempSync(join(tmpdir(), 'rules-'));
  mkdirSync(folder, { recursive: true });
  const paste = join(folder, 'board-paste.gbr');
  writeFileSync(paste, PASTE_LAYER);
  return {
    folder,
    paste,
    read: (name) => readFileSync(join(folder, name), 'utf8'),
    remove: () => rmSync(folder, { recursive: true, force: true }),
  };
}

/** One command line, as a user types it. */
export async function apertrue(...args: string[]): Promise<{ code: number; out: string; say: string }> {
  let [out, say] = ['', ''];
  const io: Io = {
    ...processIo(),
    isTerminal: false,
    columns: 160,
    out: (text) => {
      out += text;
    },
    say: (text) => {
      say += text;
    },
  };
  const code = await run(args, io);
  return { code, out, say };
}
