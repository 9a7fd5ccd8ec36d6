import { InputError } from '../../errors.js';
import type { ReadingSession } from '../../machine/types.js';
import { agreedScales, type Scales } from './agreed-scales.js';
import { contextOf, FAR_SLIPS, likelyCause } from './causes.js';
import type { Observation } from './observations.js';

/** Shorter lengths lie alike on every size of a coupon, mm. */
const LEAST_MM = 5;
/** What machines, kerfs and hands may make of a length beside the scale of its axis. */
const OWN_SHARE = 0.02;
const OWN_MM = 0.3;
const WIDEST_KERF_MM = 1;
/** Fewer lengths tell nothing. */
const LEAST_LENGTHS = 4;
/** A single length that nothing explains may be a slip, and so may one of these. */
const SLIPS_SHARE = 0.1;

/**
 * Refuses readings of another coupon than the features file's, or of another size of it: most are far off their design,
 * and whatever scales the two axes have, some lie far off those, too, as no slip does. Readings that are left out count
 * here: what is left when these are dropped agrees, and is as wrong.
 *
 * @throws {InputError} READINGS_CONTRADICT
 */
export function refuseAnotherCoupon(lengths: readonly Observation[], sessions: readonly ReadingSession[]): void {
  sessions.forEach((session, s) => {
    const own = lengths.filter((one) => one.session === s && one.kind !== 'vernier' && one.nominalMm >= LEAST_MM);
    const off = own.filter((one) => !agrees(one, [1, 1]));
    if (own.length < LEAST_LENGTHS || 2 * off.length <= own.length) return;
    const unexplained = unexplainedBy(own, agreedScales(own, agrees) ?? [1, 1]);
    if (unexplained < 2 || unexplained <= SLIPS_SHARE * own.length) return;
    const shares = off.map(({ valueMm, nominalMm }) => valueMm / nominalMm);
    const [least, most] = [Math.min(...shares), Math.max(...shares)].map((share) => share.toFixed(2));
    throw new InputError({
      code: 'READINGS_CONTRADICT',
      place: { file: session.readings[0]?.file },
      message: `${off.length} of ${own.length} lengths are far off those designed for ${session.coupon}, ${least} to ${most} times as long, and no scale of X and Y explains that: they are probably of another coupon, or of another size of it.`,
      hint: `${canvasSentence(session)} Neither leaving readings out nor the robust answer makes a profile of these.`,
    });
  });
}

const lengthBy = ({ dx, dy }: Observation, [x, y]: Scales): number => Math.hypot(x * dx, y * dy);

function toleranceOf({ kind }: Observation, expectedMm: number): number {
  return OWN_SHARE * expectedMm + OWN_MM + (kind === 'span' ? 0 : WIDEST_KERF_MM);
}

function agrees(length: Observation, scales: Scales): boolean {
  const expectedMm = lengthBy(length, scales);
  return Math.abs(length.valueMm - expectedMm) <= toleranceOf(length, expectedMm);
}

/** How many are neither what the scales make of their design nor a slip that has a name. */
function unexplainedBy(lengths: readonly Observation[], scales: Scales): number {
  const context = contextOf(lengths, [...scales, 0, 0, 0], toleranceOf);
  return [...context.outliers].filter((i) => !FAR_SLIPS.includes(likelyCause(i, context).cause)).length;
}

const sizeOf = ({ widthMm, heightMm }: NonNullable<ReadingSession['canvas']>): string =>
  `${widthMm.toFixed(1)} x ${heightMm.toFixed(1)} mm`;

/** How to see whether a film is what a features file describes. */
export function canvasSentence({ coupon, canvas }: Pick<ReadingSession, 'coupon' | 'canvas'>): string {
  return canvas
    ? `By its features file ${coupon} was made for a canvas of ${sizeOf(canvas)}: hold that against the bed or film it was cut on, and lay the features file of the coupon that was read beside the readings.`
    : 'Hold the lengths in the features file against the worksheet of the coupon that was read.';
}

/** Canvases whose sides differ by less are one: they are rounded to whole dots, mm. */
const ONE_CANVAS_MM = 1;

/** What coupons of unlike canvases deserve to be told when their readings do not belong together; undefined for like ones. */
export function otherCanvas(sessions: readonly ReadingSession[]): string | undefined {
  // A witness lies wherever a sheet has room for it.
  const sized = sessions.flatMap(({ coupon, canvas }) => (canvas && coupon !== 'witness' ? [{ coupon, canvas }] : []));
  const [first] = sized;
  const other = sized.find(({ canvas }) =>
    (['widthMm', 'heightMm'] as const).some((side) => Math.abs(canvas[side] - first.canvas[side]) > ONE_CANVAS_MM),
  );
  return (
    other &&
    `${first.coupon} was made for a canvas of ${sizeOf(first.canvas)}, ${other.coupon} for one of ${sizeOf(other.canvas)}: were both cut by one laser? If not, fit each with its own.`
  );
}
