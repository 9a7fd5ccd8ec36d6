import { mapOpening, rotation, translation } from '../../src/geometry/affine.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import type { Opening, Ring } from '../../src/geometry/types.js';
import { seeded } from '../virtual-laser/random.js';

/** A rectangle with round corners about the origin; `radius` half the shorter side gives an obround. */
export function rounded(width: number, height: number, radius: number, steps = 8): Ring {
  const corner = (cx: number, cy: number, from: number): Ring =>
    Array.from({ length: steps + 1 }, (_, i): [number, number] => {
      const angle = from + (Math.PI / 2) * (i / steps);
      return [cx + radius * Math.cos(angle), cy + radius * Math.sin(angle)];
    });
  const [x, y] = [width / 2 - radius, height / 2 - radius];
  return [
    ...corner(x, y, 0),
    ...corner(-x, y, Math.PI / 2),
    ...corner(-x, -y, Math.PI),
    ...corner(x, -y, (3 * Math.PI) / 2),
  ];
}

export const box = (width: number, height: number): Ring => rectangle(-width / 2, -height / 2, width / 2, height / 2);

export function at(ring: Ring, x: number, y: number, angleDeg = 0): Opening {
  const turned = angleDeg === 0 ? solid(ring) : mapOpening(rotation(angleDeg), solid(ring));
  return mapOpening(translation(x, y), turned);
}

interface Part {
  readonly pads: readonly { readonly ring: Ring; readonly x: number; readonly y: number; readonly turn?: number }[];
  readonly sizeMm: number;
}

/** Leadless part with pads on four sides and a thermal pad in panes. */
function leadless(pads: number, pitch: number, pad: Ring, half: number, pane: number, web: number): Part {
  const list: Part['pads'][number][] = [];
  for (let i = 0; i < pads; i += 1) {
    const t = (i - (pads - 1) / 2) * pitch;
    list.push({ ring: pad, x: t, y: half }, { ring: pad, x: t, y: -half });
    list.push({ ring: pad, x: half, y: t, turn: 90 }, { ring: pad, x: -half, y: t, turn: 90 });
  }
  for (const x of [-1, 1]) {
    for (const y of [-1, 1]) {
      list.push({ ring: box(pane, pane), x: (x * (pane + web)) / 2, y: (y * (pane + web)) / 2 });
    }
  }
  return { pads: list, sizeMm: 2 * half + 1 };
}

function row(count: number, pitch: number, ring: Ring, rowsApart: number): Part {
  const list: Part['pads'][number][] = [];
  for (let i = 0; i < count; i += 1) {
    const x = (i - (count - 1) / 2) * pitch;
    list.push({ ring, x, y: rowsApart / 2 }, { ring, x, y: -rowsApart / 2 });
  }
  return { pads: list, sizeMm: Math.max(count * pitch, rowsApart) + 1.5 };
}

function balls(side: number, pitch: number, diameter: number): Part {
  const list: Part['pads'][number][] = [];
  const ring = ellipse(0, 0, diameter / 2);
  for (let i = 0; i < side; i += 1) {
    for (let j = 0; j < side; j += 1) {
      list.push({ ring, x: (i - (side - 1) / 2) * pitch, y: (j - (side - 1) / 2) * pitch });
    }
  }
  return { pads: list, sizeMm: side * pitch + 0.6 };
}

const PARTS: readonly (readonly [weight: number, part: Part])[] = [
  [40, row(1, 1, box(0.5, 0.6), 0.95)],
  [25, row(1, 1, rounded(0.8, 0.95, 0.2), 1.6)],
  [8, row(1, 1, rounded(1.15, 1.4, 0.25), 2.1)],
  [6, row(3, 0.95, box(0.55, 1.1), 2.4)],
  [4, leadless(8, 0.5, rounded(0.25, 0.7, 0.125), 2.45, 1.35, 0.3)],
  [3, leadless(12, 0.4, box(0.2, 0.75), 3.0, 1.6, 0.35)],
  [3, row(14, 0.65, rounded(0.37, 1.4, 0.08), 5.9)],
  [2, row(24, 0.5, box(0.28, 1.3), 7.2)],
  [2, balls(8, 0.8, 0.4)],
  [1, balls(10, 0.5, 0.27)],
  [1, row(10, 2.54, box(1.7, 1.1), 5)],
];

/** An invented board of about `count` openings: chips, leadless and leaded parts, ball grids; some parts slanted. */
export function board(count: number, seed: number, slantedShare = 0.05): { openings: Opening[]; sizeMm: number } {
  const random = seeded(seed);
  const total = PARTS.reduce((sum, [weight]) => sum + weight, 0);
  const openings: Opening[] = [];
  const width = Math.sqrt(count) * 2.3 + 15;
  let [x, y, high] = [1, 1, 0];
  while (openings.length < count) {
    let left = random() * total;
    const [, part] = PARTS.find(([weight]) => (left -= weight) <= 0) ?? PARTS[0];
    const turn = random() < slantedShare ? 5 * Math.ceil(random() * 17) : 90 * Math.floor(random() * 4);
    const room = part.sizeMm * (turn % 90 === 0 ? 1 : 1.4);
    if (x + room > width) [x, y, high] = [1, y + high, 0];
    const [cx, cy] = [x + room / 2 + random() * 0.2, y + room / 2 + random() * 0.2];
    for (const pad of part.pads) {
      const local = at(pad.ring, pad.x, pad.y, 0);
      const own = pad.turn ? at(pad.ring, pad.x, pad.y, pad.turn) : local;
      openings.push(mapOpening(translation(cx, cy), mapOpening(rotation(turn), own)));
    }
    x += room;
    high = Math.max(high, room);
  }
  return { openings, sizeMm: Math.max(width, y + high) + 2 };
}

/** Rectangles, round-cornered ones and discs of random sizes, apart from each other. */
export function randomBoard(
  count: number,
  seed: number,
  least = 0.25,
  most = 2,
): { openings: Opening[]; sizeMm: number } {
  const random = seeded(seed);
  const side = Math.ceil(Math.sqrt(count));
  const step = most + 0.6;
  const openings = Array.from({ length: count }, (_, i) => {
    const size = (): number => least * (most / least) ** random();
    const [w, h, kind] = [size(), size(), random()];
    const ring = kind < 0.5 ? box(w, h) : kind < 0.8 ? rounded(w, h, Math.min(w, h) * 0.3) : ellipse(0, 0, w / 2);
    const x = (0.5 + (i % side)) * step + random() * 0.3;
    const y = (0.5 + Math.floor(i / side)) * step + random() * 0.3;
    return at(ring, x, y, random() < 0.1 ? 90 * random() : 0);
  });
  return { openings, sizeMm: (side + 1) * step };
}
