import { composeMaps, mapOpening, rotation, translation } from '../../src/geometry/affine.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import type { Opening } from '../../src/geometry/types.js';

/** A rectangle about a centre. */
export function pad(x: number, y: number, widthMm: number, heightMm: number): Opening {
  return solid(rectangle(x - widthMm / 2, y - heightMm / 2, x + widthMm / 2, y + heightMm / 2));
}

/** A disc about a centre. */
export const disc = (x: number, y: number, diameterMm: number): Opening => solid(ellipse(x, y, diameterMm / 2));

/** A slot with semicircular ends, long along Y. */
export function slot(x: number, y: number, widthMm: number, lengthMm: number): Opening {
  const r = widthMm / 2;
  const straight = lengthMm / 2 - r;
  const arc = (cy: number, from: number): [number, number][] =>
    Array.from({ length: 25 }, (_, i) => {
      const angle = from + (Math.PI * i) / 24;
      return [x + r * Math.cos(angle), cy + r * Math.sin(angle)];
    });
  return solid([...arc(y + straight, 0), ...arc(y - straight, Math.PI)]);
}

/** Openings turned about the origin and moved. */
export function placed(openings: readonly Opening[], x: number, y: number, angleDeg = 0): Opening[] {
  const map = composeMaps(translation(x, y), rotation(angleDeg));
  return openings.map((opening) => mapOpening(map, opening));
}

/** Two pads of a chip along X. */
export function chip(padX: number, padY: number, spacing: number): Opening[] {
  return [pad(-spacing / 2, 0, padX, padY), pad(spacing / 2, 0, padX, padY)];
}

/** A leadless part with pads on four sides and a square thermal pad. */
export function leadless(
  perSide: number,
  pitch: number,
  width: number,
  length: number,
  body: number,
  thermal: number,
): Opening[] {
  const openings: Opening[] = [];
  for (const side of [0, 90, 180, 270]) {
    for (let i = 0; i < perSide; i += 1) {
      const along = (i - (perSide - 1) / 2) * pitch;
      openings.push(...placed([pad(along, -body / 2, width, length)], 0, 0, side));
    }
  }
  openings.push(pad(0, 0, thermal, thermal));
  return openings;
}

/** A ball grid. */
export function balls(columns: number, rows: number, pitch: number, diameter: number): Opening[] {
  return Array.from({ length: columns * rows }, (_, i) =>
    disc((i % columns) * pitch, Math.floor(i / columns) * pitch, diameter),
  );
}

/** Two rows of leads along Y. */
export function dualRow(perRow: number, pitch: number, width: number, length: number, spacing: number): Opening[] {
  return [-1, 1].flatMap((side) =>
    Array.from({ length: perRow }, (_, i) => pad((side * spacing) / 2, (i - (perRow - 1) / 2) * pitch, length, width)),
  );
}

/** An invented board with a bit of everything. */
export function mixedBoard(): Opening[] {
  return [
    ...placed(leadless(8, 0.5, 0.25, 0.8, 4.9, 3.1), 8, 8),
    ...placed(leadless(6, 0.4, 0.2, 0.6, 3.9, 2.4), 20, 9, 45),
    ...placed(balls(8, 8, 0.5, 0.28), 28, 5),
    ...placed(dualRow(7, 1.27, 0.6, 1.5, 5.4), 8, 22),
    ...[0, 1, 2, 3, 4, 5].flatMap((i) => placed(chip(0.3, 0.35, 0.56), 16 + i * 1.6, 18, i % 2 ? 90 : 0)),
    ...[0, 1, 2, 3].flatMap((i) => placed(chip(0.5, 0.6, 0.96), 16 + i * 2, 21)),
    ...[0, 1, 2].flatMap((i) => placed(chip(0.9, 1.4, 2.1), 17 + i * 4, 26, 30 * i)),
    ...placed([pad(-0.95, 1.2, 0.6, 0.9), pad(0.95, 1.2, 0.6, 0.9), pad(0, -1.2, 0.6, 0.9)], 31, 22),
    ...placed([pad(-0.7, 0, 0.6, 1.8), pad(0, 0, 0.6, 1.8)], 35, 25),
    ...[0, 1, 2, 3, 4, 5, 6, 7].map((i) => slot(28 + i * 0.35, 14, 0.17, 1.1)),
    disc(3, 28, 1),
  ];
}
