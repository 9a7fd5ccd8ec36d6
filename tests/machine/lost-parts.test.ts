import { describe, expect, it } from 'vitest';
import { offsetByEllipse } from '../../src/geometry/offset.js';
import { solid } from '../../src/geometry/shapes.js';
import type { Point, Region } from '../../src/geometry/types.js';
import { LETTERING_CHARACTERS } from '../../src/lettering/glyphs.js';
import { letter } from '../../src/lettering/lettering.js';
import { losesCornersAlone, lostParts } from '../../src/machine/correct-openings.js';
import { erode } from '../../src/machine/thin-line.js';
import { seeded } from '../virtual-laser/random.js';

const KERF = { kerfXMm: 0.12, kerfYMm: 0.1 };

function looked(region: Region) {
  const pieces = erode(region, KERF.kerfXMm, KERF.kerfYMm);
  const quick = pieces.length === 1 && losesCornersAlone(region.outer, pieces[0].outer, KERF);
  const opened = pieces.flatMap((piece) => offsetByEllipse(piece, KERF.kerfXMm, KERF.kerfYMm, 1));
  return { quick, lost: lostParts(region, opened, KERF) };
}

describe('what is lost of an outline', () => {
  it('is corners alone of every letter that is cut, seen at a glance', () => {
    const characters = LETTERING_CHARACTERS.join('').trim();
    const strokes = letter(characters, { heightMm: 2.5, kerfAllowanceMm: 0.12 });
    expect(strokes.length).toBeGreaterThan(50);
    for (const stroke of strokes) expect(looked(stroke).quick).toBe(true);
  });

  it('is nothing where a glance finds corners alone, by the subtraction of what comes back (Clipper2)', () => {
    const random = seeded(5);
    let [glances, parts] = [0, 0];
    for (let i = 0; i < 120; i += 1) {
      const stem = 0.06 + 0.25 * random();
      const [arm, foot] = [0.2 + random(), 0.1 + 0.4 * random()];
      const lean = random() - 0.5;
      const ring: Point[] = [
        [0, 0],
        [1, 0],
        [1, foot],
        [0.4 + stem, foot],
        [0.4 + stem + lean * arm, foot + arm],
        [0.4 + lean * arm, foot + arm],
        [0.4, foot],
        [0, foot],
      ];
      const { quick, lost } = looked(solid(ring));
      if (quick) glances += 1;
      else if (lost.length > 0) parts += 1;
      if (quick) expect(lost).toEqual([]);
    }
    expect(glances).toBeGreaterThan(20);
    expect(parts).toBeGreaterThan(20);
  });
});
