import { beforeAll } from 'vitest';
import { readArtwork } from '../../src/artwork/read.js';
import { scanFilm, type VirtualFilm } from '../scan/virtual-scanner.js';
import { union } from '../truth/polygons.js';
import { darkPixels } from '../virtual-laser/image.js';
import { bench } from './bench.js';
import { type Pad, padsSvg, SCANNER, scannedPng } from './scanned.js';

/** A stencil whose dots are known, cut by a laser whose kerf, or whose bed, is known, and scanned. */
export const LASER = { scaleX: 1.004, scaleY: 0.997, shear: 0.002, kerfXMm: 0.12, kerfYMm: 0.1 };
export const CANVAS = { widthMm: 24, heightMm: 18 };
export const PITCH_MM = 0.0254;

/** The dots that are burnt, line by line, as one drawing. */
async function burnt(png: Uint8Array): Promise<VirtualFilm['openings']> {
  const { width, height, dark } = await darkPixels(png);
  const lines = Array.from({ length: height }, (_, y) => {
    const ends: number[] = [];
    const at = (x: number): number => (x >= 0 && x < width ? dark[y * width + x] : 0);
    for (let x = 0; x <= width; x += 1) if (at(x) !== at(x - 1)) ends.push(x);
    return { y: height - 1 - y, ends: ends.map((x) => x * PITCH_MM) };
  });
  const rects = lines.flatMap(({ y, ends }) =>
    ends.flatMap((from, i) => {
      const [low, high, to] = [y * PITCH_MM, (y + 1) * PITCH_MM, ends[i + 1]];
      return i % 2 === 0 ? [[[from, low], [to, low], [to, high], [from, high]] as const] : []; // biome-ignore format: one rectangle
    }),
  );
  return union(rects).map((outer) => ({ outer }));
}

/** A bench with two drawings: one of slots and pads with room between, one of a few pads without a span between them. */
export function finishedStencils() {
  const desk = bench({}, { once: true });
  beforeAll(() => {
    const pads = Array.from({ length: 8 }, (_, i): Pad[] => [
      [2 + 1.1 * i, 3, 0.35 + 0.02 * i, 1.3],
      [2 + 1.1 * i, 8.2, 0.35, 1.3],
      ...(i % 2 === 0 ? ([[13 + 0.4 * i, 2 + 0.9 * i, 0.9, 0.6]] as const) : []),
      ...(i % 3 === 0 ? ([[4 + 0.8 * i, 5.6, 1.4, 1.1]] as const) : []),
    ]).flat();
    desk.put('board.svg', padsSvg(pads, 18, 12));
    const few = Array.from({ length: 12 }, (_, i): Pad => [2 + 1.05 * i + (i % 2), 2 + 0.85 * i - (i % 2), 0.8, 0.55]);
    desk.put('small.svg', padsSvg(few, 18, 12));
  });

  async function correct(profile: string, format = 'png', artwork = 'board'): Promise<string> {
    const out = `cut-${profile}`;
    const size = [
      '--canvas-mm',
      `${CANVAS.widthMm}x${CANVAS.heightMm}`,
      '--pitch-mm',
      `${PITCH_MM}`,
      '--format',
      format,
    ];
    await desk.run(`correct ${artwork}.svg --profile ${profile}`, ...size, '--out', out);
    return `cut-${profile}`;
  }

  /** `cut`: the file of the job that the laser was given. */
  async function cutAndScan(
    job: string,
    name: string,
    laser: Partial<VirtualFilm>,
    { cut = 'board.png', dpi = 600, heightMm = 21, scanner = {} as Partial<typeof SCANNER> } = {},
  ): Promise<void> {
    const given = desk.read(`${job}/${cut}`);
    const openings = cut.endsWith('.png') ? await burnt(given) : (await readArtwork(given, {})).openings;
    const picture = scanFilm(
      { openings, machine: LASER, ...laser },
      {
        ...{ ...SCANNER, ...scanner, dpi, widthMm: 27, heightMm, turnDeg: -3, atMm: [1, 2] },
        ...{ specksPerCm2: 2, hairsPerCm2: 1, seed: 7 },
      },
    );
    desk.put(name, await scannedPng(picture));
  }

  const inspect = (picture: string, job: string, stem = 'board') =>
    desk.run(`inspect ${picture} --job ${job}/${stem}.job.json --artwork ${stem.split('.')[0]}.svg --out look --json`);

  return { desk, correct, cutAndScan, inspect };
}
