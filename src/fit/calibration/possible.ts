import type { Observation } from './observations.js';

/** Scales of a machine and a program together: from "inches taken as mm" to "mm taken as inches", with room. */
const SCALE_REACH = 60;
/** No usable cut is wider, mm. */
const WIDEST_KERF_MM = 1;
/** Scales of the two axes: programs take dots as square that aren't, or one axis has other steps. */
const AXES_REACH = 5;
/** A machine's own error, and a wrong edge by a slot's width: what statistics can judge. */
const OWN_SHARE = 0.05;
const WRONG_EDGE_MM = 2.5;
/** Shear may be so large a share of the scale. */
const SHEAR_REACH = 0.2;
/** A wide gauge's scatter, mm. */
const GAUGE_MM = 0.1;

export interface Possible {
  /** Film mm per commanded mm that most readings agree with. */
  readonly scaleX: number;
  readonly scaleY: number;
  /** Places of readings that can't be, whatever the machine. */
  readonly impossible: readonly number[];
}

/**
 * Holds readings against what can be, before any statistics: every span is its design times one scale, every opening
 * wider than its design by no more than a cut, every web narrower. A slip of the decimal point, inches, a wrong row
 * can't be a machine's doing, and two or three readings are enough to see it.
 *
 * @returns undefined when no pair of scales explains more than half of the readings
 */
export function possibleReadings(lengths: readonly Observation[]): Possible | undefined {
  const alongX = lengths.filter(({ kind, dy }) => kind !== 'vernier' && dy === 0);
  const alongY = lengths.filter(({ kind, dx }) => kind !== 'vernier' && dx === 0);
  const slanted = lengths.filter(({ kind, dx, dy }) => kind !== 'vernier' && dx !== 0 && dy !== 0);
  const spare = ratiosOf(slanted);
  let [x, y] = [agreed(alongX, spare), agreed(alongY, spare)];
  if (!x && !y) {
    const all = agreed(slanted, []);
    if (!all)
      return lengths.every(({ kind }) => kind === 'vernier') ? { scaleX: 1, scaleY: 1, impossible: [] } : undefined;
    [x, y] = [all, all];
  }
  let scaleX = (x ?? y)!.scale;
  let scaleY = (y ?? x)!.scale;
  if (x && y && Math.abs(Math.log(scaleX / scaleY)) > Math.log(AXES_REACH)) {
    // One axis can't be ten times the other: the one that fewer readings speak for follows.
    if (x.count >= y.count) scaleY = scaleX;
    else scaleX = scaleY;
  }
  const can = lengths.map((length) => canBe(length, scaleX, scaleY));
  const count = can.filter(Boolean).length;
  if (2 * count <= lengths.length && lengths.length > 1) return undefined;
  return { scaleX, scaleY, impossible: can.flatMap((is, i) => (is ? [] : [i])) };
}

function ratiosOf(lengths: readonly Observation[]): number[] {
  return lengths
    .filter(({ kind, valueMm }) => kind === 'span' && valueMm > 0)
    .map(({ valueMm, dx, dy }) => valueMm / Math.hypot(dx, dy));
}

/** The scale that most readings of one axis can have; of equals the one nearest to 1. */
function agreed(
  lengths: readonly Observation[],
  spare: readonly number[],
): { readonly scale: number; readonly count: number } | undefined {
  if (lengths.length === 0) return undefined;
  const own = ratiosOf(lengths);
  let best: { scale: number; count: number } | undefined;
  for (const scale of [...new Set([1, ...own, ...spare])]) {
    if (Math.abs(Math.log(scale)) > Math.log(SCALE_REACH)) continue;
    const count = lengths.filter((length) => canBe(length, scale, scale)).length;
    const nearer = best && Math.abs(Math.log(scale)) < Math.abs(Math.log(best.scale));
    if (count > 0 && (!best || count > best.count || (count === best.count && nearer))) best = { scale, count };
  }
  return best;
}

function canBe({ kind, dx, dy, valueMm, resolutionMm }: Observation, scaleX: number, scaleY: number): boolean {
  if (kind === 'vernier') return true;
  if (!(valueMm > 0)) return false;
  const film = Math.hypot(scaleX * dx, scaleY * dy);
  const own = (OWN_SHARE + (dx !== 0 && dy !== 0 ? SHEAR_REACH : 0)) * film + resolutionMm;
  const off = valueMm - film;
  if (kind === 'span') return Math.abs(off) <= own + Math.min(WRONG_EDGE_MM, film / 2);
  const wider = kind === 'opening' ? off : -off;
  return wider >= -own - GAUGE_MM && wider <= WIDEST_KERF_MM + own + GAUGE_MM;
}
