import { insidePoint } from '../../geometry/area.js';
import { boxOf } from '../../geometry/bounds.js';
import { move } from '../../geometry/copies.js';
import type { Box, OpeningTag, Point, Region } from '../../geometry/types.js';
import { insideRegion } from '../../geometry/walls.js';

/** One region of one object, where it lies. Copies of an aperture share their region; only what is asked for is moved. */
export class PlacedRegion {
  private kept: Region | undefined;

  constructor(
    private readonly local: Region,
    readonly dx: number,
    readonly dy: number,
    readonly dark: boolean,
    readonly tag: OpeningTag | undefined,
  ) {}

  /** Its region about its own origin; the same object for copies. */
  get shape(): Region {
    return this.local;
  }

  /** The region, mm. Made anew on each call, since keeping all of a painted layer would fill the memory. */
  get region(): Region {
    return this.kept ?? (this.dx === 0 && this.dy === 0 ? this.local : move(this.local, this.dx, this.dy));
  }

  /** The region, for questions that will be asked again. */
  get keptRegion(): Region {
    this.kept ??= this.region;
    return this.kept;
  }

  get corners(): number {
    return cornersOf(this.local);
  }

  /** Whether a point lies in it. */
  holds([x, y]: Point): boolean {
    const [localX, localY] = [x - this.dx, y - this.dy];
    const { minX, minY, maxX, maxY } = boxOf(this.local);
    if (localX < minX || localX > maxX || localY < minY || localY > maxY) return false;
    return insideRegion([localX, localY], this.local);
  }

  get box(): Box {
    const { minX, minY, maxX, maxY } = boxOf(this.local);
    return { minX: minX + this.dx, minY: minY + this.dy, maxX: maxX + this.dx, maxY: maxY + this.dy };
  }

  /** A point well inside. */
  get inside(): [number, number] {
    const [x, y] = insidePoint(this.local);
    return [x + this.dx, y + this.dy];
  }

  /** Whether this is an axis-parallel rectangle, which its box tells all about. */
  get isBox(): boolean {
    return isBox(this.local);
  }
}

/** Number of corners of a region, islands included. */
export function cornersOf({ outer, islands }: Region): number {
  return islands.reduce((count, ring) => count + ring.length, outer.length);
}

function isBox({ outer, islands }: Region): boolean {
  if (islands.length > 0 || outer.length !== 4) return false;
  const [p, q, r, s] = outer;
  const wide = p[1] === q[1] && q[0] === r[0] && r[1] === s[1] && s[0] === p[0];
  return wide || (p[0] === q[0] && q[1] === r[1] && r[0] === s[0] && s[1] === p[1]);
}
