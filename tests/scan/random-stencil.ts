import sharp from 'sharp';
import type { Opening } from '../../src/geometry/types.js';
import { Openings } from '../../src/scan/find/places.js';
import { Scene } from '../../src/scan/find/recognise.js';
import { inspectOpenings } from '../../src/scan/inspect/inspect-openings.js';
import { type Picture, scanFilm, type Vec } from './virtual-scanner.js';

/**
 * Stencils drawn at random, cut as drawn but for planted faults, and seen by the virtual scanner: every fault must be found,
 * under a name that is right, and none invented.
 */
interface Pad {
  readonly kind: 'rect' | 'round' | 'ell' | 'cup' | 'frame';
  readonly at: Vec;
  readonly w: number;
  readonly h: number;
  readonly deg: number;
}

export interface Fault {
  readonly index: number;
  readonly kind: 'missing' | 'closed' | 'torn' | 'bridged' | 'shifted' | 'larger' | 'smaller';
}

/** What may be said of each; of two that are true any one will do. */
const SAID: Record<Fault['kind'], readonly string[]> = {
  missing: ['missing'],
  closed: ['partly closed'],
  torn: ['torn'],
  bridged: ['bridged'],
  shifted: ['out of place'],
  larger: ['too large'],
  smaller: ['too small', 'partly closed'],
};

const LIMITS = { areaPercent: 15, sizeMm: 0.04, placeMm: 0.06 };

/** Park and Miller's minimal standard generator, CACM 31 (1988) 1192. */
class Chance {
  private state: number;
  constructor(seed: number) {
    this.state = seed * 7919 + 13;
    for (let k = 0; k < 10; k += 1) this.next();
  }
  next = (): number => {
    this.state = (this.state * 48271) % 2147483647;
    return this.state / 2147483647;
  };
  between = (low: number, high: number): number => low + (high - low) * this.next();
  below = (n: number): number => Math.floor(this.next() * n);
  of = <T>(...all: readonly T[]): T => all[this.below(all.length)];
}

const turned = ([x, y]: Vec, [cx, cy]: Vec, deg: number): Vec => {
  const a = (deg * Math.PI) / 180;
  return [cx + x * Math.cos(a) - y * Math.sin(a), cy + x * Math.sin(a) + y * Math.cos(a)];
};
const box = (w: number, h: number): Vec[] => [[-w / 2, -h / 2], [w / 2, -h / 2], [w / 2, h / 2], [-w / 2, h / 2]]; // biome-ignore format: a ring

function ringsOf({ kind, at, w, h, deg }: Pad): Vec[][] {
  const r = Math.min(w, h) / 2;
  const arm = 0.3 * Math.min(w, h);
  const local: Record<Pad['kind'], () => Vec[][]> = {
    rect: () => [box(w, h)],
    round: () => [
      Array.from({ length: 64 }, (_, k): Vec => {
        const [c, s] = [Math.cos((2 * Math.PI * (k + 0.5)) / 64), Math.sin((2 * Math.PI * (k + 0.5)) / 64)];
        return [Math.sign(c) * (w / 2 - r) + r * c, Math.sign(s) * (h / 2 - r) + r * s];
      }),
    ],
    ell: () => [[[-w / 2, -h / 2], [w / 2, -h / 2], [w / 2, -h / 2 + arm], [-w / 2 + arm, -h / 2 + arm], [-w / 2 + arm, h / 2], [-w / 2, h / 2]]], // biome-ignore format: a ring
    cup: () => [[[-w / 2, -h / 2], [w / 2, -h / 2], [w / 2, h / 2], [w / 2 - arm, h / 2], [w / 2 - arm, -h / 2 + arm], [-w / 2 + arm, -h / 2 + arm], [-w / 2 + arm, h / 2], [-w / 2, h / 2]]], // biome-ignore format: a ring
    frame: () => [box(w, h), box(w - 2 * arm, h - 2 * arm).reverse()],
  };
  return local[kind]().map((ring) => ring.map((point) => turned(point, at, deg)));
}

