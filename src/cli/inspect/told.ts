import { InputError, type Warning, warningsIf } from '../../errors.js';
import { present } from '../../kept.js';
import { LEAST_SEEN } from '../../scan/find/constellation.js';
import type { Recognised } from '../../scan/find/recognise.js';
import type { InspectedOpening, SeenFault, Whole } from '../../scan/inspect/judge.js';
import { medianOf } from '../../scan/picture/robust.js';
import { count } from '../../text.js';

/** An opening with the name it has in the artwork, or on a sheet. */
export type Told = Omit<InspectedOpening, 'number' | 'bridgedWith'> & {
  readonly number: number | string;
  readonly bridgedWith?: number | string;
};

/** Of a stencil that was cut to its end so many of the openings are seen, whatever is wrong with it. */
const MOSTLY_CUT = 0.6;

/** Marks, holes, letters and witness are looked at by eye, or read by `scan`: what matters is that they came out. */
export function toldOfMarks(marks: readonly Told[], file: string): Warning[] {
  const gone = marks.filter(({ faults }) => faults.length > 0);
  const listed = gone.slice(0, 8).map(({ number, faults: [fault], at: [x, y] }) => `${number} ${fault}, at ${x.toFixed(1)}, ${y.toFixed(1)} mm`); // biome-ignore format: one line
  return warningsIf(file, [
    [
      gone.length,
      'INSPECT_MARKS',
      `${gone.length} of ${marks.length} openings that are no paste (marks, holes, letters, witness) did not come out: ${listed.join('; ')}${gone.length > 8 ? '; ...' : ''}.`,
      'Look whether it matters; the paste is judged without them.',
    ],
  ]);
}

/** @param onlyWalls - the stencil is there, of film as clear as its openings */
export function notThere(file: string, blobs: number, openings: number, onlyWalls: boolean): InputError {
  if (onlyWalls)
    return new InputError({
      code: 'INSPECT_CLEAR_FILM',
      place: { file },
      message:
        'the film is as bright as its openings, so that only the walls show, as lines: what is open between them can not be told.',
      hint: 'Lay a dark sheet behind film that is white or coloured; rub a black marker over clear film after cutting, and scan it with white behind.',
    });
  const [unlike, few] =
    openings < LEAST_SEEN
      ? [
          `none of them looks like its ${count(openings, 'opening')}, by size and outline`,
          ' So few openings are known by their outlines alone: a fault in one of them, or the side of the picture, can hide them. Look at them with a loupe, or cut them with marks by `apertrue layout`.',
        ]
      : [`they do not lie as its ${openings} openings do`, ''];
  return new InputError({
    code: 'SCAN_NO_COUPON',
    place: { file },
    message: `the stencil was not found: ${blobs} things stand out from the film, and ${unlike}.`,
    hint: `Check the job, the resolution (--dpi), and that film and openings differ in brightness.${few}`,
  });
}

/** Another place in the picture is as likely. @throws {InputError} INSPECT_SEVERAL when nothing tells which one is meant */
export function toldOfTwice({ twice }: Recognised, openings: number, file: string): Warning[] {
  if (twice && openings < LEAST_SEEN)
    throw new InputError({
      code: 'INSPECT_SEVERAL',
      place: { file },
      message: `more than one place in the picture looks like the stencil with its ${count(openings, 'opening')}.`,
      hint: 'Scan it alone, on clean glass.',
    });
  return warningsIf(file, [
    [
      twice,
      'SCAN_TWICE',
      'more than one stencil like this one lies in the picture: only one of them was inspected.',
      'Scan each alone, or cut the picture up; the page that was written shows which one it was.',
    ],
  ]);
}

/** A film of which so little is there that it may be another one. */
export function toldOfHalf({ seen, expected }: Recognised, file: string): Warning[] {
  return warningsIf(file, [
    [
      seen < MOSTLY_CUT * expected,
      'INSPECT_HALF',
      `only ${seen} of the ${expected} openings were seen where the stencil has them: the laser stopped before it was done, or the film is that of another job.`,
      'Look at the page that was written before you cut again.',
    ],
  ]);
}

/** What looks the same laid otherwise. */
export function toldOfAlike({ alike = [], seenAt }: Recognised, file: string): Warning[] {
  const others = alike.filter(({ partner }) => partner.some((j, i) => j !== i));
  if (others.length === 0) return [];
  const turns = others.flatMap(({ map, mirrored }) =>
    mirrored ? [] : [Math.round((Math.atan2(map.c, map.a) * 180) / Math.PI + 360) % 360],
  );
  const ways = [
    ...(others.some(({ mirrored }) => mirrored) ? ['upside down'] : []),
    ...(turns.length > 3 ? [`turned in ${turns.length} ways`] : turns.map((turn) => `turned by ${turn} degrees`)),
  ];
  return [
    {
      code: 'INSPECT_ALIKE',
      place: { file },
      message: `the stencil looks the same ${ways.join(', or ')}; it was taken to lie right side up, turned as little as may be. If it lay otherwise, the ${count(seenAt.length, 'number')} are those of the openings opposite.`,
      hint: 'Lay it on the glass as the artwork lies, seen from the squeegee side, or cut it with marks by `apertrue layout`.',
    },
  ];
}

