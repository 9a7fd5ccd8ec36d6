/**
 * A flatbed scanner with known faults, and a film cut by a machine with known faults. Written without the project's own
 * geometry, as an outside check of the reader: each opening is a polygon grown by the kerf ellipse in closed form, its
 * coverage of each pixel is summed over exact spans of sixteen lines a pixel, and the whole goes through a blur, uneven
 * light, noise, dust and hairs.
 */
export type Vec = readonly [number, number];

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

const LINES = 16;
const ROUND = 64;

export function scanFilm(film: VirtualFilm, scan: VirtualScan): Picture {
  const dots = scan.dpi / 25.4;
  const [w, h] = [Math.round(scan.widthMm * dots), Math.round(scan.heightMm * dots)];
  const coverage = new Float32Array(w * h);
  const toPx = pixelsOf(film, scan, dots, h);
  film.openings.forEach((opening, i) => {
    if (film.closed?.has(i)) return;
    const rings = grown(opening.outer, film.machine);
    if (scan.wallLineMm === undefined) rings.forEach((ring) => void fill(coverage, w, h, ring.map(toPx), 1));
    else {
      const line = scan.wallLineMm;
      rings.forEach((ring) => void fill(coverage, w, h, spread(ring, line).map(toPx), 1));
      rings.forEach((ring) => void fill(coverage, w, h, ring.map(toPx), -1));
    }
  });
  for (let i = 0; i < coverage.length; i += 1) coverage[i] = Math.min(1, Math.max(0, coverage[i]));
  const random = mulberry(scan.seed ?? 1);
  blur(coverage, w, h, scan.blurMm * dots);
  const levels = new Uint8Array(w * h);
  const { noise = 0, vignette = 0 } = scan;
  const dirt = dust(scan, dots, w, h, random);
  for (let y = 0, at = 0; y < h; y += 1) {
    for (let x = 0; x < w; x += 1, at += 1) {
      const [u, v] = [(2 * x) / w - 1, (2 * y) / h - 1];
      const light = 1 - (vignette * (u * u + v * v)) / 2;
      const level = (scan.film + (scan.open - scan.film) * coverage[at]) * light * (1 - (dirt?.[at] ?? 0));
      levels[at] = Math.max(0, Math.min(255, Math.round(level + (noise > 0 ? noise * normal(random) : 0))));
    }
  }
  return { widthPx: w, heightPx: h, levels, dotsPerMm: { x: dots, y: dots } };
}

/** From the film (after the machine) to pixels. */
function pixelsOf(film: VirtualFilm, scan: VirtualScan, dots: number, h: number): (p: Vec) => Vec {
  const turn = (scan.turnDeg * Math.PI) / 180;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  const { scaleX = 1, scaleY = 1, skew = 0, mirrored, perspective } = scan;
  return (p) => {
    const [bx, by] = film.bend ? film.bend(p) : p;
    const fx = mirrored ? -bx : bx;
    const x = scan.atMm[0] + cos * fx - sin * by;
    const y = scan.atMm[1] + sin * fx + cos * by;
    let [sx, sy] = [scaleX * x + skew * y, scaleY * y];
    if (perspective) {
      const far = 1 + perspective[0] * sx + perspective[1] * sy;
      [sx, sy] = [sx / far, sy / far];
    }
    return [sx * dots, h - sy * dots];
  };
}

/** What is cut: the machine's map, then the kerf ellipse. A convex shape stays one ring; others are covered by several. */
function grown(ring: readonly Vec[], m: VirtualFilm['machine']): Vec[][] {
  const [rx, ry] = [m.kerfXMm / 2, m.kerfYMm / 2];
  const cut = ring.map(([x, y]): Vec => [m.scaleX * x + m.shear * y, m.scaleY * y]);
  const hull = hullOf(cut);
  const ellipse = Array.from({ length: ROUND }, (_, k): Vec => {
    const angle = (2 * Math.PI * k) / ROUND;
    return [rx * Math.cos(angle), ry * Math.sin(angle)];
  });
  const sum = (points: readonly Vec[]): Vec[] =>
    hullOf(points.flatMap(([x, y]) => ellipse.map(([ex, ey]): Vec => [x + ex, y + ey])));
  // A staircase of dots is filled by the beam.
  if (Math.abs(area(hull)) - Math.abs(area(cut)) < 0.16 * Math.abs(area(hull)) + 1e-9 || cut.length > 200)
    return [sum(hull)];
  return [[...cut], ...cut.map((p, i) => sum([p, cut[(i + 1) % cut.length]]))];
}

function spread(ring: readonly Vec[], by: number): Vec[] {
  const n = 16;
  return hullOf(
    ring.flatMap(([x, y]) =>
      Array.from({ length: n }, (_, k): Vec => {
        const a = (2 * Math.PI * k) / n;
        return [x + (by * Math.cos(a)) / Math.cos(Math.PI / n), y + (by * Math.sin(a)) / Math.cos(Math.PI / n)];
      }),
    ),
  );
}