type Box = readonly [number, number, number, number];
const boxOf = (pad: Pad, room = 0): Box => {
  const [xs, ys] = [0, 1].map((k) => ringsOf(pad)[0].map((point) => point[k]));
  return [Math.min(...xs) - room, Math.min(...ys) - room, Math.max(...xs) + room, Math.max(...ys) + room];
};
const gapOf = (p: Box, q: Box): number =>
  Math.hypot(Math.max(0, q[0] - p[2], p[0] - q[2]), Math.max(0, q[1] - p[3], p[1] - q[3]));

function partOf(chance: Chance, at: Vec): Pad[] {
  const { between, below, of } = chance;
  const [x, y] = at;
  const pad = (kind: Pad['kind'], [px, py]: Vec, w: number, h: number, deg = 0): Pad => ({
    kind,
    at: [px, py],
    w,
    h,
    deg,
  });
  return of<() => Pad[]>(
    () => {
      const [nx, ny, pitch] = [2 + below(5), 2 + below(4), between(0.8, 1.6)];
      const [w, h] = [between(0.4, 0.7) * pitch, between(0.4, 0.7) * pitch];
      const kind = of<Pad['kind']>('rect', 'rect', 'round');
      return Array.from({ length: nx * ny }, (_, i) =>
        pad(kind, [x + (i % nx) * pitch, y + Math.floor(i / nx) * pitch], w, kind === 'round' ? w : h),
      );
    },
    () => {
      const [n, pitch, upright] = [4 + below(14), of(0.4, 0.5, 0.65, 0.8), of(true, false)];
      const [w, h] = [between(0.45, 0.6) * pitch, between(0.9, 1.5)];
      return Array.from({ length: n }, (_, i) =>
        upright ? pad('rect', [x, y + i * pitch], h, w) : pad('rect', [x + i * pitch, y], w, h),
      );
    },
    () => {
      const [n, pitch, kind] = [4 + below(6), of(0.4, 0.5, 0.65), of<Pad['kind']>('rect', 'round')];
      const [w, h, far] = [0.55 * pitch, 0.7, (n * pitch) / 2 + 0.8];
      const leads = Array.from({ length: 4 * n }, (_, i) => {
        const t = ((i % n) - (n - 1) / 2) * pitch;
        return pad(kind, turned([t, -far], [x, y], 90 * Math.floor(i / n)), w, h, 90 * Math.floor(i / n));
      });
      return of(true, true, false) ? [...leads, pad('rect', [x, y], 1.1 * far, 1.1 * far)] : leads;
    },
    () => {
      const [deg, w, h, gap] = [between(-45, 45), between(0.4, 0.9), between(0.5, 1), between(0.9, 1.4)];
      return [-1, 1].map((side) => pad('rect', turned([side * gap, 0], [x, y], deg), w, h, deg));
    },
    () => {
      const [w, h, gap] = [between(0.3, 0.6), between(0.4, 0.9), between(0.7, 1.1)];
      return [-1, 1].map((side) => pad('rect', [x + side * gap, y], w, h));
    },
    () => [pad('round', at, between(0.3, 1.4), between(0.3, 1.4), of(0, 0, 40))],
    () => [pad('ell', at, between(1, 3), between(1, 3), of(0, 90, 180, 30))],
    () => [pad('cup', at, between(1.2, 3), between(1.2, 3), of(0, 90, 180))],
    () => [pad('frame', at, between(1.2, 3), between(1.2, 3), of(0, 0, 25))],
  )();
}

function drawn(chance: Chance, wanted: number): Pad[] {
  const all: Pad[] = [];
  const [w, h] = [chance.between(14, 22), chance.between(10, 18)];
  for (let tries = 0; tries < 400 && all.length < wanted; tries += 1) {
    const part = partOf(chance, [chance.between(0, w), chance.between(0, h)]).slice(0, wanted);
    if (part.every((pad) => all.every((other) => gapOf(boxOf(pad), boxOf(other)) > 0.22))) all.push(...part);
  }
  return all;
}

/** Outlines as the laser leaves them. */
interface Cut {
  readonly rings: Vec[][][];
  readonly faults: Fault[];
  readonly holes: Vec[];
}

