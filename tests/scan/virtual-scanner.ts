/**
 * A flatbed scanner with known faults, and a film cut by a machine with known faults. Written without the project's own
 * geometry and by other methods, as an outside check of the reader: an opening grows by the kerf as the convolution of its
 * outline with an ellipse (each wall moved out along its own normal, arcs of the ellipse between), joined by another library than
 * the reader has, its exact share of each
 * pixel is summed from signed areas under the walls, and blur, uneven light, noise, dust and hairs go over that.
 */
import { union, type Vec } from '../truth/polygons.js';

export type { Vec };

export interface VirtualFilm {
  readonly openings: readonly { readonly outer: readonly Vec[] }[];
  readonly machine: {
    readonly scaleX: number;
    readonly scaleY: number;
    readonly shear: number;
    readonly kerfXMm: number;
    readonly kerfYMm: number;
  };
  /** Place errors over the bed, mm, after the machine's map. */
  readonly bend?: (at: Vec) => Vec;
  /** Openings (by index) that did not come through. */
  readonly closed?: ReadonlySet<number>;
}

export interface VirtualScan {
  readonly dpi: number;
  readonly widthMm: number;
  readonly heightMm: number;
  /** Turn, and where the film's origin lies, mm from the picture's lower left corner. */
  readonly turnDeg: number;
  readonly atMm: Vec;
  readonly mirrored?: boolean;
  /** The scanner's own scale and skew: what it shows for a millimetre. */
  readonly scaleX?: number;
  readonly scaleY?: number;
  readonly skew?: number;
  readonly blurMm: number;
  /** Levels of film and opening; `walls` shows clear film with dark lines at the walls. */
  readonly film: number;
  readonly open: number;
  readonly wallLineMm?: number;
  /** The file holds the light to the power of 1/gamma; film and open are levels of the file. */
  readonly gamma?: number;
  /** Fall-off of the light at the corners, share. */
  readonly vignette?: number;
  readonly noise?: number;
  readonly specksPerCm2?: number;
  readonly hairsPerCm2?: number;
  readonly seed?: number;
  /** Bends the whole picture as a camera that looks at a slant does: 1 + p x + q y. */
  readonly perspective?: Vec;
}

export interface Picture {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly levels: Uint8Array;
  readonly dotsPerMm: { readonly x: number; readonly y: number };
}

export function scanFilm(film: VirtualFilm, scan: VirtualScan): Picture {
  const dots = scan.dpi / 25.4;
  const [w, h] = [Math.round(scan.widthMm * dots), Math.round(scan.heightMm * dots)];
  const random = new Random(scan.seed ?? 1);
  const glass = new Glass(w, h);
  const toPixel = placement(film, scan, dots, h);
  const { kerfXMm, kerfYMm } = film.machine;
  const line = scan.wallLineMm ?? 0;
  film.openings.forEach(({ outer }, i) => {
    if (film.closed?.has(i)) return;
    const told = outer.map(
      ([x, y]): Vec => [film.machine.scaleX * x + film.machine.shear * y, film.machine.scaleY * y],
    );
    // At hollow corners, those between a circle's dots as well, loops cover what is cut already.
    const cut = (more: number): Vec[][] =>
      union([rounded(told, kerfXMm / 2 + more, kerfYMm / 2 + more)]).map((ring) => ring.map(toPixel));
    if (line === 0) glass.stamp(cut(0), undefined, scan.blurMm * dots);
    else glass.stamp(cut(line), cut(0), scan.blurMm * dots);
  });
  const dirt = dirtOn(scan, dots, w, h, random);
  const { noise = 0, vignette = 0, gamma = 1 } = scan;
  const [film100, open100] = [scan.film, scan.open].map((level) => 255 * (level / 255) ** gamma);
  const levels = new Uint8Array(w * h);
  const { share } = glass;
  for (let y = 0, at = 0; y < h; y += 1) {
    const v = (2 * y) / h - 1;
    for (let x = 0; x < w; x += 1, at += 1) {
      const u = (2 * x) / w - 1;
      const open = Math.min(share[at], 1);
      const light = (1 - 0.5 * vignette * (u * u + v * v)) * (dirt ? 1 - dirt[at] : 1);
      const seen = (film100 * (1 - open) + open100 * open) * light;
      const told = gamma === 1 ? seen : 255 * (seen / 255) ** (1 / gamma);
      const level = noise > 0 ? told + noise * random.normal() : told;
      levels[at] = level < 0 ? 0 : level > 255 ? 255 : level + 0.5;
    }
  }
  return { widthPx: w, heightPx: h, levels, dotsPerMm: { x: dots, y: dots } };
}

