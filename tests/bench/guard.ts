import { readArtwork } from '../../src/artwork/read.js';
import { checkCommanded, makeStencil, writeStencil } from '../../src/stencil/make-stencil.js';
import { board } from '../export/boards.js';
import { greyPage } from './page.js';

/** What the last look at the dots costs, against everything else that `correct` does with an A4 page of 4,000 openings. */
const MACHINE = { scaleX: 1.004, scaleY: 0.997, shear: 0.002, kerfXMm: 0.12, kerfYMm: 0.1 };
const PITCH = { x: 0.0254, y: 0.0254 };
const [WIDTH_PX, HEIGHT_PX] = [8268, 11693];
const RUNS = 5;

export async function main(log: (line: string) => void = console.log): Promise<void> {
  const { openings } = board(4000, 1);
  const onA4 = openings.filter((o) => o.outer.every(([x, y]) => x < 209 && y < 296 && x > 1 && y > 1));
  const page = await greyPage(onA4, WIDTH_PX, HEIGHT_PX, PITCH.x);
  let [whole, guard] = [Infinity, Infinity];
  for (let run = 0; run < RUNS; run += 1) {
    const start = performance.now();
    const artwork = await readArtwork(page, { dpi: 1000 });
    const stencil = makeStencil(artwork, MACHINE, { pitchMm: PITCH, formats: ['png'] });
    await writeStencil(stencil, { format: 'png' });
    whole = Math.min(whole, performance.now() - start);
    const again = performance.now();
    checkCommanded(stencil.asked.openings, stencil.commanded, MACHINE);
    guard = Math.min(guard, performance.now() - again);
  }
  log(
    `A4 image of ${onA4.length} openings: ${whole.toFixed(0)} ms in process, the last look ${guard.toFixed(0)} ms = ${((100 * guard) / whole).toFixed(1)} % (limit 10)`,
  );
}