function cutWith(chance: Chance, asked: readonly Pad[], count: number): Cut {
  const { between, below, of } = chance;
  const rings = asked.map(ringsOf);
  const more: Vec[][][] = [];
  const faults: Fault[] = [];
  const holes: Vec[] = [];
  const faulty: Box[] = [];
  const isFree = (own: Box): boolean => faulty.every((other) => gapOf(own, other) > 1);
  const gapAt = (i: number): number =>
    asked.reduce((least, other, j) => (j === i ? least : Math.min(least, gapOf(boxOf(asked[i]), boxOf(other)))), 9);
  const plant = (kind: Fault['kind'], i: number, cut: Vec[][]): void => {
    rings[i] = cut;
    faulty.push(boxOf(asked[i]));
    faults.push({ index: i, kind });
  };
  /** A tear that leaves a thread of film before the next opening, so that they are not bridged. */
  const tornTowardsNeighbour = (i: number): void => {
    const pad = asked[i];
    const own = boxOf(pad);
    for (const j of asked.keys()) {
      const [other, gap] = [boxOf(asked[j]), gapOf(own, boxOf(asked[j]))];
      const alongX = other[0] > own[2];
      const besides = alongX ? asked[j].at[1] - pad.at[1] : asked[j].at[0] - pad.at[0];
      if (j === i || asked[j].kind !== 'rect' || pad.deg % 90 !== 0 || asked[j].deg % 90 !== 0) continue;
      if (gap < 0.24 || gap > 0.4 || Math.abs(besides) > 0.05 || !isFree(other)) continue;
      if (!alongX && !(other[1] > own[3])) continue;
      const [far, wide] = [gap - between(0.08, 0.1), between(0.08, 0.12)];
      const [x, y] = alongX ? [own[2] + far / 2 - 0.02, pad.at[1]] : [pad.at[0], own[3] + far / 2 - 0.02];
      plant('torn', i, rings[i]);
      more.push([(alongX ? box(far + 0.04, wide) : box(wide, far + 0.04)).map(([u, v]): Vec => [x + u, y + v])]);
      return;
    }
  };
  const moved = (i: number, [x, y]: Vec): Vec[][] => rings[i].map((ring) => ring.map(([px, py]) => [px + x, py + y]));
  const ways: Record<Fault['kind'] | 'hole', (i: number) => void> = {
    missing: (i) => plant('missing', i, []),
    closed: (i) => {
      const pad = asked[i];
      if (pad.kind !== 'rect' && pad.kind !== 'round') return;
      const share = between(0.3, 0.6);
      const at = turned([0, (of(-1, 1) * (1 - share) * pad.h) / 2], pad.at, pad.deg);
      plant('closed', i, ringsOf({ ...pad, at, h: share * pad.h }));
    },
    torn: (i) => {
      const pad = asked[i];
      if (pad.kind !== 'rect') return;
      if (gapAt(i) < 0.9) return void tornTowardsNeighbour(i);
      const tear = box(0.5, between(0.07, 0.12)).map(([x, y]) => turned([x + pad.w / 2 + 0.2, y], pad.at, pad.deg));
      plant('torn', i, rings[i]);
      more.push([tear]);
    },
    bridged: (i) => {
      const pad = asked[i];
      const j = asked.findIndex((other, k) => k !== i && other.kind === 'rect' && gapOf(boxOf(pad), boxOf(other)) < 0.6 && Math.hypot(other.at[0] - pad.at[0], other.at[1] - pad.at[1]) < 1.3); // biome-ignore format: one condition
      if (j < 0 || pad.kind !== 'rect' || !isFree(boxOf(asked[j]))) return;
      const [[px, py], [qx, qy]] = [pad.at, asked[j].at];
      const far = Math.hypot(qx - px, qy - py);
      const middle: Vec = [(px + qx) / 2, (py + qy) / 2];
      const own = asked.filter((other, k) => k !== i && k !== j && gapOf(boxOf(other), [middle[0], middle[1], middle[0], middle[1]]) < far / 2 + 0.1); // biome-ignore format: one condition
      if (own.length > 0) return;
      const angle = (Math.atan2(qy - py, qx - px) * 180) / Math.PI;
      plant('bridged', i, rings[i]);
      plant('bridged', j, rings[j]);
      more.push([box(far, between(0.1, 0.2)).map((point) => turned(point, middle, angle))]);
    },
    shifted: (i) => {
      const far = Math.min(between(0.1, 0.35), gapAt(i) - 0.1);
      if (far < 0.1) return;
      const way = between(0, 2 * Math.PI);
      plant('shifted', i, moved(i, [far * Math.cos(way), far * Math.sin(way)]));
    },
    larger: (i) => {
      const { w, h, kind } = asked[i];
      const by = between(0.08, 0.14);
      if (gapAt(i) < 0.25 || kind === 'ell' || kind === 'cup' || kind === 'frame') return;
      const both = kind === 'round' ? by : 0;
      plant('larger', i, ringsOf({ ...asked[i], w: w + by, h: h + both }));
    },
    smaller: (i) => {
      const { w, h, kind } = asked[i];
      if (Math.min(w, h) < 0.25 || kind === 'ell' || kind === 'cup' || kind === 'frame') return;
      plant('smaller', i, ringsOf({ ...asked[i], w: w - between(0.08, 0.12) }));
    },
    hole: () => {
      const [w, h] = [between(0.25, 1), between(0.25, 1)];
      for (let tries = 0; tries < 100; tries += 1) {
        const pad: Pad = { kind: of<Pad['kind']>('rect', 'round'), at: [between(0, 20), between(0, 15)], w, h, deg: 0 };
        const own = boxOf(pad);
        if (asked.some((other) => gapOf(boxOf(other), own) < 0.2) || asked.every((other) => gapOf(boxOf(other), own) > 1) || !isFree(own)) continue; // biome-ignore format: one condition
        holes.push(pad.at);
        faulty.push(own);
        more.push(ringsOf(pad));
        return;
      }
    },
  };
  for (let k = 0; k < count; k += 1) {
    const i = below(asked.length);
    const way = of(...(Object.keys(ways) as (keyof typeof ways)[]));
    if (way === 'hole' || isFree(boxOf(asked[i]))) ways[way](i);
  }
  return { rings: [...rings.filter((own) => own.length > 0), ...more], faults, holes };
}

