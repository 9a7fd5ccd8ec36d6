import sharp from 'sharp';
import type { ExportFormat } from '../../src/export/export-formats.js';
import { writeArtwork } from '../../src/export/write.js';
import type { Opening } from '../../src/geometry/types.js';
import { board } from '../export/boards.js';

const A4 = { widthMm: 210.0072, heightMm: 297.0022 };
const PITCH = { x: 0.0254, y: 0.0254 };
const RUNS = 3;

/** Openings to files, beside a sharp decode and encode of the same picture in the same run. */
export async function main(log: (line: string) => void = console.log): Promise<void> {
  const { openings } = board(4000, 1);
  const onA4 = openings.filter((o) => o.outer.every(([x, y]) => x < A4.widthMm && y < A4.heightMm));
  log(`${onA4.length} openings, A4 at 1000 dpi, best of ${RUNS}`);
  const png = await writeArtwork(onA4, { format: 'png', canvas: A4, pitchMm: PITCH });
  const copy = await best(() => sharp(png.bytes, { limitInputPixels: false }).png().toBuffer());
  log(`sharp copy of the 1-bit PNG   ${copy.toFixed(2)} s`);
  for (const format of ['png', 'bmp', 'tiff', 'grey-png', 'svg', 'pdf', 'dxf'] as const) {
    const seconds = await best(() => write(onA4, format));
    log(`${format.padEnd(29)} ${seconds.toFixed(2)} s  ${(seconds / copy).toFixed(2)} x the copy`);
  }
  const [few, many] = [board(3000, 3), board(30_000, 3)];
  const small = await best(() => write(few.openings, 'png', few.sizeMm));
  const large = await best(() => write(many.openings, 'png', many.sizeMm));
  log(`3,000 openings ${small.toFixed(2)} s, 30,000 openings ${large.toFixed(2)} s`);
}

async function write(openings: readonly Opening[], format: ExportFormat, sideMm?: number) {
  const canvas = sideMm ? { widthMm: sideMm, heightMm: sideMm } : A4;
  return writeArtwork(openings, { format, canvas, pitchMm: PITCH });
}

async function best(work: () => Promise<unknown>): Promise<number> {
  let least = Infinity;
  for (let run = 0; run < RUNS; run += 1) {
    const start = performance.now();
    await work();
    least = Math.min(least, performance.now() - start);
  }
  return least / 1000;
}
