import { IDENTITY } from '../geometry/affine.js';
import { ringArea } from '../geometry/area.js';
import { coverageGrid } from '../geometry/coverage.js';
import { offsetByEllipse } from '../geometry/offset.js';
import type { PerAxis, Point, Region } from '../geometry/types.js';
import type { GriddedShape, Outer } from './lay-on-grid.js';
import { type PixelShape, toPixelShape, wallsOfAll } from './shape.js';

/** What the beam makes of a shape, and how finely that is looked at. */
export interface Burnt {
  /** Half the beam's widths, in looks. */
  readonly reach: PerAxis;
  /** Looks along each side of a dot. */
  readonly looks: number;
  /** The shape grown by the beam, in dots. */
  readonly walls: Float64Array;
  /** Its area, in dots. */
  readonly area: number;
}

/** Largest distance between an arc of a burnt shape and the polygon that stands for it, dots. */
const ARC_DOTS = 0.01;

/**
 * The beam's widths are rounded to whole looks, for the dots and for what they are compared with alike: a fifth of a dot
 * more or less changes next to nothing in how stairs are filled, and flat walls are then compared exactly.
 */
export function burntBy(shape: PixelShape, kerf: PerAxis, looks: number): Burnt {
  const reach = { x: Math.round((kerf.x / 2) * looks), y: Math.round((kerf.y / 2) * looks) };
  const grown = offsetByEllipse(regionOf(shape), (2 * reach.x) / looks, (2 * reach.y) / looks, 1, ARC_DOTS);
  const shapes = grown.map((region) => toPixelShape(region, IDENTITY));
  return { reach, looks, walls: wallsOfAll(shapes), area: shapes.reduce((sum, one) => sum + one.area, 0) };
}

/** A shape's rings, the outer one counter-clockwise by the numbers. */
function regionOf({ walls }: PixelShape): Region {
  const rings: Point[][] = [[]];
  for (let at = 0; at < walls.length; at += 4) {
    rings[rings.length - 1].push([walls[at + 2], walls[at + 3]]);
    const ends = at + 4 < walls.length && (walls[at + 4] !== walls[at + 2] || walls[at + 5] !== walls[at + 3]);
    if (ends) rings.push([]);
  }
  rings.sort((p, q) => Math.abs(ringArea(q)) - Math.abs(ringArea(p)));
  const [outer, ...islands] = rings.map((ring, i) => (ringArea(ring) > 0 === (i === 0) ? ring : ring.reverse()));
  return { outer, islands };
}

/** Dots, and at every look whether the beam burns there and whether it should. */
export class BeamGrid implements ChosenDots {
  misfit = 0;
  area = 0;
  readonly hasBeam: boolean;
  private readonly wanted: Float64Array;
  private readonly stride: number;
  private readonly burnt: Uint16Array;
  private readonly reachAt: Int32Array;
  private readonly roomX: number;
  private readonly roomY: number;

  constructor(
    readonly mask: Uint8Array,
    private readonly columns: number,
    rows: number,
    /** Where the middle of the shape lies in the grid of dots. */
    middle: PerAxis,
    private readonly goal: Burnt,
  ) {
    const { looks, reach, walls } = goal;
    this.hasBeam = reach.x + reach.y > 0;
    this.roomX = looks * Math.ceil(reach.x / looks);
    this.roomY = looks * Math.ceil(reach.y / looks);
    const width = columns * looks + 2 * this.roomX;
    const height = rows * looks + 2 * this.roomY;
    this.stride = width + 1;
    const fine = walls.map((value) => value * looks);
    this.wanted = coverageGrid(fine, middle.x * looks + this.roomX, middle.y * looks + this.roomY, width, height);
    this.burnt = new Uint16Array(this.stride * height);
    this.reachAt = Int32Array.from({ length: looks + 2 * reach.y }, (_, i) => {
      const away = Math.max(0, reach.y - i - 0.5, i + 0.5 - reach.y - looks);
      return Math.round(reach.x * Math.sqrt(1 - (away / (reach.y || 1)) ** 2));
    });
    let sum = 0;
    for (let row = 0; row < height; row += 1) {
      for (let i = 0; i < width; i += 1) sum += this.wanted[row * this.stride + i];
    }
    this.misfit = sum / (looks * looks);
    for (let row = 0; row < rows; row += 1) {
      for (let from = 0; from < columns; from += 1) {
        if (mask[row * columns + from] === 0) continue;
        let to = from;
        while (to < columns && mask[row * columns + to] === 1) to += 1;
        this.change(row, from, to, -1, 1, 1);
        from = to;
      }
    }
  }

  toggle({ dots }: Outer): void {
    for (const dot of dots) this.toggleOne(dot);
  }

