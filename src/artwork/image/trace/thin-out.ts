/** Most by which a left-out point may lie off the outline, pixels: at 0.02, discs stand out 0.01 px over their width. */
const TOLERANCE_PX = 0.012;
const FEW = 8;

/** Room for the points of one outline, used again for every outline. */
let room = { xs: new Float64Array(1024), ys: new Float64Array(1024), keep: new Uint8Array(1024) };

/**
 * Leaves out points that later steps need not carry (Douglas and Peucker 1973), and keeps the enclosed area: all points
 * move out a little.
 *
 * @param flat - x, y, x, y … of a closed outline
 */
export function thinOut(flat: readonly number[]): readonly number[] {
  const n = flat.length >> 1;
  if (n <= FEW) return flat;
  if (room.xs.length <= n)
    room = { xs: new Float64Array(2 * n), ys: new Float64Array(2 * n), keep: new Uint8Array(2 * n) };
  const { xs, ys, keep } = room;
  // Closed at the leftmost point, which surely stays, as does the one farthest from it.
  let first = 0;
  for (let i = 1; i < n; i += 1) if (flat[2 * i] < flat[2 * first]) first = i;
  let far = 0;
  let reach = -1;
  for (let k = 0; k <= n; k += 1) {
    const i = first + k < n ? first + k : first + k - n;
    xs[k] = flat[2 * i];
    ys[k] = flat[2 * i + 1];
    const away = (xs[k] - xs[0]) ** 2 + (ys[k] - ys[0]) ** 2;
    if (away > reach) [reach, far] = [away, k];
  }
  keep.fill(0, 0, n + 1);
  keep[0] = 1;
  keep[far] = 1;
  keepWithin(0, far);
  keepWithin(far, n);
  const out: number[] = [];
  for (let k = 0; k < n; k += 1) if (keep[k] === 1) out.push(xs[k], ys[k]);
  return out.length < 6 || out.length === flat.length ? flat : withArea(out, enclosed(flat));
}

/** Marks the points between two that stay and that lie off the lines between those that stay. */
function keepWithin(from: number, to: number): void {
  const { xs, ys, keep } = room;
  const spans = [from, to];
  while (spans.length > 0) {
    const b = spans.pop() as number;
    const a = spans.pop() as number;
    const dx = xs[b] - xs[a];
    const dy = ys[b] - ys[a];
    const length2 = dx * dx + dy * dy;
    let worst = TOLERANCE_PX * TOLERANCE_PX;
    let at = -1;
    for (let k = a + 1; k < b; k += 1) {
      const px = xs[k] - xs[a];
      const py = ys[k] - ys[a];
      const t = length2 > 0 ? Math.max(0, Math.min(1, (px * dx + py * dy) / length2)) : 0;
      const off = (px - t * dx) ** 2 + (py - t * dy) ** 2;
      if (off > worst) {
        worst = off;
        at = k;
      }
    }
    if (at < 0) continue;
    keep[at] = 1;
    spans.push(a, at, at, b);
  }
}

/** Moves every point along both its edges' normals until the outline encloses `area` again. */
function withArea(flat: readonly number[], area: number): readonly number[] {
  const m = flat.length;
  let length = 0;
  for (let i = 0; i < m; i += 2) {
    const j = i + 2 === m ? 0 : i + 2;
    length += Math.sqrt((flat[j] - flat[i]) ** 2 + (flat[j + 1] - flat[i + 1]) ** 2);
  }
  const by = (area - enclosed(flat)) / length;
  if (!(Math.abs(by) < 2 * TOLERANCE_PX)) return flat;
  const out: number[] = [];
  for (let i = 0; i < m; i += 2) {
    const a = i === 0 ? m - 2 : i - 2;
    const b = i + 2 === m ? 0 : i + 2;
    const [x, y] = [flat[i], flat[i + 1]];
    const [ax, ay, bx, by_] = [x - flat[a], y - flat[a + 1], flat[b] - x, flat[b + 1] - y];
    const p = Math.sqrt(ax * ax + ay * ay) || 1;
    const q = Math.sqrt(bx * bx + by_ * by_) || 1;
    const nx = ay / p + by_ / q;
    const ny = -ax / p - bx / q;
    const size2 = nx * nx + ny * ny;
    const step = size2 < 0.5 ? 0 : (2 * by) / size2;
    out.push(x + step * nx, y + step * ny);
  }
  return out;
}

/** Signed area about the first point, so that far-off shapes lose no digits. */
export function enclosed(flat: readonly number[]): number {
  let twice = 0;
  for (let i = 2; i + 3 < flat.length; i += 2)
    twice += (flat[i] - flat[0]) * (flat[i + 3] - flat[1]) - (flat[i + 2] - flat[0]) * (flat[i + 1] - flat[1]);
  return twice / 2;
}
