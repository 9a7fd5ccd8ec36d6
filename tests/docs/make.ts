/**
 * The worked examples, as `npm run docs:examples`: runs the commands of the pages in docs/ on simulated machines, and
 * writes what they print, and pictures of what they make, into the pages.
 */
import { cp, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Acts } from './desk.js';
import { type Desk, fillPage } from './fill-page.js';
import { galvo } from './galvo.js';
import { knobMachine } from './knob-machine.js';
import { takePicture } from './pictures.js';

const root = fileURLToPath(new URL('../../', import.meta.url));
const PAGES: Readonly<Record<string, (acts: Acts) => Desk>> = { 'knob-machine': knobMachine, galvo };

const acts: Acts = {
  async lay(name) {
    await cp(join(root, 'patterns/demo', name), 'board-paste.gbr');
    return undefined;
  },
  async picture(from, to, widthPx, page) {
    await takePicture(from, join(root, 'docs', to), Number(widthPx), Number(page ?? 1));
    return undefined;
  },
};

const wanted = process.argv.slice(2);
for (const [name, deskWith] of Object.entries(PAGES)) {
  if (wanted.length > 0 && !wanted.includes(name)) continue;
  const page = join(root, 'docs', `${name}.md`);
  const folder = await mkdtemp(join(tmpdir(), `${name}-`));
  process.chdir(folder);
  await writeFile(page, await fillPage(await readFile(page, 'utf8'), deskWith(acts)));
  process.chdir(root);
  if (process.env.KEEP_FOLDER) process.stdout.write(`${name}: ${folder}\n`);
  else await rm(folder, { recursive: true });
}
