import { InputError, type Warning } from '../../errors.js';
import { KERF_SIGN } from '../../fit/calibration/design.js';
import { mean } from '../../fit/statistics/averages.js';
import { present } from '../../kept.js';
import {
  fitScanner,
  isOf,
  type Reference,
  type ScannedLength,
  type SeenBy,
  scaleUncertainty,
  trueLength,
  USUAL_SCALE,
} from './scanner.js';

/** Farther off is no scanner: the reading is a slip, or the resolution is not that of the picture. */
const MOST_SCALE = 0.02;
/** From a standard uncertainty to a limit of error (GUM 4.3.7). */
const LIMIT_OF_SD = Math.sqrt(3);

export interface CheckedReferences {
  readonly warnings: readonly Warning[];
  /** What no other reading checks, in words. */
  readonly unchecked: readonly string[];
  /** The same, one that is likely a slip as unsure as it would be then: all scales hang on it. */
  readonly believed: readonly Reference[];
}

/**
 * Holds what was read with another gauge against what scanners usually are, and against each other. A single span sets the
 * scale of everything, so a slip in it that a scanner might be off by can't show.
 *
 * @throws {InputError} SCAN_REFERENCE
 */
export function checkReferences(
  lengths: readonly ScannedLength[],
  references: readonly Reference[],
  seen: SeenBy,
): CheckedReferences {
  const read = references.flatMap((reference): Read[] => {
    const own = lengths.filter((one) => isOf(one, reference));
    return own.length === 0 ? [] : [{ reference, own }];
  });
  const far = seen.unsized ? [] : read.flatMap((one) => againstUsual(one) ?? []);
  const alone = far.map(({ warning }) => warning);
  // Two that say the same of the scanner are no slip.
  const slip = far.length === 1 ? far[0] : undefined;
  const against = read
    .flatMap((one) => againstOthers(one, lengths, references, seen) ?? [])
    .sort((a, b) => b.times - a.times);
  const spans = read.filter(({ reference }) => isSpan(reference));
  const [only, ...others] = spans;
  const isOnly = only && others.length === 0 && only.reference.coupon !== 'rule' && alone.length === 0;
  return {
    // Two that contradict each other do so both ways round.
    warnings: alone.length > 0 ? alone : against.slice(0, 1).map(({ warning }) => warning),
    unchecked: present(isOnly && notShown(only.reference, seen)),
    believed: references.map((one) =>
      slip?.reference === one ? { ...one, uMm: Math.max(one.uMm, slip.off / LIMIT_OF_SD) } : one,
    ),
  };
}

interface Read {
  readonly reference: Reference;
  readonly own: readonly ScannedLength[];
}

const isSpan = ({ feature }: Reference): boolean => feature.kind === 'span';
const roomOf = ({ readingMm, uMm }: Reference): number => USUAL_SCALE * readingMm + LIMIT_OF_SD * uMm;

function notShown(reference: Reference, { unsized }: SeenBy): string {
  const slip = unsized ? 'a slip' : `a slip of up to ${roomOf(reference).toFixed(2)} mm`;
  return `not checked: ${reference.feature.id}; ${slip} may not show (read another span)`;
}

/** How far off the scanner is, if the reading is right. */
function againstUsual({
  reference,
  own,
}: Read): (Read & { readonly warning: Warning; readonly off: number }) | undefined {
  const { readingMm, feature, uMm } = reference;
  if (!isSpan(reference)) return undefined;
  // Turned, it says how far off the scanner is along both axes.
  const [shownMm] = own
    .map(({ lengthMm }) => lengthMm)
    .sort((a, b) => Math.abs(readingMm - b) - Math.abs(readingMm - a));
  const off = Math.abs(readingMm - shownMm);
  if (off < roomOf(reference)) return undefined;
  const percent = ((100 * off) / readingMm).toFixed(1);
  const message = `a picture shows ${feature.id} ${shownMm.toFixed(2)} mm long, and it was read ${readingMm.toFixed(2)}: ${percent} % apart, where scanners are off by ${100 * USUAL_SCALE} % as a rule.`;
  const hint =
    'Read it again, and a second span, too. If both are right, the resolution of the pictures is not (--dpi).';
  if (off > MOST_SCALE * readingMm + LIMIT_OF_SD * uMm)
    throw new InputError({ code: 'SCAN_REFERENCE', place: { key: '--reference' }, message, hint });
  return { reference, own, off, warning: { code: 'SCAN_REFERENCE_FAR', message: `${message} All scales hang on it, and a slip is likely.`, hint } }; // biome-ignore format: one record
}

/** What all other readings make of the same length: spans of each other, openings and webs of the edges' offset. */
function againstOthers(
  { reference, own }: Read,
  lengths: readonly ScannedLength[],
  references: readonly Reference[],
  seen: SeenBy,
): { readonly warning: Warning; readonly times: number } | undefined {
  const { feature, readingMm, uMm } = reference;
  const others = references.filter((one) => one !== reference);
  if (isSpan(reference) && !others.some(isSpan)) return undefined;
  const scanner = fitScanner(lengths, others, seen);
  const sign = KERF_SIGN[feature.kind];
  const shownMm = mean(own.map((one) => trueLength(one.lengthMm, one.direction, scanner))) + sign * scanner.offsetMm;
  const uShown = Math.max(
    ...own.map((one) =>
      Math.hypot(one.uMm, sign * scanner.uOffsetMm, one.lengthMm * scaleUncertainty(one.direction, scanner)),
    ),
  );
  const roomMm = LIMIT_OF_SD * (uMm + uShown);
  const off = Math.abs(readingMm - shownMm);
  if (off < roomMm) return undefined;
  const by = isSpan(reference) ? `by ${others.filter(isSpan).map((one) => one.feature.id).join(', ')} it is` : 'the pictures show'; // biome-ignore format: one thought
  const message = `${feature.id} was read ${readingMm.toFixed(3)} mm, and ${by} ${shownMm.toFixed(3)}: ${(1000 * off).toFixed(0)} µm apart, more than both may be off (${(1000 * roomMm).toFixed(0)}). One of them is a slip.`;
  return {
    warning: { code: 'SCAN_REFERENCE_FAR', message, hint: 'Read them again, and give what was read (--reference).' },
    times: off / roomMm,
  };
}
