import { readFile } from 'node:fs/promises';
import { readArtwork } from '../../src/artwork/read.js';
import type { FeaturesFile } from '../../src/coupon/features.js';
import { openingCentroid } from '../../src/geometry/area.js';
import { correctOpenings } from '../../src/machine/correct-openings.js';
import { parseProfile } from '../../src/machine/profile-file.js';
import { byFastBmp } from '../export/read-back.js';
import { targetsOf } from '../virtual-laser/bench-day.js';
import { Film } from '../virtual-laser/film.js';
import { measureStencil } from '../virtual-laser/measure-stencil.js';
import { seeded } from '../virtual-laser/random.js';
import { readCoupon } from '../virtual-laser/read-coupon.js';
import { type Acts, deskOf } from './desk.js';
import type { Desk } from './fill-page.js';

/** The invented engraver: its program makes every picture a little larger than the width that was typed. */
const HIDDEN = { scaleX: 1.0118, scaleY: 1.0064, shear: 0.0031, kerfXMm: 0.196, kerfYMm: 0.164 };
/** A plastic caliper, held by hand. */
const CALIPER = { noiseMm: 0.03, resolutionMm: 0.1 };
const PITCH = { x: 0.05, y: 0.05 };

async function burn(path: string): Promise<Film> {
  const { width, height, grey } = byFastBmp(await readFile(path));
  const dark = grey.map((level) => (level === 0 ? 1 : 0));
  return new Film(HIDDEN, { width, height, dark }, PITCH);
}

/** The engraver, and a person with a caliper that reads tenths of a millimetre. */
export function knobMachine(more: Acts): Desk {
  const readings = new Map<string, string>();
  const random = seeded(7);
  const hand = (feature: string): string => {
    const [, power, speed] = /^GP(\d+)S(\d+)/.exec(feature) ?? [];
    if (power) return 'uptm'[[0.3, 0.39, 0.7].filter((energy) => Number(power) / Number(speed) >= energy).length];
    return readings.get(feature) ?? 's';
  };
  return deskOf(hand, {
    ...more,
    async cut(coupon) {
      const { features } = JSON.parse(await readFile(`stencils/${coupon}.features.json`, 'utf8')) as FeaturesFile;
      const film = await burn(`stencils/${coupon}.bmp`);
      for (const { feature, readingMm, outcome } of readCoupon(film, features, CALIPER, random)) {
        // What is narrower than the tips of the jaws can only be looked at.
        const isSeenOnly = coupon === 'aperture-ladder';
        const letter = outcome === 'gone' ? 'g' : outcome === 'closed' ? 'c' : 's';
        readings.set(feature, isSeenOnly ? letter : (readingMm?.toFixed(1) ?? letter));
      }
      return undefined;
    },
    async measure(board, profilePath) {
      const { openings } = await readArtwork(await readFile(`${board}.gbr`));
      const profile = await parseProfile(await readFile(profilePath, 'utf8'), profilePath);
      const commanded = correctOpenings(openings, profile).openings.map(openingCentroid);
      const { canvas } = JSON.parse(await readFile(`stencils/${board}.job.json`, 'utf8'));
      const after = measureStencil(
        await burn(`stencils/${board}.bmp`),
        targetsOf(openings, commanded, canvas.originMm),
      );
      const um = (mm: number): string => `${Math.round(1000 * mm)} µm`;
      return [
        `${after.measured} openings cut, ${after.missing} missing`,
        `width    ${um(after.meanWidthMm)} off on average, ${um(after.rmsWidthMm)} root mean square`,
        `place    ${um(after.rmsPositionMm)} off root mean square, ${um(after.maxPositionMm)} at most`,
      ].join('\n');
    },
  });
}
