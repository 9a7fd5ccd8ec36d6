import { judge } from '../truth/judge.js';
import { MACHINES } from '../truth/laser.js';
import { KINDS, shapeOf } from '../truth/shapes.js';
import { seeded } from '../virtual-laser/random.js';

/**
 * Odd shapes turned in steps of 15 degrees, on five machines, by an independent polygon library:
 * `npm run bench:truth:turned -- --sizes N --seed S`; every kind in N sizes at 24 angles.
 */
const option = (name: string, otherwise: number): number => {
  const at = process.argv.indexOf(`--${name}`);
  return at < 0 ? otherwise : Number(process.argv[at + 1]);
};
const only = process.argv.includes('--kind') ? process.argv[process.argv.indexOf('--kind') + 1] : undefined;
const verbose = process.argv.includes('--verbose');

const random = seeded(option('seed', 1));
const rows: Record<string, Record<string, number>> = {};
for (const kind of Object.keys(KINDS)) {
  for (let size = 0; size < option('sizes', 2); size += 1) {
    const laser = MACHINES[Math.floor(random() * MACHINES.length)];
    const kerf = Math.max(laser.model.kerfXMm, laser.model.kerfYMm);
    const limb = kerf * (0.9 + 1.3 * random() ** 2) + (random() < 0.5 ? 0.3 * random() : 0);
    const sizeSeed = Math.floor(1e9 * random());
    if (only && kind !== only) continue;
    for (let angleDeg = 0; angleDeg < option('to', 360); angleDeg += 15) {
      const shape = shapeOf(kind, seeded(sizeSeed), limb, angleDeg);
      const verdict = judge(shape, laser);
      rows[kind] ??= {
        cases: 0,
        listed: 0,
        falsely: 0,
        lost5: 0,
        gained5: 0,
        off75: 0,
        torn: 0,
        missing: 0,
        mostOff: 0,
        areaPct: 0,
      };
      const row = rows[kind];
      row.cases += 1;
      if (verdict.pieces.dots !== verdict.pieces.asked) row.torn += 1;
      if (verdict.missingMm2 > 1e-3) row.missing += 1;
      if (verdict.listed) {
        row.listed += 1;
        if (verdict.lostShare < 1e-5) row.falsely += 1;
        continue;
      }
      row.areaPct += 100 * verdict.dotAreaErrorShare;
      if (verdict.dotAreaErrorShare < -0.05) row.lost5 += 1;
      if (verdict.dotAreaErrorShare > 0.05) row.gained5 += 1;
      if (verdict.offDots > 0.75) row.off75 += 1;
      row.mostOff = Math.max(row.mostOff, Math.round(100 * verdict.offDots) / 100);
      if (
        verbose &&
        (verdict.offDots > 0.75 ||
          Math.abs(verdict.dotAreaErrorShare) > 0.05 ||
          verdict.pieces.dots !== verdict.pieces.asked ||
          verdict.missingMm2 > 1e-3)
      )
        console.log(
          kind,
          size,
          'machine',
          MACHINES.indexOf(laser),
          'limb',
          (limb / kerf).toFixed(2),
          'angle',
          angleDeg,
          'off',
          verdict.offDots.toFixed(2),
          'area',
          verdict.dotAreaErrorShare.toFixed(3),
          verdict.pieces,
        );
    }
  }
}
const all: Record<string, number> = {};
for (const row of Object.values(rows)) {
  for (const [name, value] of Object.entries(row)) {
    all[name] = name === 'mostOff' ? Math.max(all[name] ?? 0, value) : (all[name] ?? 0) + value;
  }
}
rows.all = all;
for (const row of Object.values(rows)) row.areaPct = Math.round((100 * row.areaPct) / (row.cases - row.listed)) / 100;
console.table(rows);
