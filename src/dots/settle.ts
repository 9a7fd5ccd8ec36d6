import type { ChosenDots } from './beam-grid.js';
import type { GriddedShape, Outer } from './lay-on-grid.js';

/** What {@link settle} may change, and what it goes by. */
export interface Terms {
  /** Area that should be burnt, dots squared. */
  readonly areaGoal: number;
  /** What a wrong area counts beside a misfit. */
  readonly areaWeight: number;
  /** Whether dots may come; what is burnt may always go. */
  mayCome(orbit: number): boolean;
  mayGo(orbit: number): boolean;
  /** Whether what has changed holds together. */
  stands(): boolean;
}

/** Dots of which a shape covers less do not come back by themselves once they have gone: they stick out of it. */
const LEAST_COVER = 0.1;

/**
 * Takes away and adds outer dots, equals together, as long as the cut comes nearer to what it should be, nothing falls
 * apart and nothing closes. What lies beside a change is looked at again, so that stairs are walked from their ends.
 *
 * @param from - numbers of the orbits to begin with
 */
export function settle(laid: GriddedShape, grid: ChosenDots, from: readonly number[], terms: Terms): void {
  const { outer } = laid;
  const score = (): number => grid.misfit + terms.areaWeight * Math.abs(grid.area - terms.areaGoal);
  // Without a beam every dot of a line as thin as a dot looks needless, and no line is shortened for the area.
  const ends = grid.hasBeam && terms.areaWeight === 0;
  let now = score();
  // Those that wait for this round and for the next one, the least first.
  let [round, next] = [new Uint8Array(outer.length), new Uint8Array(outer.length)];
  for (const k of from) next[k] = 1;
  while (next.includes(1)) {
    [round, next] = [next, round];
    for (let k = round.indexOf(1); k >= 0; k = round.indexOf(1, k + 1)) {
      round[k] = 0;
      const orbit = outer[k];
      const burnt = grid.mask[orbit.dots[0]] === 1;
      if (
        burnt
          ? !terms.mayGo(k) || !canGo(laid, grid.mask, orbit, ends)
          : orbit.cover < LEAST_COVER || !terms.mayCome(k) || !canCome(laid, grid.mask, orbit)
      )
        continue;
      grid.toggle(orbit);
      const then = score();
      if (then < now - 1e-9 && terms.stands()) {
        now = then;
        for (const beside of besides(laid, orbit)) next[beside] = 1;
      } else grid.toggle(orbit);
    }
  }
}

/** Numbers of the orbits that have a dot beside or at a corner of one of these. */
export function besides({ columns, orbitAt }: GriddedShape, { dots }: Outer): number[] {
  const found: number[] = [];
  for (const dot of dots) {
    for (const step of [-columns - 1, -columns, 1 - columns, -1, 1, columns - 1, columns, columns + 1]) {
      const orbit = orbitAt.get(dot + step);
      if (orbit !== undefined) found.push(orbit);
    }
  }
  return found;
}

/** No straight wall lies farther in than this for the area of another, dots. */
const WALL_OFF_DOTS = 0.5;

/**
 * Whether all dots of an orbit stick out at corners, one after the other, and can go without tearing anything.
 *
 * @param ends - whether the last dot of a line as thin as a dot may go
 */
export function canGo(laid: GriddedShape, mask: Uint8Array, { dots, cover, isWall }: Outer, ends: boolean): boolean {
  if (isWall && cover > WALL_OFF_DOTS) return false;
  return canTurn(laid, mask, dots, 1, ends);
}

/** Whether all dots of an orbit fill corners, one after the other, without closing anything. */
export function canCome(laid: GriddedShape, mask: Uint8Array, { dots, needs }: Outer): boolean {
  for (const dot of needs) if (mask[dot] === 0) return false;
  for (const dot of dots) if (beside(laid, mask, dot) === 0) return false;
  return canTurn(laid, mask, dots, 0, true);
}

function canTurn(
  { columns }: GriddedShape,
  mask: Uint8Array,
  dots: readonly number[],
  from: 0 | 1,
  ends: boolean,
): boolean {
  let turned = 0;
  while (turned < dots.length && mask[dots[turned]] === from && freeCorner(mask, columns, dots[turned], ends)) {
    mask[dots[turned]] = 1 - from;
    turned += 1;
  }
  for (let i = 0; i < turned; i += 1) mask[dots[i]] = from;
  return turned === dots.length;
}

/**
 * Whether a burnt dot sticks out at a corner and can go without anything falling apart, corners counting as joined, or
 * an island growing together with what is around.
 *
 * @param ends - whether the last dot of a thin line may go too
 * @remarks Yokoi's connectivity number for eight neighbours is 1 for such dots (Yokoi, Toriwaki and Fukumura, "An
 * analysis of topological properties of digitized binary pictures using local features", Computer Graphics and Image
 * Processing 4 (1975)).
 */
function freeCorner(mask: Uint8Array, columns: number, dot: number, ends: boolean): boolean {
  // 1 for film, in turn from the right over the upper right; named one by one, because this is asked millions of times.
  const f0 = 1 - mask[dot + 1];
  const f2 = 1 - mask[dot - columns];
  const f4 = 1 - mask[dot - 1];
  const f6 = 1 - mask[dot + columns];
  if (f0 + f4 === 0 || f2 + f6 === 0) return false;
  const f1 = 1 - mask[dot - columns + 1];
  const f3 = 1 - mask[dot - columns - 1];
  const f5 = 1 - mask[dot + columns - 1];
  const f7 = 1 - mask[dot + columns + 1];
  if (!ends && f0 + f1 + f2 + f3 + f4 + f5 + f6 + f7 > 6) return false;
  return f0 - f0 * f1 * f2 + f2 - f2 * f3 * f4 + f4 - f4 * f5 * f6 + f6 - f6 * f7 * f0 === 1;
}

/** How many burnt dots lie beside one. */
const beside = ({ columns }: GriddedShape, mask: Uint8Array, dot: number): number =>
  mask[dot - 1] + mask[dot + 1] + mask[dot - columns] + mask[dot + columns];

/** Whether dots fill a corner of burnt ones, or the whole of a straight wall, and so stand out from nothing. */
export function fillsCorner(laid: GriddedShape, mask: Uint8Array, { dots, isWall }: Outer): boolean {
  return isWall || dots.every((dot) => beside(laid, mask, dot) > 1);
}
