import { dotRegion } from '../dots/dot-regions.js';
import { InputError } from '../errors.js';
import { ringBounds } from '../geometry/bounds.js';
import { rectangle } from '../geometry/shapes.js';
import type { Point, Ring } from '../geometry/types.js';
import { once } from '../kept.js';
import { type DotGrid, tidyMm } from './dot-grid.js';
import type { Laying } from './laying.js';
import type { DiagonalElement } from './pattern.js';
import type { CouponSheet } from './sheet.js';

/** How far a diagonal may be moved to find a free place, and in which steps, mm. */
const SEARCH_MM = 24;
const SEARCH_STEP_MM = 0.75;

/**
 * A slanted slot on square dots is a staircase, so its edge has no one place. Two rules make its spans exact all the same:
 *
 * 1. All slots of a diagonal are the same dots moved by whole dots, and `from` and `to` are the same corner of the
 *    staircase in both. Whatever the beam makes of the staircase, it makes the same of both, and the reading along the
 *    line is |A u| L without any share of the dots.
 * 2. That corner lies on the line that the staircase touches from inside, square to the direction of measuring; no dot
 *    of the slot reaches beyond it. So a straight edge laid on the slot touches it there too.
 *
 * Read from middle to middle: where the scales differ or the axes are not square, the edges lie no longer square to that
 * line, and square to them the length is not |A u| L but less, by 10 µm and more on 100 mm.
 */
export function layDiagonal({ sheet, prefix, key, number }: Laying, element: DiagonalElement): void {
  const { grid } = sheet;
  const [from, to, slotMm] = (['from', 'to', 'slotMm'] as const).map(
    (name): Point => [number(element[name][0], `${name}.0`), number(element[name][1], `${name}.1`)],
  );
  const steps = element.slots - 1;
  const stepDots: Point = [grid.dots('x', (to[0] - from[0]) / steps), grid.dots('y', (to[1] - from[1]) / steps)];
  const along = unit([stepDots[0] * grid.pitch('x'), stepDots[1] * grid.pitch('y')]);
  const stair = staircase(grid, along, slotMm);
  const name = sheet.nextName();
  const outline = slantedRectangle(along, slotMm);
  const found = findPlace(sheet, outline, from, stepDots, element.slots, name);
  if (!found) {
    throw new InputError({
      code: 'COUPON_CROWDED',
      place: { key },
      message: `there is no room for the diagonal ${name} from ${from.map((v) => v.toFixed(1)).join(', ')} mm.`,
      hint: 'Use a larger bed, or move its ends in the pattern.',
    });
  }
  const { corners, labels } = found;
  corners.forEach((corner, i) => {
    sheet.addRing(moved(stair, corner), sheet.newGroup());
    sheet.addText(`${name}${i}`, labels[i]);
  });
  const ends = corners.map(([x, y]): [number, number] => [grid.mm('x', x), grid.mm('y', y)]);
  const facing = `${stepDots[1] > 0 ? 'lower' : 'upper'} ${stepDots[0] > 0 ? 'left' : 'right'}`;
  for (let i = 0; i < ends.length; i += 1) {
    for (let j = i + 1; j < ends.length; j += 1) {
      const [p, q] = [ends[i], ends[j]];
      const nominalMm = tidyMm(Math.hypot(q[0] - p[0], q[1] - p[1]));
      sheet.features.push({
        id: `${prefix}${name}${i}-${j}`,
        kind: 'span',
        from: p,
        to: q,
        nominalMm,
        side: 'near',
        say: `From the middle of the edge of slanted slot ${name}${i} that faces ${facing} to the middle of the same edge of slot ${name}${j}, about ${nominalMm.toFixed(2)} mm.`,
      });
    }
  }
}

const moved = (ring: Ring, [dx, dy]: Point): Ring => ring.map(([x, y]): Point => [x + dx, y + dy]);

/**
 * The dots that lie wholly inside a slanted rectangle whose near edge passes through the origin, as one ring in dots.
 * The direction of measuring is a unit vector; the rectangle reaches `slotMm[0]` along it and half of `slotMm[1]` to
 * both sides. The dot whose corner is the origin is part of it.
 */
