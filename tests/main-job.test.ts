import { describe, expect, it } from 'vitest';
import { generateCoupon } from '../src/coupon/generate.js';
import { writeArtwork } from '../src/export/write.js';
import { fitCalibration } from '../src/fit/calibration/fit-sessions.js';
import { mapOpenings, rotation } from '../src/geometry/affine.js';
import { openingCentroid } from '../src/geometry/area.js';
import { boundsOf } from '../src/geometry/bounds.js';
import { move } from '../src/geometry/copies.js';
import { orientedBox } from '../src/geometry/oriented-box.js';
import { ellipse, rectangle, solid } from '../src/geometry/shapes.js';
import type { Opening } from '../src/geometry/types.js';
import { correctOpenings } from '../src/machine/correct-openings.js';
import { commandedKerf, machineModel } from '../src/machine/machine-model.js';
import { burnImage, targetsOf } from './virtual-laser/bench-day.js';
import type { HiddenMachine } from './virtual-laser/film.js';
import { measureStencil, type StencilErrors } from './virtual-laser/measure-stencil.js';
import { seeded } from './virtual-laser/random.js';
import { readCoupon } from './virtual-laser/read-coupon.js';

/**
 * The whole job against a virtual laser that is written without the project's geometry: coupon images are burnt and
 * read, the machine is fitted, a board is corrected, burnt and measured.
 */
const pad = (w: number, h: number, x: number, y: number): Opening =>
  solid(rectangle(x - w / 2, y - h / 2, x + w / 2, y + h / 2));

/** An invented board: fine-pitch leadless parts, chips, discs and a slanted part. */
function board(): Opening[] {
  const leadless = Array.from({ length: 32 }, (_, i): Opening => {
    const side = Math.floor(i / 8);
    const along = ((i % 8) - 3.5) * 0.5;
    return mapOpenings(rotation(90 * side), [pad(0.25, 0.7, along, -2.45)])[0];
  });
  const slanted = mapOpenings(rotation(30), leadless.slice(0, 16));
  const chips = Array.from({ length: 24 }, (_, i) => [
    pad(0.5, 0.6, 10 + 3.3 * i, 5.1),
    pad(0.5, 0.6, 10.96 + 3.3 * i, 5.1),
  ]).flat();
  const discs = Array.from({ length: 20 }, (_, i): Opening => solid(ellipse(12 + 3.7 * i, 52.3, 0.2 + 0.02 * i)));
  const place = (list: Opening[], x: number, y: number): Opening[] => list.map((o) => move(o, x, y));
  return [
    ...place(leadless, 20, 30),
    ...place(leadless, 70.3, 22.7),
    ...place(slanted, 45.1, 38),
    ...chips,
    ...discs,
    pad(3.1, 3.1, 20, 30),
  ];
}

async function calibrate(machine: HiddenMachine, pitch: { x: number; y: number }, seed: number) {
  const gauge = { noiseMm: 0.005, resolutionMm: 0.01 };
  const random = seeded(seed);
  const readings = [];
  const features = [];
  for (const name of ['scale-ruler', 'aperture-ladder']) {
    // Where the film comes out at a quarter of its size, the whole bed is wanted to find the kerf to half a micrometre.
    const [wide, high] = machine.scaleX < 0.5 ? [150, 100] : [110, 75];
    const coupon = await generateCoupon(name, { widthMm: wide, heightMm: high, pitchXMm: pitch.x, pitchYMm: pitch.y });
    const { widthMm, heightMm } = coupon.canvas;
    const { bytes } = await writeArtwork(coupon.openings, {
      format: 'png',
      canvas: { widthMm, heightMm },
      pitchMm: pitch,
      rounding: 'snapped',
    });
    const film = await burnImage(bytes, machine, pitch);
    readings.push(
      ...readCoupon(film, coupon.features.features, gauge, random).map((r) => ({
        ...r,
        resolutionMm: gauge.resolutionMm,
      })),
    );
    features.push(...coupon.features.features);
  }
  return fitCalibration(readings, features);
}