/** From the film, after the machine, to pixels. */
function placement(film: VirtualFilm, scan: VirtualScan, dots: number, h: number): (p: Vec) => Vec {
  const { turnDeg, atMm, mirrored, scaleX = 1, scaleY = 1, skew = 0, perspective } = scan;
  const angle = (turnDeg / 180) * Math.PI;
  return (p) => {
    const [bx, by] = film.bend?.(p) ?? p;
    const [radius, turn] = [Math.hypot(bx, by), Math.atan2(by, mirrored ? -bx : bx) + angle];
    const [x, y] = [atMm[0] + radius * Math.cos(turn), atMm[1] + radius * Math.sin(turn)];
    const [sx, sy] = [scaleX * x + skew * y, scaleY * y];
    const far = perspective ? 1 + perspective[0] * sx + perspective[1] * sy : 1;
    return [(sx / far) * dots, h - (sy / far) * dots];
  };
}

const ARC = Math.PI / 40;

/** The convolution of an outline with an ellipse: walls moved out, arcs at corners that stick out, loops at hollow ones. */
function rounded(ring: readonly Vec[], rx: number, ry: number): Vec[] {
  const n = ring.length;
  const turning = ring.reduce((sum, [x, y], i) => sum + x * ring[(i + 1) % n][1] - ring[(i + 1) % n][0] * y, 0);
  const out: Vec[] = [];
  // In units of the half axes the ellipse is a circle, and normals are plain angles.
  const normal = (i: number): number => {
    const [p, q] = [ring[(i + n) % n], ring[(i + 1 + n) % n]];
    const [dx, dy] = [(q[0] - p[0]) / rx, (q[1] - p[1]) / ry];
    return turning > 0 ? Math.atan2(-dx, dy) : Math.atan2(dx, -dy);
  };
  for (let i = 0; i < n; i += 1) {
    const [from, to] = [normal(i - 1), normal(i)];
    let sweep = to - from;
    sweep -= 2 * Math.PI * Math.round(sweep / (2 * Math.PI));
    const steps = Math.max(1, Math.ceil(Math.abs(sweep) / ARC));
    // Chords lie inside of the arc: half of what they lack goes to their ends, so that the area is right.
    const half = sweep / steps / 2;
    const fair = Math.sqrt(Math.abs(half) < 1e-9 ? 1 : (2 * half) / Math.sin(2 * half));
    for (let k = 0; k <= steps; k += 1) {
      const a = from + (sweep * k) / steps;
      const stretch = k === 0 || k === steps ? 1 : fair;
      out.push([ring[i][0] + stretch * rx * Math.cos(a), ring[i][1] + stretch * ry * Math.sin(a)]);
    }
  }
  return out;
}

/** What lies on the scanner: for each pixel the share that is open, blurred. */
class Glass {
  readonly share: Float32Array;

  constructor(
    private readonly w: number,
    private readonly h: number,
  ) {
    this.share = new Float32Array(w * h);
  }

  /** Adds an outline, less another one, in a window of its own. */
  stamp(rings: readonly Vec[][], less: readonly Vec[][] | undefined, sigma: number): void {
    const room = Math.ceil(5 * sigma) + 2;
    const [xs, ys] = [0, 1].map((k) => rings.flatMap((ring) => ring.map((p) => p[k])));
    const [x0, y0] = [Math.floor(Math.min(...xs)) - room, Math.floor(Math.min(...ys)) - room];
    const [w, h] = [Math.ceil(Math.max(...xs)) + room - x0, Math.ceil(Math.max(...ys)) + room - y0];
    if (x0 >= this.w || y0 >= this.h || x0 + w <= 0 || y0 + h <= 0) return;
    const window = sharesOf(rings, x0, y0, w, h);
    if (less) {
      const inner = sharesOf(less, x0, y0, w, h);
      for (let i = 0; i < window.length; i += 1) window[i] = Math.max(0, window[i] - inner[i]);
    }
    spreadOut(window, w, h, sigma);
    for (let y = Math.max(0, -y0); y < Math.min(h, this.h - y0); y += 1) {
      for (let x = Math.max(0, -x0); x < Math.min(w, this.w - x0); x += 1)
        this.share[(y + y0) * this.w + x + x0] += window[y * w + x];
    }
  }
}

/** Exact shares of pixels: each wall adds the signed area to its right, pixel by pixel, and a running sum fills the rest. */
function sharesOf(rings: readonly Vec[][], x0: number, y0: number, w: number, h: number): Float32Array {
  const sums = new Float64Array((w + 1) * h);
  const walls = rings.flatMap((ring) => ring.map((p, i) => [p, ring[(i + 1) % ring.length]]));
  for (const [[ax, ay], [bx, by]] of walls) {
    if (ay === by) continue;
    const down = by > ay ? 1 : -1;
    const [topX, topY, endX, endY] = down === 1 ? [ax, ay, bx, by] : [bx, by, ax, ay];
    const slope = (endX - topX) / (endY - topY);
    for (let y = topY - y0; y < endY - y0; ) {
      const row = Math.floor(y);
      const next = Math.min(row + 1, endY - y0);
      const [p, q] = [y, next].map((at) => topX - x0 + slope * (at - (topY - y0)));
      addWall(sums, row * (w + 1), p, q, down * (next - y));
      y = next;
    }
  }
  const out = new Float32Array(w * h);
  for (let y = 0; y < h; y += 1) {
    let run = 0;
    for (let x = 0; x < w; x += 1) {
      run += sums[y * (w + 1) + x];
      out[y * w + x] = Math.min(1, Math.abs(run));
    }
  }
  return out;
}

