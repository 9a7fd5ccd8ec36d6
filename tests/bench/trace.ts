import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp, { type Sharp } from 'sharp';
import { traceGrey } from '../../src/artwork/image/trace/trace.js';
import { writeArtwork } from '../../src/export/write.js';
import { openingArea } from '../../src/geometry/area.js';
import type { Opening, Ring } from '../../src/geometry/types.js';
import { bitImage, disc, greyImage, slanted } from '../artwork/image/trace/raster.js';
import { board } from '../export/boards.js';
import { seeded } from '../virtual-laser/random.js';
import { BARE_ENV, PEAK_KB } from './peak.js';

const A4 = { widthMm: 210.0072, heightMm: 297.0022 };
const FINE = { widthMm: 168, heightMm: 185 };
const RUNS = 3;

/** Images to openings beside a sharp copy of the same file, each in a process of its own; then accuracy. */
export async function main(log: (line: string) => void = console.log): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'trace-'));
  try {
    const bare = child('0');
    for (const { name, what, bytes, readLimit, memoryLimit } of await files()) {
      const path = join(folder, name);
      writeFileSync(path, bytes);
      const copy = child(
        `const s=(await import(${JSON.stringify(import.meta.resolve('sharp'))})).default;await s(${JSON.stringify(path)},{limitInputPixels:false}).png().toFile(${JSON.stringify(join(folder, 'copy.png'))})`,
      );
      const reader = new URL('../../dist/index.js', import.meta.url).href;
      const ours = child(
        `const {readFileSync}=await import('node:fs');const {readArtwork}=await import(${JSON.stringify(reader)});await readArtwork(readFileSync(${JSON.stringify(path)}))`,
      );
      log(
        `${what}: sharp copy ${copy.seconds.toFixed(2)} s; read and trace ${ours.seconds.toFixed(2)} s = ${(ours.seconds / copy.seconds).toFixed(2)} x (aim ${readLimit} s); ${(ours.peakMb - bare.peakMb).toFixed(0)} MB above bare Node (limit ${memoryLimit})`,
      );
    }
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
  accuracy(log);
}

async function files() {
  const { openings } = board(4000, 1);
  const within = (size: typeof A4): Opening[] =>
    openings.filter(({ outer }) =>
      outer.every(([x, y]) => x > 1 && y > 1 && x < size.widthMm - 1 && y < size.heightMm - 1),
    );
  const pngOf = async (canvas: typeof A4, pitch: number): Promise<Uint8Array> =>
    (await writeArtwork(within(canvas), { format: 'png', canvas, pitchMm: { x: pitch, y: pitch } })).bytes;
  const double = sharp(await pngOf(A4, 0.0127), { limitInputPixels: false });
  const small = double.resize(8268, 11693, { kernel: 'linear', fit: 'fill' });
  const colour = (image: Sharp, density: number): Promise<Buffer> =>
    image.toColourspace('srgb').withDensity(density).png().toBuffer();
  const grey = (image: Sharp, density: number): Promise<Buffer> =>
    image.toColourspace('b-w').withDensity(density).png().toBuffer();
  const fine = await pngOf(FINE, 0.01);
  return [
    {
      name: 'colour.png',
      what: 'A4, 1000 dpi, colour',
      bytes: await colour(small.clone(), 1000),
      readLimit: 0.6,
      memoryLimit: 150,
    },
    {
      name: 'grey.png',
      what: 'A4, 1000 dpi, 8-bit',
      bytes: await grey(small.clone(), 1000),
      readLimit: 0.6,
      memoryLimit: 150,
    },
    {
      name: 'bits.png',
      what: 'A4, 1000 dpi, 1-bit',
      bytes: await pngOf(A4, 0.0254),
      readLimit: 0.35,
      memoryLimit: 150,
    },
    {
      name: 'fine-grey.png',
      what: '311 MP, 8-bit',
      bytes: await grey(sharp(fine, { limitInputPixels: false }), 2540),
      readLimit: 2,
      memoryLimit: 400,
    },
    { name: 'fine.png', what: '311 MP, 1-bit', bytes: fine, readLimit: 1, memoryLimit: 400 },
  ];
}

/** Best time and highest memory of a small script. */
function child(script: string): { readonly seconds: number; readonly peakMb: number } {
  let seconds = Infinity;
  let peakMb = 0;
  for (let run = 0; run < RUNS; run += 1) {
    const start = performance.now();
    const told = `${script};process.stdout.write('PEAK '+${PEAK_KB})`;
    const { stdout, stderr, status } = spawnSync(process.execPath, ['--input-type=module', '-e', told], {
      encoding: 'utf8',
      env: BARE_ENV,
    });
    if (status !== 0) throw new Error(stderr);
    seconds = Math.min(seconds, (performance.now() - start) / 1000);
    peakMb = Math.max(peakMb, Number(/PEAK (\d+)/.exec(stdout)?.[1]) / 1024);
  }
  return { seconds, peakMb };
}

function accuracy(log: (line: string) => void): void {
  for (const dpi of [600, 1000, 2400]) {
    for (const [kind, draw] of [
      ['8-bit', greyImage],
      ['1-bit', bitImage],
    ] as const) {
      const random = seeded(dpi);
      const px = dpi / 25.4;
      const discs = errors(draw, 200, () => {
        const d = (0.3 + 0.7 * random()) * px;
        const size = Math.ceil(d + 10);
        const ring = disc(size / 2 + random(), size / 2 + random(), d / 2);
        return { ring, size, area: (Math.PI * d * d) / 4, perimeter: Math.PI * d };
      });
      const rectangles = errors(draw, 200, () => {
        const [w, h] = [(0.25 + random()) * px, (0.3 + 1.5 * random()) * px];
        const size = Math.ceil(w + h + 10);
        const ring = slanted(size / 2 + random(), size / 2 + random(), w, h, 180 * random() - 90);
        return { ring, size, area: w * h, perimeter: 2 * (w + h) };
      });
      log(`${dpi} dpi, ${kind}: discs from 0.3 mm ${discs}; slanted rectangles ${rectangles}`);
    }
  }
}

function errors(
  draw: typeof greyImage,
  count: number,
  make: () => { ring: Ring; size: number; area: number; perimeter: number },
): string {
  let [worst, bias, square] = [0, 0, 0];
  for (let n = 0; n < count; n += 1) {
    const { ring, size, area, perimeter } = make();
    const traced = traceGrey(draw([ring], size, size), { x: 1, y: 1 }).reduce((sum, o) => sum + openingArea(o), 0);
    worst = Math.max(worst, Math.abs(traced / area - 1));
    bias += (2 * (traced - area)) / perimeter / count;
    square += ((2 * (traced - area)) / perimeter) ** 2 / count;
  }
  return `area within ${(100 * worst).toFixed(3)} %, width bias ${bias.toFixed(4)} px, rms ${Math.sqrt(square).toFixed(4)} px`;
}
