import { mapOpening, rotation, translation } from '../../src/geometry/affine.js';
import type { Opening } from '../../src/geometry/types.js';
import { at, board, box, rounded } from '../export/boards.js';
import { judgeBoard, type PadVerdict, type WebVerdict } from '../truth/boards.js';
import { MACHINES } from '../truth/laser.js';
import { seeded } from '../virtual-laser/random.js';

/**
 * Whole boards on five machines, pad by pad and web by web, by an independent polygon library:
 * `npm run bench:truth:boards -- --pads N --seed S`.
 */
const option = (name: string, otherwise: number): number => {
  const at = process.argv.indexOf(`--${name}`);
  return at < 0 ? otherwise : Number(process.argv[at + 1]);
};

const [count, seed] = [option('pads', 300), option('seed', 1)];

/** Rows of fine pitch at every angle: the webs that matter. */
function fineRows(): { openings: Opening[] } {
  const random = seeded(seed);
  const openings: Opening[] = [];
  for (let k = 0; k < 24; k += 1) {
    const [pitch, width, long] = [0.4 + 0.1 * (k % 2), 0.2 + 0.06 * random(), 0.7 + 0.6 * random()];
    const ring = k % 3 === 2 ? rounded(width, long, width / 2) : box(width, long);
    const turn = k % 4 === 0 ? 0 : 15 * Math.floor(24 * random());
    const [x, y] = [3 + 5 * (k % 5) + random(), 3 + 5 * Math.floor(k / 5) + random()];
    for (let i = -3; i <= 3; i += 1) {
      openings.push(mapOpening(translation(x, y), mapOpening(rotation(turn), at(ring, i * pitch, 0))));
    }
  }
  return { openings };
}

/** More of the asked area than this is a loss that must be listed. */
const LOSS_SHARE = 0.05;

const mean = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0) / Math.max(1, values.length);
const rms = (values: readonly number[]): number => Math.sqrt(mean(values.map((v) => v * v)));
const most = (values: readonly number[]): number => values.reduce((a, b) => Math.max(a, Math.abs(b)), 0);

function figures(pads: readonly PadVerdict[], webs: readonly WebVerdict[]) {
  const off = pads.flatMap((pad) => pad.off);
  const slanted = pads.filter(({ leanDeg }) => leanDeg > 0.01);
  const dots = pads.map(({ off: o, dot }) => Math.max(Math.abs(o[0]) / dot[0], Math.abs(o[1]) / dot[1]));
  return {
    pads: pads.length,
    over75: dots.filter((d) => d > 0.75).length,
    mostDots: most(dots).toFixed(2),
    nearestUm: (1000 * mean(pads.flatMap(({ nearest }) => nearest))).toFixed(2),
    biasUm: (1000 * mean(off)).toFixed(2),
    'rms/nearest': (rms(off) / rms(pads.flatMap(({ nearest }) => nearest))).toFixed(3),
    'area % all': (100 * mean(pads.map(({ areaOff }) => areaOff))).toFixed(2),
    slanted: slanted.length,
    'area % sl': (100 * mean(slanted.map(({ areaOff }) => areaOff))).toFixed(2),
    'most area % sl': (100 * most(slanted.map(({ areaOff }) => areaOff))).toFixed(1),
    'mean width dots sl': mean(slanted.map(({ meanWidthOffDots }) => meanWidthOffDots)).toFixed(3),
    'bias sl um': (1000 * mean(slanted.flatMap((pad) => pad.off))).toFixed(2),
    'lost 5 %': pads.filter(({ lostOfAsked }) => lostOfAsked > LOSS_SHARE).length,
    'of these unlisted': pads.filter(({ lostOfAsked, listed }) => lostOfAsked > LOSS_SHARE && !listed).length,
    listed: pads.filter(({ listed }) => listed).length,
    torn: pads.filter(({ torn }) => torn).length,
    webs: webs.length,
    'web beyond': webs.reduce((a, { beyondDots }) => Math.max(a, beyondDots), -9).toFixed(2),
  };
}

for (const [name, made] of [
  ['board, one part of twenty slanted', board(count, seed, 0.05)],
  ['board, every part slanted', board(count, seed, 1)],
  ['rows of fine pitch', fineRows()],
] as const) {
  console.log(name);
  const start = performance.now();
  const all = MACHINES.map((laser) => judgeBoard(made.openings, laser));
  console.table(all.map(({ pads, webs }) => figures(pads, webs)));
  console.log(`${((performance.now() - start) / 1000).toFixed(1)} s`);
}
