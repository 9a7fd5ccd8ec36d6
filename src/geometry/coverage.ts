/**
 * The share of each dot that a shape covers, exact for polygons.
 *
 * Each wall adds to the dots that it crosses the area between itself and the dot's right side, and passes its height on
 * to all dots further right; a running sum along each row then gives the coverage (signed-area accumulation, as
 * font rasterisers do it).
 *
 * @param walls - x0, y0, x1, y1 per wall, in dots; all of them within the grid after the shift
 * @param shiftX - added to every x; the grid's columns are 0 … width - 1
 * @param shiftY - added to every y; its rows are 0 … height - 1, downwards
 * @param target - reused if large enough
 * @returns row by row, 0 … 1; width + 1 numbers a row, of which the last is of no use
 */
export function coverageGrid(
  walls: Float64Array,
  shiftX: number,
  shiftY: number,
  width: number,
  height: number,
  target?: Float64Array,
): Float64Array {
  const stride = width + 1;
  const size = stride * height + 1;
  const sums = target && target.length >= size ? target.subarray(0, size) : new Float64Array(size);
  sums.fill(0);
  for (let at = 0; at < walls.length; at += 4) {
    addWall(sums, stride, walls[at] + shiftX, walls[at + 1] + shiftY, walls[at + 2] + shiftX, walls[at + 3] + shiftY);
  }
  for (let row = 0; row < height; row += 1) {
    let sum = 0;
    for (let i = row * stride, end = i + width; i < end; i += 1) {
      sum += sums[i];
      const share = Math.abs(sum);
      sums[i] = Math.min(share, 1);
    }
  }
  return sums;
}

/** Rows that are worked out at a time: the whole of a large shape would not fit. */
const BAND_ROWS = 256;

/**
 * The same for large shapes, at the cost of their walls: dots between two walls have one coverage, and are told as a run.
 *
 * @param take - gets runs of dots of a row from the left to the right, row by row; those that nothing covers are left out
 */
export function coverageRuns(
  walls: Float64Array,
  shiftX: number,
  shiftY: number,
  width: number,
  height: number,
  take: (row: number, from: number, to: number, share: number) => void,
): void {
  const stride = width + 1;
  const sums = new Float64Array(stride * Math.min(BAND_ROWS, height) + 1);
  for (let top = 0; top < height; top += BAND_ROWS) {
    const rows = Math.min(BAND_ROWS, height - top);
    const met: [number, number][][] = Array.from({ length: rows }, () => []);
    sums.fill(0);
    for (let at = 0; at < walls.length; at += 4) {
      const [ax, ay, bx, by] = [walls[at], walls[at + 1] + shiftY - top, walls[at + 2], walls[at + 3] + shiftY - top];
      const low = Math.max(0, Math.min(ay, by));
      const high = Math.min(rows, Math.max(ay, by));
      if (low >= high) continue;
      const x = (y: number): number =>
        (y === ay ? ax : y === by ? bx : ax + ((bx - ax) * (y - ay)) / (by - ay)) + shiftX;
      const meet = (row: number, first: number, last: number): void => void met[row].push([first, last]);
      if (ay < by) addWall(sums, stride, x(low), low, x(high), high, meet);
      else addWall(sums, stride, x(high), high, x(low), low, meet);
    }
    met.forEach((columns, row) => {
      columns.sort((p, q) => p[0] - q[0]);
      let [sum, at] = [0, 0];
      const shared = (): number => Math.min(1, Math.abs(sum));
      for (const [first, last] of columns) {
        if (first > at && shared() > 0) take(top + row, at, first, shared());
        for (at = Math.max(at, first); at <= last; at += 1) {
          sum += sums[row * stride + at];
          if (at < width && shared() > 0) take(top + row, at, at + 1, shared());
        }
      }
    });
  }
}

function addWall(
  sums: Float64Array,
  stride: number,
  ax: number,
  ay: number,
  bx: number,
  by: number,
  meet?: (row: number, first: number, last: number) => void,
): void {
  if (ay === by) return;
  const isDown = ay < by;
  const direction = isDown ? 1 : -1;
  const x0 = isDown ? ax : bx;
  const y0 = isDown ? ay : by;
  const x1 = isDown ? bx : ax;
  const y1 = isDown ? by : ay;
  const slope = (x1 - x0) / (y1 - y0);
  const lastRow = Math.ceil(y1);
  let y = y0;
  let x = x0;
  for (let row = Math.floor(y0); row < lastRow; row += 1) {
    const nextY = Math.min(row + 1, y1);
    const nextX = nextY === y1 ? x1 : x0 + (nextY - y0) * slope;
    const height = (nextY - y) * direction;
    if (height !== 0) {
      const left = Math.min(x, nextX);
      const right = Math.max(x, nextX);
      addPiece(sums, row * stride, left, right, height);
      meet?.(row, Math.floor(left), Math.max(Math.floor(left) + 1, Math.ceil(right)));
    }
    y = nextY;
    x = nextX;
  }
}

/** One wall within one row, from `left` to `right`. */
function addPiece(sums: Float64Array, base: number, left: number, right: number, height: number): void {
  const first = Math.floor(left);
  const last = Math.ceil(right);
  if (last <= first + 1) {
    const share = (left + right) / 2 - first;
    sums[base + first] += height * (1 - share);
    sums[base + first + 1] += height * share;
    return;
  }
  const perColumn = 1 / (right - left);
  const head = 1 - (left - first);
  const headArea = 0.5 * perColumn * head * head;
  sums[base + first] += height * headArea;
  let done = headArea;
  for (let column = first + 1; column < last - 1; column += 1) {
    const area = perColumn * (column + 0.5 - left);
    sums[base + column] += height * (area - done);
    done = area;
  }
  const tail = right - (last - 1);
  const lastArea = 1 - 0.5 * perColumn * tail * tail;
  sums[base + last - 1] += height * (lastArea - done);
  sums[base + last] += height * (1 - lastArea);
}
