import { BUILT_IN_PATTERNS } from '../../coupon/built-in.js';
import type { Feature, FeaturesFile } from '../../coupon/features.js';
import { generateCoupon } from '../../coupon/generate.js';
import type { Pattern } from '../../coupon/pattern.js';
import type { CouponOptions } from '../../coupon/types.js';
import { InputError, undefinedIfRefused } from '../../errors.js';
import type { Opening } from '../../geometry/types.js';

/** Room for labels that coupons are made with; the usual one first. */
const KERF_ALLOWANCES_MM = [0.2, 0.1, 0.15, 0.25, 0.3, 0.05, 0.4];
/** Places in features files may be rounded to this, mm. */
const SAME_PLACE_MM = 1e-3;

/**
 * All openings of the coupon that a features file belongs to, laid out anew from its pattern: labels are part of what
 * tells a coupon, and they are not in the features file.
 *
 * @param patterns - patterns that are not built in
 * @throws {InputError} SCAN_PATTERN
 */
export async function couponOpenings(
  features: FeaturesFile,
  patterns: readonly Pattern[],
): Promise<readonly Opening[]> {
  const { coupon, canvas } = features;
  const pattern = patterns.find(({ name }) => name === coupon) ?? BUILT_IN_PATTERNS.find((name) => name === coupon);
  if (pattern === undefined) throw unknown(coupon, `its pattern "${coupon}" is not built in`);
  const cells = features.features.filter((feature) => feature.kind === 'cell');
  const options: CouponOptions = {
    // A canvas is a whole number of dots; half a dot more is lost again.
    widthMm: canvas.widthMm + canvas.pitchXMm / 2,
    heightMm: canvas.heightMm + canvas.pitchYMm / 2,
    pitchXMm: canvas.pitchXMm,
    pitchYMm: canvas.pitchYMm,
    ...(cells.length > 0 && {
      powersPercent: [...new Set(cells.map(({ powerPercent }) => powerPercent))],
      speedsMmS: [...new Set(cells.map(({ speedMmS }) => speedMmS))],
    }),
  };
  for (const kerfAllowanceMm of KERF_ALLOWANCES_MM) {
    const made = await generateCoupon(pattern, { ...options, kerfAllowanceMm }).catch(undefinedIfRefused);
    if (made && sameFeatures(made.features.features, features.features)) return made.openings;
  }
  throw unknown(coupon, `the pattern "${coupon}" gives other features on this canvas`);
}

function unknown(coupon: string, why: string): InputError {
  return new InputError({
    code: 'SCAN_PATTERN',
    message: `the openings of ${coupon} are not known: ${why}.`,
    hint: 'Give the pattern file that the coupon was made from with --pattern.',
  });
}

function sameFeatures(made: readonly Feature[], wanted: readonly Feature[]): boolean {
  const byId = new Map(made.map((feature) => [feature.id, feature]));
  return wanted.every((feature) => {
    const own = byId.get(feature.id);
    if (own?.kind !== feature.kind) return false;
    const [a, b] = [own, feature].map(placesOf);
    return a.every((value, i) => Math.abs(value - b[i]) <= SAME_PLACE_MM);
  });
}

const placesOf = (feature: Feature): readonly number[] =>
  'from' in feature ? [...feature.from, ...feature.to] : feature.box;
