import { InputError, type Warning, warningsIf } from '../../errors.js';
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
export function refuseSeveral({ twice }: Recognised, openings: number, file: string): void {
  if (!twice || openings >= LEAST_SEEN) return;
  throw new InputError({
    code: 'INSPECT_SEVERAL',
    place: { file },
    message: `more than one place in the picture looks like the stencil with its ${count(openings, 'opening')}.`,
    hint: 'Scan it alone, on clean glass.',
  });
}

/** What an inspection came to. */
interface Looked {
  readonly recognised: Recognised;
  readonly whole: Whole | undefined;
  /** Paste. */
  readonly inspected: readonly Told[];
  /** Marks, holes, letters and witness are looked at by eye, or read by `scan`: what matters is that they came out. */
  readonly besides: readonly Told[];
  /** Whether there was enough to tell where each should lie. */
  readonly isPlaced: boolean;
}

/** What is to be said of the film as a whole, and of what could not be judged. */
export function toldOfFilm({ recognised, whole, inspected, besides, isPlaced }: Looked, file: string): Warning[] {
  const { twice, seen, expected, seenAt } = recognised;
  const ways = waysAlike(recognised);
  const most = mostAre(inspected);
  const gone = besides.filter(({ faults }) => faults.length > 0);
  const listed = gone.slice(0, 8).map(({ number, faults: [fault], at: [x, y] }) => `${number} ${fault}, at ${x.toFixed(1)}, ${y.toFixed(1)} mm`); // biome-ignore format: one line
  const unseen = inspected.flatMap(({ unseen, number }) => (unseen ? [number] : []));
  return warningsIf(file, [
    [
      twice,
      'SCAN_TWICE',
      'more than one stencil like this one lies in the picture: only one of them was inspected.',
      'Scan each alone, or cut the picture up; the page that was written shows which one it was.',
    ],
    [
      seen < MOSTLY_CUT * expected,
      'INSPECT_HALF',
      `only ${seen} of the ${expected} openings were seen where the stencil has them: the laser stopped before it was done, or the film is that of another job.`,
      'Look at the page that was written before you cut again.',
    ],
    [
      ways.length,
      'INSPECT_ALIKE',
      `the stencil looks the same ${ways.join(', or ')}; it was taken to lie right side up, turned as little as may be. If it lay otherwise, the ${count(seenAt.length, 'number')} are those of the openings opposite.`,
      'Lay it on the glass as the artwork lies, seen from the squeegee side, or cut it with marks by `apertrue layout`.',
    ],
    [
      whole?.wrong,
      'INSPECT_WHOLE',
      whole ? wholeIs(whole) : '',
      'Measure a long span with a caliper. If that is right, the picture does not have the resolution that it says: give --dpi; else the job was cut at another size than its picture says.',
    ],
    [
      most,
      'INSPECT_MOST',
      `most openings are ${most}.`,
      'Look at power, speed, passes, focus and film before you cut it again. If they are those of the coupons, the machine has changed: cut and read coupons anew.',
    ],
    [
      !isPlaced,
      'INSPECT_NO_PLACES',
      'fewer than three openings have about the area that was asked, so that nothing tells where each should lie: places were not judged.',
      'Measure their distance with a caliper, where it matters.',
    ],
    [
      unseen.length,
      'INSPECT_CUT_OFF',
      `${count(unseen.length, 'opening')} lie outside of the picture.`,
      'Scan the whole stencil.',
      unseen.filter((name) => typeof name === 'number'),
    ],
    [
      gone.length,
      'INSPECT_MARKS',
      `${gone.length} of ${besides.length} openings that are no paste (marks, holes, letters, witness) did not come out: ${listed.join('; ')}${gone.length > 8 ? '; ...' : ''}.`,
      'Look whether it matters; the paste is judged without them.',
    ],
  ]);
}

/** Ways to lay it in which it looks the same. */
function waysAlike({ alike = [] }: Recognised): string[] {
  const others = alike.filter(({ partner }) => partner.some((j, i) => j !== i));
  const turns = others.flatMap(({ map, mirrored }) =>
    mirrored ? [] : [Math.round((Math.atan2(map.c, map.a) * 180) / Math.PI + 360) % 360],
  );
  return [
    ...(others.some(({ mirrored }) => mirrored) ? ['upside down'] : []),
    ...(turns.length > 3 ? [`turned in ${turns.length} ways`] : turns.map((turn) => `turned by ${turn} degrees`)),
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

/** What most openings are, where they are off the same way: one cause, and no fault of each. */
function mostAre(openings: readonly Told[]): string | undefined {
  const middle = (side: 'widthMm' | 'heightMm'): number =>
    medianOf(openings.flatMap(({ asked, [side]: mm }) => (mm === undefined ? [] : 1000 * (mm - asked[side]))));
  const differ = (um: number, more: string, less: string): string =>
    `${Math.abs(um).toFixed(0)} µm ${um < 0 ? less : more}`;
  const isMost = (...kinds: SeenFault[]): boolean =>
    openings.length >= LEAST_SEEN &&
    2 * openings.filter(({ faults }) => faults.some((fault) => kinds.includes(fault))).length > openings.length;
  const most = isMost('too large') ? 'too large' : isMost('too small', 'partly closed') ? 'too small' : undefined;
  const cause = most === 'too large' ? 'with more power or less speed than the coupons, on another film, or twice' : 'with less power or more speed than the coupons, out of focus, or on another film'; // biome-ignore format: one thought
  return (
    most &&
    `${most}: in the middle of all, ${differ(middle('widthMm'), 'wider', 'narrower')} and ${differ(middle('heightMm'), 'higher', 'lower')} than asked. Likely it was cut ${cause}`
  );
}

/** How a stencil is off as a whole by more than a scanner can be. */
function wholeIs({ longerMm, higherMm, leanMm }: Whole): string {
  const mm = (value: number): string =>
    Math.abs(value) < 0.005 ? 'right' : `${Math.abs(value).toFixed(2)} mm too ${value < 0 ? 'short' : 'long'}`;
  return `the stencil as a whole comes out ${mm(longerMm)} along X and ${mm(higherMm)} along Y, its verticals lean by ${Math.abs(leanMm).toFixed(2)} mm.`;
}

export function cutOff(file: string): InputError {
  return new InputError({
    code: 'SCAN_CLIPPED',
    place: { file },
    message: 'film or openings are cut off at the darkest or the brightest level.',
    hint: 'Scan without automatic levels, a little darker or lighter.',
  });
}