/** Width errors when each pad gets the whole number of dots that is nearest across each of its own sides. */
function nearestDots(asked: readonly Opening[], machine: HiddenMachine, pitch: { x: number; y: number }) {
  const errors = asked.flatMap(({ outer }) => {
    const { angleDeg, widthMm, heightMm } = orientedBox(outer);
    const [c, s] = [Math.cos((angleDeg * Math.PI) / 180), Math.sin((angleDeg * Math.PI) / 180)];
    return [
      [widthMm, c, s],
      [heightMm, -s, c],
    ].map(([size, ux, uy]) => {
      const dot = Math.hypot(pitch.x * machine.scaleX * ux, pitch.y * machine.scaleY * uy);
      const dots = (size - Math.hypot(machine.kerfXMm * ux, machine.kerfYMm * uy)) / dot;
      return (Math.round(dots) - dots) * dot;
    });
  });
  const mean = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0) / values.length;
  return { mean: mean(errors), rms: Math.sqrt(mean(errors.map((e) => e * e))) };
}

async function cutBoard(
  told: readonly Opening[],
  asked: readonly Opening[],
  centres: readonly (readonly [number, number])[],
  machine: HiddenMachine,
  pitch: { x: number; y: number },
  kerfMm?: { x: number; y: number },
): Promise<StencilErrors> {
  const box = boundsOf(told);
  if (!box) throw new Error('nothing to cut');
  const originMm: [number, number] = [box.minX - 1.013, box.minY - 1.007];
  const canvas = { widthMm: box.maxX - box.minX + 2.1, heightMm: box.maxY - box.minY + 2.1 };
  const { bytes } = await writeArtwork(told, {
    format: 'png',
    canvas,
    originMm,
    pitchMm: pitch,
    ...(kerfMm ? { kerfMm } : {}),
  });
  return measureStencil(await burnImage(bytes, machine, pitch), targetsOf(asked, centres, originMm));
}

describe('the main job on a virtual laser', () => {
  it.each([
    [
      'a desk laser',
      { scaleX: 1.0061, scaleY: 0.9948, shear: 0.0027, kerfXMm: 0.138, kerfYMm: 0.112 },
      { x: 0.0254, y: 0.0254 },
    ],
    [
      'unequal pitch, a wide kerf across X',
      { scaleX: 0.997, scaleY: 1.003, shear: -0.002, kerfXMm: 0.18, kerfYMm: 0.09 },
      { x: 0.05, y: 0.0254 },
    ],
    [
      'a program that ignores the resolution',
      { scaleX: 0.26, scaleY: 0.2604, shear: 0.0004, kerfXMm: 0.1, kerfYMm: 0.08 },
      { x: 0.0254, y: 0.0254 },
    ],
  ] as [string, HiddenMachine, { x: number; y: number }][])(
    '%s: the fit finds the machine and the stencil comes out true',
    async (_name, machine, pitch) => {
      const { fit } = await calibrate(machine, pitch, 11);
      expect(Math.abs(fit.scaleX.value - machine.scaleX)).toBeLessThan(1e-4);
      expect(Math.abs(fit.scaleY.value - machine.scaleY)).toBeLessThan(1e-4);
      expect(Math.abs(fit.shear.value - machine.shear)).toBeLessThan(2e-4);
      expect(Math.abs(fit.kerfXMm.value - machine.kerfXMm)).toBeLessThan(0.004);
      expect(Math.abs(fit.kerfYMm.value - machine.kerfYMm)).toBeLessThan(0.004);
      const asked = board();
      const exact = correctOpenings(asked, { fit }, { lineMm: pitch });
      const told = correctOpenings(asked, { fit }, { lineMm: pitch, uprightBelowMm: 0.34 * pitch.x });
      expect(exact.narrow).toEqual([]);
      const after = await cutBoard(
        told.openings,
        asked,
        exact.openings.map(openingCentroid),
        machine,
        pitch,
        commandedKerf(machineModel({ fit })),
      );
      expect(after.measured).toBe(asked.length);
      expect(after.merged).toBe(0);
      // This board is ruled by few shapes, which may be unlucky: what counts is what the nearest number of dots gives.
      const nearest = nearestDots(asked, machine, pitch);
      expect(after.rmsWidthMm).toBeLessThan(1.2 * nearest.rms);
      expect(Math.abs(after.meanWidthMm - nearest.mean)).toBeLessThan(0.003);
      expect(after.rmsPositionMm).toBeLessThan(0.42 * Math.hypot(pitch.x, pitch.y));
      if (machine.scaleX > 0.9) {
        const before = await cutBoard(asked, asked, asked.map(openingCentroid), machine, pitch);
        expect(before.rmsWidthMm).toBeGreaterThan(0.08);
        expect(before.rmsPositionMm).toBeGreaterThan(0.045);
      }
    },
  );
});