function staircase(grid: DotGrid, [ux, uy]: Point, slotMm: Point): Ring {
  const [px, py] = [grid.pitch('x'), grid.pitch('y')];
  const reach = Math.hypot(slotMm[0], slotMm[1]) + px + py;
  const columns = Math.ceil(reach / px);
  const rows = Math.ceil(reach / py);
  // A hair of room: the corner at the origin lies on the edge itself.
  const hair = 1e-9;
  const covered = (x: number, y: number): boolean => {
    const [s, t] = [x * ux + y * uy, x * -uy + y * ux];
    return s >= -hair && s <= slotMm[0] + hair && Math.abs(t) <= slotMm[1] / 2 + hair;
  };
  const inside = (column: number, row: number): boolean => {
    const [x0, x1, y0, y1] = [column * px, (column + 1) * px, row * py, (row + 1) * py];
    return covered(x0, y0) && covered(x1, y0) && covered(x0, y1) && covered(x1, y1);
  };
  const around = (count: number): number[] => Array.from({ length: 2 * count }, (_, i) => i - count);
  // The shape is convex, so each column of dots is one run.
  const runs = around(columns).map((column) => {
    const own = around(rows).filter((row) => inside(column, row));
    return own.length > 0 ? [own[0], own[own.length - 1] + 1] : [];
  });
  const burnt = runs.filter(({ length }) => length > 0);
  const joined = burnt.every(([from, to], i) => i === 0 || (from < burnt[i - 1][1] && to > burnt[i - 1][0]));
  if (burnt.length === 0 || !joined || !inside(ux > 0 ? 0 : -1, uy > 0 ? 0 : -1)) {
    throw new InputError({
      code: 'PITCH_TOO_COARSE',
      message: `a slanted slot of ${slotMm[0]} x ${slotMm[1]} mm falls apart on dots of ${px} x ${py} mm.`,
      hint: 'Give a finer pitch, or a wider slot in the pattern.',
    });
  }
  return dotRegion(runs, ([y, x]) => [x - columns, y]).outer;
}

function unit([x, y]: Point): Point {
  const length = Math.hypot(x, y);
  return [x / length, y / length];
}

/** The rectangle in mm that the staircase fills from inside. */
function slantedRectangle([ux, uy]: Point, [across, length]: Point): Ring {
  const corner = (s: number, t: number): Point => [s * ux - t * uy, s * uy + t * ux];
  return [corner(0, -length / 2), corner(across, -length / 2), corner(across, length / 2), corner(0, length / 2)];
}

/** Looks for a free place around the wanted one, nearest first. */
function findPlace(sheet: CouponSheet, outline: Ring, from: Point, step: Point, slots: number, name: string) {
  const { grid } = sheet;
  for (const [dx, dy] of nearestOffsets()) {
    const start: Point = [grid.dots('x', from[0] + dx), grid.dots('y', from[1] + dy)];
    const corners = Array.from({ length: slots }, (_, i): Point => [start[0] + i * step[0], start[1] + i * step[1]]);
    const labels: Point[] = [];
    for (const [i, corner] of corners.entries()) {
      const ring = moved(outline, [grid.mm('x', corner[0]), grid.mm('y', corner[1])]);
      const label = sheet.isFree(ring) ? freeLabel(sheet, ring, `${name}${i}`) : undefined;
      if (!label) break;
      labels.push(label);
    }
    if (labels.length === slots) return { corners, labels };
  }
  return undefined;
}

const nearestOffsets = once(() => {
  const count = Math.floor(SEARCH_MM / SEARCH_STEP_MM);
  const steps = Array.from({ length: 2 * count + 1 }, (_, i) => (i - count) * SEARCH_STEP_MM);
  const all = steps.flatMap((x) => steps.map((y): Point => [x, y]));
  return all.sort((p, q) => Math.hypot(...p) - Math.hypot(...q) || p[0] - q[0] || p[1] - q[1]);
});

/** A place for a label below, above, left or right of a slanted slot. */
function freeLabel(sheet: CouponSheet, ring: Ring, text: string): Point | undefined {
  const gap = sheet.clearanceMm + 0.1;
  const { maxX: width, maxY: height } = sheet.textBox(text, [0, 0]);
  const { minX, maxX, minY, maxY } = ringBounds(ring);
  const [cx, cy] = [(minX + maxX - width) / 2, (minY + maxY - height) / 2];
  const places: Point[] = [
    [cx, minY - gap - height],
    [cx, maxY + gap],
    [maxX + gap, cy],
    [minX - gap - width, cy],
  ];
  // The strokes of a label are snapped to the dots: each may come out up to one dot wider.
  const [spareX, spareY] = [sheet.grid.pitch('x'), sheet.grid.pitch('y')];
  const borderMm = sheet.clearanceMm - Math.max(spareX, spareY);
  return places.find(([x, y]) =>
    sheet.isFree(rectangle(x - spareX, y - spareY, x + width + spareX, y + height + spareY), borderMm),
  );
}