/** Whether what looks the same laid otherwise has X where the other one has Y. */
export const isAlikeAcross = ({ alike = [] }: Recognised): boolean =>
  alike.some(({ map: { a, b } }) => Math.abs(b) > 0.1 * Math.abs(a));

const percent = (share: number): string => {
  const text = (100 * share).toFixed(2).replace(/^-0\.00$/, '0.00');
  return `${text.startsWith('-') ? '' : '+'}${text} %`;
};

/** The verdict on the openings, and how the whole comes out. */
export function wholeWords(own: string, whole: Whole): string {
  const { scaleX, scaleY, shear, wrong, judgedFromMm } = whole;
  const size = `along X ${percent(scaleX - 1)}, along Y ${percent(scaleY - 1)}, shear ${percent(shear)}`;
  if (!wrong)
    return `${own} Size of the whole by the scanner's own scale: ${size} (judged from ${judgedFromMm.map((mm) => mm.toFixed(2)).join(' and ')} mm on: measure a long span with a caliper).`;
  const rest = own.startsWith('Go: ') ? `Each by itself: ${own.slice(4)}` : own.replace(/^No-go: /, '');
  return `No-go: the stencil as a whole is not as asked (${size}). ${rest}`;
}

/** Most openings are off the same way: one cause, and no fault of each. */
export function toldOfMost(openings: readonly Told[], file: string): Warning[] {
  const middle = (side: 'widthMm' | 'heightMm'): number =>
    medianOf(openings.flatMap(({ asked, [side]: mm }) => (mm === undefined ? [] : 1000 * (mm - asked[side]))));
  const differ = (um: number, more: string, less: string): string =>
    `${Math.abs(um).toFixed(0)} µm ${um < 0 ? less : more}`;
  const isMost = (...kinds: SeenFault[]): boolean =>
    openings.length >= LEAST_SEEN &&
    2 * openings.filter(({ faults }) => faults.some((fault) => kinds.includes(fault))).length > openings.length;
  const most = isMost('too large') ? 'too large' : isMost('too small', 'partly closed') ? 'too small' : undefined;
  if (!most) return [];
  const cause = most === 'too large' ? 'with more power or less speed than the coupons, on another film, or twice' : 'with less power or more speed than the coupons, out of focus, or on another film'; // biome-ignore format: one thought
  return [
    {
      code: 'INSPECT_MOST',
      place: { file },
      message: `most openings are ${most}: in the middle of all, ${differ(middle('widthMm'), 'wider', 'narrower')} and ${differ(middle('heightMm'), 'higher', 'lower')} than asked. Likely it was cut ${cause}.`,
      hint: 'Look at power, speed, passes, focus and film before you cut it again. If they are those of the coupons, the machine has changed: cut and read coupons anew.',
    },
  ];
}

/** The stencil as a whole is off by more than a scanner can be. */
export function toldOfWhole(whole: Whole | undefined, file: string): Warning[] {
  const mm = (value: number): string =>
    Math.abs(value) < 0.005 ? 'right' : `${Math.abs(value).toFixed(2)} mm too ${value < 0 ? 'short' : 'long'}`;
  return present(
    whole?.wrong && {
      code: 'INSPECT_WHOLE',
      place: { file },
      message: `the stencil as a whole comes out ${mm(whole.longerMm)} along X and ${mm(whole.higherMm)} along Y, its verticals lean by ${Math.abs(whole.leanMm).toFixed(2)} mm.`,
      hint: 'Measure a long span with a caliper. If that is right, the picture does not have the resolution that it says: give --dpi; else the job was cut at another size than its picture says.',
    },
  );
}

export const toldOfPlaces = (placed: boolean, file: string): Warning[] =>
  warningsIf(file, [
    [
      !placed,
      'INSPECT_NO_PLACES',
      'fewer than three openings have about the area that was asked, so that nothing tells where each should lie: places were not judged.',
      'Measure their distance with a caliper, where it matters.',
    ],
  ]);

export function cutOff(file: string): InputError {
  return new InputError({
    code: 'SCAN_CLIPPED',
    place: { file },
    message: 'film or openings are cut off at the darkest or the brightest level.',
    hint: 'Scan without automatic levels, a little darker or lighter.',
  });
}

/** @param unseen - openings outside of the picture, as they are called */
export function toldOfUnseen(unseen: readonly (number | string)[], file: string): Warning[] {
  const message = `${count(unseen.length, 'opening')} lie outside of the picture.`;
  const numbers = unseen.filter((name) => typeof name === 'number');
  return warningsIf(file, [[unseen.length, 'INSPECT_CUT_OFF', message, 'Scan the whole stencil.', numbers]]);
}