/** One ring that runs in to its island and back again, as the scanner takes it. */
const inOne = ([outer, island]: Vec[][]): Vec[] =>
  island === undefined ? outer : [...outer, outer[0], ...island, island[0]];

async function throughJpeg(picture: Picture, quality: number): Promise<Picture> {
  const { widthPx: width, heightPx: height, levels } = picture;
  const bytes = await sharp(levels, { raw: { width, height, channels: 1 } })
    .jpeg({ quality })
    .toBuffer();
  const raw = await sharp(bytes).toColourspace('b-w').raw().toBuffer();
  return { ...picture, levels: new Uint8Array(raw) };
}

export interface Judged {
  /** Openings and planted faults, and all that was said wrongly. */
  readonly of: string;
  readonly faults: number;
  readonly wrong: readonly string[];
}

/** @param fewer - at most so many openings */
export async function judgeRandomStencil(seed: number, fewer?: number): Promise<Judged> {
  const chance = new Chance(seed);
  const { between, below, of } = chance;
  const asked = drawn(chance, fewer === undefined ? 12 + below(60) : 1 + below(fewer));
  const { rings, faults, holes } = cutWith(chance, asked, fewer === undefined ? below(7) : below(2));
  const corners = asked.flatMap((pad) => ringsOf(pad)[0]);
  const [mx, my] = [0, 1].map((k) => {
    const all = corners.map((point) => point[k]);
    return (Math.min(...all) + Math.max(...all)) / 2;
  });
  const size = 2 * Math.max(...corners.map(([x, y]) => Math.hypot(x - mx, y - my))) + 4;
  const mirrored = chance.next() < 0.3;
  const turnDeg = of(0, 90, 180, 270, between(0, 360), between(-4, 4));
  const look = of({ film: 215, open: 40 }, { film: 60, open: 225 }, { film: 150, open: 235 }, { film: 190, open: 25 });
  const scan = {
    ...{ dpi: of(600, 1200, 1200), widthMm: size, heightMm: size, turnDeg, mirrored, atMm: [size / 2, size / 2] as const },
    ...{ scaleX: between(0.998, 1.002), scaleY: between(0.998, 1.002), skew: between(-0.001, 0.001) },
    ...{ blurMm: between(0.015, 0.035), vignette: between(0, 0.3), noise: between(1, 3), specksPerCm2: 3, hairsPerCm2: 2 },
    ...{ ...look, seed },
  }; // biome-ignore format: in rows
  const machine = {
    ...{ scaleX: between(0.998, 1.002), scaleY: between(0.998, 1.002), shear: between(-0.002, 0.002) },
    ...{ kerfXMm: 1e-4, kerfYMm: 1e-4 },
  };
  const openings = rings.map((own) => ({ outer: inOne(own).map(([x, y]): Vec => [x - mx, y - my]) }));
  const raw = scanFilm({ openings, machine }, scan);
  const picture = of(true, false) ? await throughJpeg(raw, of(75, 85, 92)) : raw;
  const what = `${asked.length} openings, ${scan.dpi} dpi, ${turnDeg.toFixed(0)} degrees${mirrored ? ', mirrored' : ''}, ${look.film}/${look.open}: ${faults.map(({ index, kind }) => `${index + 1} ${kind}`).join(', ')}, ${holes.length} holes`;
  const wanted = new Openings(
    asked.map((pad): Opening => {
      const [outer, ...islands] = ringsOf(pad);
      return { outer, islands };
    }),
  );
  const scene = new Scene(picture);
  const darker = scene.findStencil(wanted, 'darker');
  const recognised = darker ?? scene.findStencil(wanted, 'lighter');
  const planted = faults.length + holes.length;
  // Of a lone opening that has a fault nothing tells that it is no dust.
  if (!recognised) return { of: what, faults: planted, wrong: asked.length === 1 && planted > 0 ? [] : ['not found'] };
  const { inspected, holes: found, laid } = inspectOpenings(picture, wanted, recognised, LIMITS); // biome-ignore format: one line
  // What looks the same laid otherwise may be numbered so, as long as that is told.
  const numberings = [asked.map((_, i) => i), ...(recognised.alike ?? []).map(({ partner }) => [...partner])];
  const wrongs = numberings.map((numbering) => {
    const said = inspected.map((_, i) => inspected[numbering[i]]);
    return [
      ...said.flatMap((one, i) => {
        const own = faults.find(({ index }) => index === i);
        const words = `${i + 1} ${asked[i].kind}${asked[i].deg ? ` at ${asked[i].deg.toFixed(0)}` : ''}: ${one.faults.join() || 'good'}, ${one.asked.widthMm.toFixed(3)} x ${one.asked.heightMm.toFixed(3)} -> ${one.widthMm?.toFixed(3)} x ${one.heightMm?.toFixed(3)}, area ${((one.areaMm2 ?? 0) / one.asked.areaMm2).toFixed(2)}, off ${one.offMm?.toFixed(3)}`;
        if (own?.kind === 'shifted' && !laid) return [];
        if (!own) return one.faults.length > 0 || one.unseen ? [`invented ${words}`] : [];
        return one.faults.some((fault) => SAID[own.kind].includes(fault)) ? [] : [`${one.faults.length > 0 ? 'misnamed' : 'missed'} ${own.kind} ${words}`]; // biome-ignore format: one line
      }),
    ];
  });
  const ofHoles = recognised.alike?.length
    ? [...(found.length === holes.length ? [] : [`${found.length} of ${holes.length} holes`])]
    : [
        ...holes.filter((at) => !found.some((hole) => Math.hypot(hole.at[0] - at[0], hole.at[1] - at[1]) < 0.2)).map((at) => `missed hole at ${at}`), // biome-ignore format: one line
        ...found.filter(({ at }) => !holes.some((hole) => Math.hypot(hole[0] - at[0], hole[1] - at[1]) < 0.2)).map((hole) => `invented hole ${JSON.stringify(hole)}`), // biome-ignore format: one line
      ];
  const least = wrongs.reduce((best, one) => (one.length < best.length ? one : best));
  return { of: what, faults: planted, wrong: [...least, ...ofHoles] };
}