  /** How far the centre of what is burnt lies off that of what should be, dots. */
  offCentre(): PerAxis {
    const { burnt, wanted, stride } = this;
    let [got, gotX, gotY, goal, goalX, goalY] = [0, 0, 0, 0, 0, 0];
    for (let at = 0; at < burnt.length; at += 1) {
      if (burnt[at] === 0 && wanted[at] === 0) continue;
      const row = Math.floor(at / stride);
      const column = at - row * stride;
      if (burnt[at] > 0) {
        got += 1;
        gotX += column;
        gotY += row;
      }
      goal += wanted[at];
      goalX += wanted[at] * column;
      goalY += wanted[at] * row;
    }
    return { x: (gotX / got - goalX / goal) / this.goal.looks, y: (gotY / got - goalY / goal) / this.goal.looks };
  }

  covers(dot: number): boolean {
    const { looks } = this.goal;
    const row = Math.floor(dot / this.columns);
    const first = (row * looks + this.roomY) * this.stride + (dot - row * this.columns) * looks + this.roomX;
    for (let j = 0; j < looks; j += 1) {
      for (let i = 0; i < looks; i += 1) if (this.burnt[first + j * this.stride + i] === 0) return false;
    }
    return true;
  }

  private toggleOne(dot: number): void {
    const { mask, columns } = this;
    const row = Math.floor(dot / columns);
    const first = row * columns;
    const column = dot - first;
    const sign = mask[dot] === 1 ? -1 : 1;
    mask[dot] = 0;
    let from = column;
    while (from > 0 && mask[first + from - 1] === 1) from -= 1;
    let to = column + 1;
    while (to < columns && mask[first + to] === 1) to += 1;
    if (from === column && to === column + 1) this.change(row, from, to, -1, 1, sign);
    else if (to === column + 1) this.change(row, column, to, 1, 1, sign);
    else if (from === column) this.change(row, column, column + 1, -1, -1, sign);
    else {
      // One run for two, or two for one.
      this.change(row, from, column, -1, 1, -sign as 1 | -1);
      this.change(row, column + 1, to, -1, 1, -sign as 1 | -1);
      this.change(row, from, to, -1, 1, sign);
    }
    if (sign > 0) mask[dot] = 1;
  }

  /** Adds or takes away what a run burns from one column to another, each moved by the beam's reach to a side. */
  private change(row: number, from: number, to: number, fromSide: 1 | -1, toSide: 1 | -1, sign: 1 | -1): void {
    const { burnt, wanted, reachAt, stride, roomX } = this;
    const { looks, reach } = this.goal;
    const top = row * looks + this.roomY - reach.y;
    let [misfit, area] = [0, 0];
    for (let j = 0; j < reachAt.length; j += 1) {
      const base = (top + j) * stride + roomX;
      const end = base + to * looks + toSide * reachAt[j];
      for (let at = base + from * looks + fromSide * reachAt[j]; at < end; at += 1) {
        burnt[at] += sign;
        if (burnt[at] !== (sign > 0 ? 1 : 0)) continue;
        misfit += 1 - 2 * wanted[at];
        area += 1;
      }
    }
    this.misfit += (sign * misfit) / (looks * looks);
    this.area += (sign * area) / (looks * looks);
  }
}

/** Chosen dots, and how near what they burn comes to what should be. */
export interface ChosenDots {
  /** 1 for every dot that is burnt. */
  readonly mask: Uint8Array;
  /** Wrongly burnt and wrongly left area, dots squared. */
  readonly misfit: number;
  /** Burnt area, dots squared. */
  readonly area: number;
  /** Whether the beam is wider than the dots. */
  readonly hasBeam: boolean;
  /** Burns dots that symmetry makes equal, or leaves them out. */
  toggle(orbit: Outer): void;
  /** Whether the whole of a dot is burnt, by itself or by what lies around it. */
  covers(dot: number): boolean;
}

/** Without the beam, for what is too large for it: a dot burns itself and nothing more. */
export class CoverGrid implements ChosenDots {
  readonly hasBeam = false;
  readonly mask: Uint8Array;
  misfit: number;
  area: number;

  constructor({ touched, touchedCount, outer }: GriddedShape) {
    this.mask = touched.slice();
    this.area = touchedCount;
    this.misfit = outer.reduce((sum, { dots, cover }) => sum + dots.length * (1 - cover), 0);
  }

  toggle({ dots, cover }: Outer): void {
    const sign = this.mask[dots[0]] === 1 ? -1 : 1;
    for (const dot of dots) this.mask[dot] = sign > 0 ? 1 : 0;
    this.area += sign * dots.length;
    this.misfit += sign * dots.length * (1 - 2 * cover);
  }
  covers(dot: number): boolean {
    return this.mask[dot] === 1;
  }
}