/** Adds a polygon's exact coverage, row lines averaged. */
function fill(target: Float32Array, w: number, h: number, ring: readonly Vec[], weight: number): void {
  const ys = ring.map(([, y]) => y);
  const first = Math.max(0, Math.floor(Math.min(...ys)));
  const last = Math.min(h - 1, Math.floor(Math.max(...ys)));
  for (let row = first; row <= last; row += 1) {
    for (let k = 0; k < LINES; k += 1) {
      const y = row + (k + 0.5) / LINES;
      const cuts: number[] = [];
      for (let i = 0; i < ring.length; i += 1) {
        const [ax, ay] = ring[i];
        const [bx, by] = ring[(i + 1) % ring.length];
        if (ay > y !== by > y) cuts.push(ax + ((y - ay) / (by - ay)) * (bx - ax));
      }
      cuts.sort((p, q) => p - q);
      for (let i = 0; i + 1 < cuts.length; i += 2) {
        const [x0, x1] = [Math.max(0, cuts[i]), Math.min(w, cuts[i + 1])];
        for (let x = Math.floor(x0); x < x1; x += 1) {
          target[row * w + x] += (weight * (Math.min(x1, x + 1) - Math.max(x0, x))) / LINES;
        }
      }
    }
  }
}

function blur(data: Float32Array, w: number, h: number, sigmaPx: number): void {
  if (!(sigmaPx > 0)) return;
  const reach = Math.ceil(5 * sigmaPx);
  const kernel = Array.from({ length: 2 * reach + 1 }, (_, k) => Math.exp(-((k - reach) ** 2) / (2 * sigmaPx ** 2)));
  const sum = kernel.reduce((a, b) => a + b, 0);
  const weights = Float32Array.from(kernel, (k) => k / sum);
  const line = new Float32Array(Math.max(w, h));
  const pass = (count: number, length: number, stride: number, step: number): void => {
    for (let n = 0; n < count; n += 1) {
      const base = n * step;
      let any = false;
      for (let i = 0; i < length; i += 1) {
        line[i] = data[base + i * stride];
        any ||= line[i] !== 0;
      }
      if (!any) continue;
      for (let i = 0; i < length; i += 1) {
        let value = 0;
        for (let k = -reach; k <= reach; k += 1)
          value += weights[k + reach] * line[Math.min(length - 1, Math.max(0, i + k))];
        data[base + i * stride] = value;
      }
    }
  };
  pass(h, w, 1, w);
  pass(w, h, w, 1);
}

function dust(scan: VirtualScan, dots: number, w: number, h: number, random: () => number): Float32Array | undefined {
  const cm2 = (scan.widthMm * scan.heightMm) / 100;
  const [specks, hairs] = [(scan.specksPerCm2 ?? 0) * cm2, (scan.hairsPerCm2 ?? 0) * cm2];
  if (specks + hairs === 0) return undefined;
  const out = new Float32Array(w * h);
  const disc = (cx: number, cy: number, r: number, depth: number): void => {
    for (let y = Math.max(0, Math.floor(cy - r)); y <= Math.min(h - 1, cy + r); y += 1) {
      for (let x = Math.max(0, Math.floor(cx - r)); x <= Math.min(w - 1, cx + r); x += 1) {
        if ((x + 0.5 - cx) ** 2 + (y + 0.5 - cy) ** 2 < r * r) out[y * w + x] = Math.max(out[y * w + x], depth);
      }
    }
  };
  for (let k = 0; k < specks; k += 1)
    disc(random() * w, random() * h, (0.02 + 0.06 * random()) * dots, 0.3 + 0.5 * random());
  for (let k = 0; k < hairs; k += 1) {
    let [x, y, turn] = [random() * w, random() * h, random() * 2 * Math.PI];
    const length = (1 + 3 * random()) * dots;
    for (let s = 0; s < length; s += 0.7) {
      disc(x, y, Math.max(0.8, 0.015 * dots), 0.5);
      turn += 0.05 * (random() - 0.5);
      x += 0.7 * Math.cos(turn);
      y += 0.7 * Math.sin(turn);
    }
  }
  blur(out, w, h, scan.blurMm * dots);
  return out;
}

function mulberry(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

const normal = (random: () => number): number =>
  Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());

const area = (ring: readonly Vec[]): number =>
  ring.reduce((sum, [x, y], i) => {
    const [p, q] = ring[(i + 1) % ring.length];
    return sum + (x * q - p * y) / 2;
  }, 0);

function hullOf(points: readonly Vec[]): Vec[] {
  const sorted = [...points].sort((p, q) => p[0] - q[0] || p[1] - q[1]);
  const half = (list: readonly Vec[]): Vec[] => {
    const chain: Vec[] = [];
    for (const p of list) {
      while (chain.length > 1) {
        const [a, b] = [chain[chain.length - 2], chain[chain.length - 1]];
        if ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0) break;
        chain.pop();
      }
      chain.push(p);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.toReversed())];
}
