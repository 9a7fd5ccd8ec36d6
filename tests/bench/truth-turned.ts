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
        ...{ cases: 0, narrow: 0, narrowFalsely: 0, faults: 0, faultFalsely: 0 },
        ...{ lost5: 0, gained5: 0, off75: 0, torn: 0, missing: 0, unlisted: 0, mostOff: 0, areaPct: 0 },
      };
      const row = rows[kind];
      const { dotAreaErrorShare, lostOfAsked, offDots, pieces, missingMm2, lostShare, faults } = verdict;
      row.cases += 1;
      const wrong = {
        lost5: lostOfAsked > 0.05,
        gained5: lostOfAsked < -0.05,
        off75: offDots > 0.75,
        torn: pieces.dots !== pieces.asked,
        missing: missingMm2 > 1e-3,
      };
      for (const [name, is] of Object.entries(wrong)) if (is) row[name] += 1;
      const isWrong = Object.values(wrong).some((is) => is);
      if (verdict.listed) row.narrow += 1;
      if (verdict.listed && lostShare < 1e-5) row.narrowFalsely += 1;
      if (faults.length > 0) row.faults += 1;
      // Places, and limbs as finely, are measured by the bench of the guard.
      const falsely = !isWrong && faults.some((fault) => fault !== 'place' && fault !== 'part missing');
      if (falsely) row.faultFalsely += 1;
      const unlisted = isWrong && !verdict.listed && faults.length === 0;
      if (unlisted) row.unlisted += 1;
      row.areaPct += 100 * dotAreaErrorShare;
      row.mostOff = Math.max(row.mostOff, Math.round(100 * offDots) / 100);
      if (unlisted || falsely || verbose)
        console.log(
          ...[unlisted ? 'UNLISTED' : falsely ? 'FALSE' : '', kind, size, 'machine', MACHINES.indexOf(laser)],
          ...['limb', (limb / kerf).toFixed(2), 'angle', angleDeg, 'off', offDots.toFixed(3)],
          ...[
            'lost',
            (100 * lostOfAsked).toFixed(2),
            '%, missing',
            missingMm2.toFixed(4),
            'mm²',
            faults.join(),
            pieces,
          ],
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
for (const row of Object.values(rows)) row.areaPct = Math.round((100 * row.areaPct) / row.cases) / 100;
console.table(rows);
