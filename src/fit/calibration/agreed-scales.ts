import type { Observation } from './observations.js';

/** Film mm per commanded mm along X and along Y. */
export type Scales = readonly [x: number, y: number];

/** Shorter lengths tell no scale beside the kerf, mm. */
const LEAST_MM = 5;
/** Scales of a machine and a program together: from "inches taken as mm" to "mm taken as inches", with room. */
const SCALE_REACH = 60;
/** Scales of the two axes: programs take dots as square that aren't, or one axis has other steps. */
const AXES_REACH = 5;

/**
 * The scales that most readings can have, before any statistics: each that a long reading has is tried, along X and along
 * Y; of equals the one nearest to 1.
 *
 * @param fits - whether a reading can be so, by scales of its axes
 * @returns undefined when no reading fits any
 */
export function agreedScales(
  lengths: readonly Observation[],
  fits: (length: Observation, scales: Scales) => boolean,
): Scales | undefined {
  const read = lengths.filter(({ kind }) => kind !== 'vernier');
  const slanted = read.filter(({ dx, dy }) => dx !== 0 && dy !== 0);
  const agreed = (own: readonly Observation[], spare: readonly number[] = []) =>
    [...new Set([1, ...ratiosOf(own), ...spare])]
      .filter((scale) => off(scale) <= Math.log(SCALE_REACH))
      .map((scale) => ({ scale, count: own.filter((one) => fits(one, [scale, scale])).length }))
      .filter(({ count }) => count > 0)
      .sort((a, b) => b.count - a.count || off(a.scale) - off(b.scale))[0];
  const [x, y] = (['dy', 'dx'] as const).map((across) => agreed(read.filter((one) => one[across] === 0), ratiosOf(slanted))); // biome-ignore format: two calls
  if (!x || !y) {
    const only = x ?? y ?? agreed(slanted);
    return only && [only.scale, only.scale];
  }
  if (off(x.scale / y.scale) <= Math.log(AXES_REACH)) return [x.scale, y.scale];
  // One axis can't be ten times the other: the one that fewer readings speak for follows.
  const { scale } = x.count >= y.count ? x : y;
  return [scale, scale];
}

const off = (scale: number): number => Math.abs(Math.log(scale));

const ratiosOf = (lengths: readonly Observation[]): number[] =>
  lengths.flatMap(({ kind, valueMm, nominalMm, dx, dy }) =>
    valueMm > 0 && (kind === 'span' || nominalMm >= LEAST_MM) ? valueMm / Math.hypot(dx, dy) : [],
  );

/** No usable cut is wider, mm. */
const WIDEST_KERF_MM = 1;
/** A machine's own error, and a wrong edge by a slot's width: what statistics can judge. */
const OWN_SHARE = 0.05;
const WRONG_EDGE_MM = 2.5;
/** Shear may be so large a share of the scale. */
const SHEAR_REACH = 0.2;
/** A wide gauge's scatter, mm. */
const GAUGE_MM = 0.1;

/**
 * Holds readings against what can be, before any statistics: every span is its design times one scale, every opening
 * wider than its design by no more than a cut, every web narrower. A slip of the decimal point, inches, a wrong row
 * can't be a machine's doing, and two or three readings are enough to see it.
 *
 * @returns places of readings that can't be, whatever the machine; undefined when no pair of scales explains more than half of them
 */
export function impossibleAmong(lengths: readonly Observation[]): number[] | undefined {
  const scales = agreedScales(lengths, canBe);
  if (!scales) return lengths.every(({ kind }) => kind === 'vernier') ? [] : undefined;
  const impossible = [...lengths.keys()].filter((i) => !canBe(lengths[i], scales));
  const few = lengths.length === 1 || 2 * impossible.length < lengths.length;
  return few ? impossible : undefined;
}

/** Whether a machine of these scales may give a reading. */
export function canBe(
  { kind, dx, dy, valueMm, resolutionMm }: Pick<Observation, 'kind' | 'dx' | 'dy' | 'valueMm' | 'resolutionMm'>,
  [scaleX, scaleY]: Scales,
): boolean {
  if (kind === 'vernier') return true;
  if (!(valueMm > 0)) return false;
  const film = Math.hypot(scaleX * dx, scaleY * dy);
  const own = (OWN_SHARE + (dx !== 0 && dy !== 0 ? SHEAR_REACH : 0)) * film + resolutionMm;
  const off = valueMm - film;
  if (kind === 'span') return Math.abs(off) <= own + Math.min(WRONG_EDGE_MM, film / 2);
  const wider = kind === 'opening' ? off : -off;
  return wider >= -own - GAUGE_MM && wider <= WIDEST_KERF_MM + own + GAUGE_MM;
}
