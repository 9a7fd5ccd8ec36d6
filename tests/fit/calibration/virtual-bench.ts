import type { DimensionalFeature } from '../../../src/coupon/features.js';
import type { Reading } from '../../../src/readings/types.js';
import { gaussian } from '../../virtual-laser/random.js';

/** What a virtual machine does: scaleX, scaleY, shear, kerfX, kerfY. */
export type Machine = readonly [number, number, number, number, number];

export interface Gauge {
  readonly noiseMm: number;
  readonly resolutionMm: number;
  /** What it shows where there is nothing, mm. */
  readonly zeroMm?: number;
  /** Share by which it shows lengths too long. */
  readonly fast?: number;
  /** Name in the readings. */
  readonly name?: string;
}

/** What machines do beside the five numbers. Places in commanded mm. */
export interface Faults {
  /** How far off a place lands, mm. */
  place?(x: number, y: number): readonly [number, number];
  /** How much wider the cut is than the machine's kerf, mm: across both axes, or across X and across Y. */
  kerf?(x: number, y: number, feature: DimensionalFeature): number | readonly [acrossX: number, acrossY: number];
}

const PITCH_MM = 0.0254;

type Kind = DimensionalFeature['kind'];

/** A coupon of spans, diagonals, openings and webs, snapped to the pitch; rows parted from columns by id. */
export function benchFeatures(): DimensionalFeature[] {
  const features: DimensionalFeature[] = [];
  const snap = (mm: number): number => Math.round(mm / PITCH_MM) * PITCH_MM;
  const add = (kind: Kind, x: number, y: number, dx: number, dy: number): void => {
    const from: [number, number] = [snap(x), snap(y)];
    const to: [number, number] = [snap(x + dx), snap(y + dy)];
    const nominalMm = Math.hypot(to[0] - from[0], to[1] - from[1]);
    features.push({ id: `${kind[0].toUpperCase()}${features.length}`, kind, from, to, nominalMm, say: 'read it' });
  };
  for (const y of [10, 50, 90]) for (const length of [140, 100, 50, 20]) add('span', 5, y, length, 0);
  for (const x of [10, 75, 140]) for (const length of [90, 60, 30, 20]) add('span', x, 5, 0, length);
  for (const size of [85, 60, 40, 30]) {
    add('span', 10, 5, size, size);
    add('span', 10, 95, size, -size);
  }
  for (const row of [20, 50, 80]) {
    for (const width of [0.1, 0.2, 0.3, 0.5, 1, 2]) {
      add('opening', 20, row, width, 0);
      add('opening', 40, row, 0, width);
    }
    for (const width of [0.3, 0.4, 0.5, 0.6]) {
      add('web', 60, row, width, 0);
      add('web', 80, row, 0, width);
    }
  }
  return features;
}

/** The length on the film, written out anew as a check of the model: edges move by half a kerf each. */
export function trueLength(feature: DimensionalFeature, [sx, sy, shear, kx, ky]: Machine): number {
  const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
  const span = Math.sqrt((sx * dx + shear * dy) ** 2 + (sy * dy) ** 2);
  const angle = Math.atan2(dy, dx);
  const kerf = Math.sqrt((kx * Math.cos(angle)) ** 2 + (ky * Math.sin(angle)) ** 2);
  return span + (feature.kind === 'opening' ? kerf : feature.kind === 'web' ? -kerf : 0);
}

/**
 * The length on the film, edge by edge: each edge lands where the machine puts it and moves outward of its opening by
 * half of the cut at its own place.
 */
function lengthOnFilm(feature: DimensionalFeature, machine: Machine, faults: Faults = {}): number {
  const [sx, sy, shear, kx, ky] = machine;
  const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
  const angle = Math.atan2(dy, dx);
  const edge = ([x, y]: readonly [number, number]): { x: number; y: number; half: number } => {
    const [ox, oy] = faults.place?.(x, y) ?? [0, 0];
    const more = faults.kerf?.(x, y, feature) ?? 0;
    const [moreX, moreY] = typeof more === 'number' ? [more, more] : more;
    const kerf = Math.hypot((kx + moreX) * Math.cos(angle), (ky + moreY) * Math.sin(angle));
    return { x: sx * (x + ox) + shear * (y + oy), y: sy * (y + oy), half: kerf / 2 };
  };
  const [a, b] = [edge(feature.from), edge(feature.to)];
  const middles = Math.hypot(b.x - a.x, b.y - a.y);
  if (feature.kind === 'opening') return middles + a.half + b.half;
  if (feature.kind === 'web') return middles - a.half - b.half;
  // Same-side edges move the same way; a cut that differs between them does not cancel.
  return feature.side === 'far' ? middles + b.half - a.half : middles - b.half + a.half;
}

/** Reads what can be read: webs that burnt away are said to be gone. */
export function readFilm(
  features: readonly DimensionalFeature[],
  machine: Machine,
  random: () => number,
  gaugeFor: (feature: DimensionalFeature) => Gauge,
  faults: Faults = {},
): Reading[] {
  return features.map((feature): Reading => {
    const { noiseMm, resolutionMm, zeroMm = 0, fast = 0, name } = gaugeFor(feature);
    const film = lengthOnFilm(feature, machine, faults);
    const value = (1 + fast) * film + zeroMm + noiseMm * gaussian(random);
    const readingMm = Math.round(value / resolutionMm) * resolutionMm;
    const gauge = name === undefined ? {} : { gauge: name };
    if (film <= 0 || readingMm <= 0)
      return { feature: feature.id, outcome: feature.kind === 'web' ? 'gone' : 'closed' };
    return { feature: feature.id, readingMm: Number(readingMm.toFixed(6)), resolutionMm, ...gauge };
  });
}

export function readAll(
  features: readonly DimensionalFeature[],
  machine: Machine,
  random: () => number,
  gaugeFor: (kind: Kind) => Gauge = () => ({ noiseMm: 0.005, resolutionMm: 0.01 }),
): (Reading & { readingMm: number })[] {
  return features.map((feature, i) => {
    const { noiseMm, resolutionMm } = gaugeFor(feature.kind);
    const value = trueLength(feature, machine) + noiseMm * gaussian(random);
    const readingMm = resolutionMm === 0 ? value : Math.round(value / resolutionMm) * resolutionMm;
    return { feature: feature.id, readingMm, ...(resolutionMm === 0 ? {} : { resolutionMm }), line: i + 2 };
  });
}

export function randomMachine(random: () => number): Machine {
  const around = (centre: number, width: number): number => centre + width * (random() - 0.5);
  return [around(1, 0.01), around(1, 0.01), around(0, 0.01), around(0.14, 0.12), around(0.14, 0.12)];
}
