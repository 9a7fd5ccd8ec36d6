import type { Warning } from '../errors.js';
import { distanceUncertainty, openingUncertainty } from '../fit/calibration/profile-fit.js';
import type { Box } from '../geometry/types.js';
import { present } from '../kept.js';
import { fieldUncertainty } from '../machine/place-field.js';
import { PARAMETER_NAMES, PARAMETER_TITLES, type PlaceField, type Profile, type ProfileFit } from '../machine/types.js';

/** What a stencil made with a profile can't be: true, where nobody ever read what it is made by. */
export function profileWarnings(profile: Profile, box: Box | undefined): Warning[] {
  const { fit } = profile;
  const unknown = [fit.kerfXMm, fit.kerfYMm].some(({ value, assumed }) => assumed === true && value === 0);
  return present(
    assumedWarning(fit),
    unsureWarning(profile, box),
    unknown && {
      code: 'KERF_UNKNOWN',
      message: 'the kerf was never fitted and is taken as 0: openings will come out too wide by the whole kerf.',
      hint: 'Cut and read an aperture-ladder, and fit again.',
    },
  );
}

/** Numbers that a fit could not tell, and took. Who writes a profile by hand knows what he took. */
function assumedWarning(fit: ProfileFit): Warning | undefined {
  if (fit.model === 'given by hand') return undefined;
  const assumed = PARAMETER_NAMES.filter(
    (name) => fit[name].assumed && !(name.startsWith('kerf') && fit[name].value === 0),
  );
  if (assumed.length === 0) return undefined;
  const list = assumed.map((name) => `${PARAMETER_TITLES[name]} (${Number(fit[name].value.toPrecision(6))})`);
  return {
    code: assumed.some((name) => name !== 'shear') ? 'NUMBERS_ASSUMED' : 'SHEAR_ASSUMED',
    message: `${list.join(', ')} ${list.length === 1 ? 'was' : 'were'} never measured but assumed: how true the stencil is there, nobody knows.`,
    hint: 'Read spans, diagonals and widths across both axes of the coupons, and fit again.',
  };
}

/** Pads this far off where the middle is laid right are missed; openings this much off in width bridge, or starve a pad, mm. */
const FAR_PADS_OFF_MM = 0.1;
const WIDTHS_OFF_MM = 0.05;

/** Numbers that were read, but so roughly that nobody would cut by them. */
function unsureWarning(profile: Profile, box: Box | undefined): Warning | undefined {
  const parts = certaintyOf(profile, box).flatMap(({ axis, lengthMm, lengthUncertaintyMm, widthUncertaintyMm }) => {
    const told = (what: string, mm: number, limit: number): string | false =>
      Number.isFinite(mm) && mm > limit && `${what} across ${axis.toUpperCase()} ± ${mm.toFixed(2)} mm`;
    return present(
      told(`places over ${lengthMm.toFixed(0)} mm`, lengthUncertaintyMm, 2 * FAR_PADS_OFF_MM),
      told('widths', widthUncertaintyMm, WIDTHS_OFF_MM),
    );
  });
  if (parts.length === 0) return undefined;
  return {
    code: 'PROFILE_UNSURE',
    message: `by what was read for the profile, nobody knows this stencil better than: ${parts.join('; ')} (95 %).`,
    hint: 'Read more of the coupons, or with a finer gauge, and fit again: `apertrue fit` says what helps.',
  };
}

/** How sure the profile itself is, 95 %, mm: no stencil is truer. Infinite where a number was assumed. */
export function certaintyOf({ fit, field }: Profile, box: Box = { minX: 0, minY: 0, maxX: 0, maxY: 0 }) {
  const bends = field ? Math.SQRT2 * TWO_SIGMA * worstOf(field) : 0;
  const [widthMm, heightMm] = [box.maxX - box.minX, box.maxY - box.minY];
  return (['x', 'y'] as const).map((axis) => {
    const [lengthMm, acrossMm] = axis === 'x' ? [widthMm, heightMm] : [heightMm, widthMm];
    return {
      axis,
      lengthMm,
      lengthUncertaintyMm: Math.hypot(distanceUncertainty(fit, lengthMm, axis, acrossMm).expandedUncertaintyMm, bends),
      widthUncertaintyMm: openingUncertainty(fit, 0, axis).expandedUncertaintyMm,
    };
  });
}

/** A normal error lies within so many standard deviations 95 % of the time. */
const TWO_SIGMA = 1.96;

/** The largest uncertainty of a place that the bends bring, looked at along the border and in the middle, mm. */
function worstOf(field: PlaceField): number {
  const [x0, y0, x1, y1] = field.areaMm;
  const shares = [0, 0.25, 0.5, 0.75, 1];
  const places = shares.flatMap((u) => shares.map((v) => [x0 + u * (x1 - x0), y0 + v * (y1 - y0)] as const));
  return Math.max(...places.map((at) => fieldUncertainty(field, at)));
}
