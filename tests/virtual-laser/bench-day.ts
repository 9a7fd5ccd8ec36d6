import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { FeaturesFile } from '../../src/coupon/features.js';
import { openingCentroid } from '../../src/geometry/area.js';
import { longSide, orientedBox } from '../../src/geometry/oriented-box.js';
import type { Opening } from '../../src/geometry/types.js';
import { Film, type HiddenMachine } from './film.js';
import { darkPixels } from './image.js';
import type { Target } from './measure-stencil.js';
import { type Gauge, readCoupon } from './read-coupon.js';

/** Burns an image on the virtual laser. */
export async function burnImage(
  png: Uint8Array,
  machine: HiddenMachine,
  pitch: { x: number; y: number },
): Promise<Film> {
  return new Film(machine, await darkPixels(png), pitch);
}

/** Cuts a coupon that lies in a folder, reads it, and fills in its readings file. Returns how many rows were read. */
export async function cutAndRead(
  folder: string,
  coupon: string,
  machine: HiddenMachine,
  gauge: Gauge,
  random: () => number,
): Promise<number> {
  const features = JSON.parse(await readFile(join(folder, `${coupon}.features.json`), 'utf8')) as FeaturesFile;
  const { pitchXMm: x, pitchYMm: y } = features.canvas;
  const film = await burnImage(await readFile(join(folder, `${coupon}.png`)), machine, { x, y });
  const rows = readCoupon(film, features.features, gauge, random);
  const decimals = Math.max(0, Math.ceil(-Math.log10(gauge.resolutionMm)));
  const lines = rows.map(
    (row) => `${row.feature},${row.readingMm?.toFixed(decimals) ?? ''},${row.outcome ?? ''},${gauge.resolutionMm},`,
  );
  const head = 'feature,reading_mm,outcome,resolution_mm,note';
  await writeFile(join(folder, `${coupon}.readings.csv`), `${[head, ...lines].join('\n')}\n`);
  return rows.length;
}

/** Openings to look for on a burnt stencil: as asked, and where they were commanded on the image. */
export function targetsOf(
  asked: readonly Opening[],
  commandedCentres: readonly (readonly [number, number])[],
  originMm: readonly [number, number],
): Target[] {
  return asked.map((opening, i) => {
    const { along } = longSide(orientedBox(opening.outer));
    const [cx, cy] = commandedCentres[i];
    return {
      asked: opening.outer,
      directions: [along, [-along[1], along[0]]],
      centre: openingCentroid(opening),
      commanded: [cx - originMm[0], cy - originMm[1]],
    };
  });
}