/** A piece of wall within one row, from p to q, as changes of the running sum. */
function addWall(sums: Float64Array, base: number, p: number, q: number, height: number): void {
  const [left, right] = p < q ? [p, q] : [q, p];
  const width = right - left;
  for (let x = Math.floor(left); x <= Math.floor(right); x += 1) {
    const [from, to] = [Math.max(left, x), Math.min(right, x + 1)];
    const part = width > 1e-12 ? ((to - from) / width) * height : height;
    const inside = 1 - ((from + to) / 2 - x);
    sums[base + x] += part * inside;
    sums[base + x + 1] += part * (1 - inside);
    if (width <= 1e-12) break;
  }
}

function spreadOut(data: Float32Array, w: number, h: number, sigma: number): void {
  if (!(sigma > 0)) return;
  const reach = Math.ceil(5 * sigma);
  const half = Float64Array.from({ length: reach + 1 }, (_, k) => Math.exp(-0.5 * (k / sigma) ** 2));
  const whole = half.reduce((sum, value) => sum + 2 * value, -half[0]);
  const line = new Float64Array(Math.max(w, h) + 2 * reach);
  const along = (lines: number, length: number, step: number, across: number): void => {
    for (let n = 0; n < lines; n += 1) {
      for (let i = 0; i < length; i += 1) line[reach + i] = data[n * across + i * step];
      line.fill(0, reach + length, reach + length + reach);
      for (let i = 0; i < length; i += 1) {
        let sum = half[0] * line[reach + i];
        for (let k = 1; k <= reach; k += 1) sum += half[k] * (line[reach + i - k] + line[reach + i + k]);
        data[n * across + i * step] = sum / whole;
      }
    }
  };
  along(h, w, 1, w);
  along(w, h, w, 1);
}

/** How much light specks and hairs take away; their rims are as soft as the scanner is. */
function dirtOn(scan: VirtualScan, dots: number, w: number, h: number, random: Random): Float32Array | undefined {
  const { specksPerCm2 = 0, hairsPerCm2 = 0, widthMm, heightMm, blurMm } = scan;
  if (specksPerCm2 + hairsPerCm2 === 0) return undefined;
  const dirt = new Float32Array(w * h);
  const soft = Math.max(0.5, 1.5 * blurMm * dots);
  const dot = (cx: number, cy: number, radius: number, depth: number): void => {
    const reach = radius + soft;
    for (let y = Math.max(0, Math.floor(cy - reach)); y <= Math.min(h - 1, cy + reach); y += 1) {
      for (let x = Math.max(0, Math.floor(cx - reach)); x <= Math.min(w - 1, cx + reach); x += 1) {
        const inside = (radius + soft - Math.hypot(x + 0.5 - cx, y + 0.5 - cy)) / (2 * soft);
        const value = depth * Math.min(1, Math.max(0, inside)) ** 2;
        if (value > dirt[y * w + x]) dirt[y * w + x] = value;
      }
    }
  };
  const cm2 = (widthMm * heightMm) / 100;
  for (let k = 0; k < specksPerCm2 * cm2; k += 1)
    dot(random.next() * w, random.next() * h, (0.02 + 0.06 * random.next()) * dots, 0.3 + 0.5 * random.next());
  for (let k = 0; k < hairsPerCm2 * cm2; k += 1) {
    // A piece of a circle of its own.
    const [x, y, from] = [random.next() * w, random.next() * h, 2 * Math.PI * random.next()];
    const [radius, length] = [(4 + 20 * random.next()) * dots, (1 + 3 * random.next()) * dots];
    for (let s = 0; s < length; s += 0.8)
      dot(
        x + radius * (Math.cos(from + s / radius) - Math.cos(from)),
        y + radius * (Math.sin(from + s / radius) - Math.sin(from)),
        Math.max(0.7, 0.012 * dots),
        0.5,
      );
  }
  return dirt;
}

/** Minimal standard generator of Park and Miller, CACM 31 (1988) 1192. */
class Random {
  private state: number;
  /** Normal numbers to draw from: sixteen thousand are more than enough for a picture's noise. */
  private readonly normals: Float64Array;

  constructor(seed: number) {
    this.state = (Math.imul(seed + 1, 7919) & 0x7ffffffe) + 1;
    for (let k = 0; k < 20; k += 1) this.next();
    this.normals = Float64Array.from({ length: 16384 }, () => {
      // Marsaglia's polar method.
      for (;;) {
        const [u, v] = [2 * this.next() - 1, 2 * this.next() - 1];
        const s = u * u + v * v;
        if (s > 0 && s < 1) return u * Math.sqrt((-2 * Math.log(s)) / s);
      }
    });
  }

  next(): number {
    this.state = (this.state * 48271) % 2147483647;
    return this.state / 2147483647;
  }

  normal = (): number => this.normals[Math.floor(this.next() * 16384)];
}
