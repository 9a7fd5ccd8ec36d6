import { crossing, type WallLine } from './line.js';
import type { Run } from './runs.js';
import type { Samples } from './samples.js';

/** How far the four sides, each by itself, may be off a right angle, radians: a short side has few steps to tell. */
const ROUGH_RAD = 0.3;
/** How far the stairs may lie off a rectangle anywhere, its corners included, pixels. */
const ANYWHERE_PX = 0.8;

/**
 * Four sides found one by one as those of one rectangle, by least squares: short sides are too short to tell their own
 * direction.
 *
 * @returns its corners, x, y, x, y …; undefined where the stairs leave it
 */
export function slantedRectangle(samples: Samples, sides: readonly Run[]): number[] | undefined {
  if (sides.length !== 4) return undefined;
  const longest = sides.reduce((most, side, k) => (side.length > sides[most].length ? k : most), 0);
  const rough = Math.atan2(sides[longest].line.ny, sides[longest].line.nx);
  let [along2, lean] = [0, 0];
  const places = sides.map((side, k) => {
    const { x, y, uu, uv } = momentsOf(samples, side, normalOf(rough, k - longest));
    along2 += uu;
    lean += uv;
    return { x, y };
  });
  const angle = rough - Math.atan2(lean, along2);
  const lines = places.map(({ x, y }, k): WallLine => {
    const { nx, ny } = normalOf(angle, k - longest);
    return { nx, ny, c: nx * x + ny * y };
  });
  const isSquare = sides.every(({ line }, k) => line.nx * lines[k].nx + line.ny * lines[k].ny > Math.cos(ROUGH_RAD));
  for (let i = 0; i < samples.count; i += 1) {
    // Inside of all four sides, or on the walls: the outermost of the four distances is that from the rectangle.
    const off = Math.max(...lines.map(({ nx, ny, c }) => nx * samples.xs[i] + ny * samples.ys[i] - c));
    if (!isSquare || Math.abs(off) > ANYWHERE_PX) return undefined;
  }
  return lines.flatMap((line, k) => crossing(line, lines[(k + 1) % 4]) ?? []);
}

type Normal = Pick<WallLine, 'nx' | 'ny'>;

/** Sides follow each other by quarter turns backwards: y runs down. */
const normalOf = (angle: number, k: number): Normal => ({
  nx: Math.cos(angle - (k * Math.PI) / 2),
  ny: Math.sin(angle - (k * Math.PI) / 2),
});

/** Middle of a side's samples, and how they spread along it and lean to its normal; its ends may have seen a corner. */
function momentsOf({ xs, ys, count }: Samples, { start, length }: Run, { nx, ny }: Normal) {
  const ends = length >= 8 ? 2 : length >= 5 ? 1 : 0;
  const own = Array.from({ length: length - 2 * ends }, (_, k) => (start + ends + k) % count);
  const x = own.reduce((sum, i) => sum + xs[i], 0) / own.length;
  const y = own.reduce((sum, i) => sum + ys[i], 0) / own.length;
  let [uu, uv] = [0, 0];
  for (const i of own) {
    const u = (ys[i] - y) * nx - (xs[i] - x) * ny;
    uu += u * u;
    uv += u * ((xs[i] - x) * nx + (ys[i] - y) * ny);
  }
  return { x, y, uu, uv };
}
