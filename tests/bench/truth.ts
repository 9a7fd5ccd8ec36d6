import { judge, type Verdict } from '../truth/judge.js';
import { LASERS } from '../truth/laser.js';
import { KINDS, shapeOf } from '../truth/shapes.js';
import { seeded } from '../virtual-laser/random.js';

/** Odd shapes at every angle, under four machines, by an independent polygon library: `npm run bench:truth -- --cases N --seed S`. */
const option = (name: string, otherwise: number): number => {
  const at = process.argv.indexOf(`--${name}`);
  return at < 0 ? otherwise : Number(process.argv[at + 1]);
};

interface Row {
  cases: number;
  listed: number;
  listedFalsely: number;
  lostUnlisted: number;
  offByDots: number;
  torn: number;
  missing: number;
  biasUm: number;
  rmsUm: number;
}

const rows = new Map<string, { row: Row; errors: number[] }>();
const random = seeded(option('seed', 1));
const kinds = Object.keys(KINDS);
for (let i = 0; i < option('cases', 500); i += 1) {
  const kind = kinds[i % kinds.length];
  const laser = LASERS[Math.floor(random() * LASERS.length)];
  const kerf = Math.max(laser.model.kerfXMm, laser.model.kerfYMm);
  const limb = kerf * (0.8 + 1.4 * random() ** 2) + (random() < 0.5 ? 0.3 * random() : 0);
  const angleDeg = random() < 0.3 ? 90 * Math.floor(4 * random()) : 360 * random();
  const shape = shapeOf(kind, random, limb, angleDeg);
  count(kind, judge(shape, laser), Math.max(laser.pitch.x, laser.pitch.y));
}
for (const { row, errors } of rows.values()) {
  const mean = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0) / Math.max(1, values.length);
  row.biasUm = Math.round(10_000 * mean(errors)) / 10;
  row.rmsUm = Math.round(10_000 * Math.sqrt(mean(errors.map((e) => e * e)))) / 10;
}
console.table(Object.fromEntries([...rows].map(([kind, { row }]) => [kind, row])));

function count(kind: string, verdict: Verdict, dotMm: number): void {
  const entry = rows.get(kind) ?? {
    row: {
      cases: 0,
      listed: 0,
      listedFalsely: 0,
      lostUnlisted: 0,
      offByDots: 0,
      torn: 0,
      missing: 0,
      biasUm: 0,
      rmsUm: 0,
    },
    errors: [],
  };
  rows.set(kind, entry);
  const { row, errors } = entry;
  row.cases += 1;
  if (verdict.pieces.dots !== verdict.pieces.asked) row.torn += 1;
  if (verdict.missingMm2 > 1e-3) row.missing += 1;
  if (verdict.listed) {
    row.listed += 1;
    // Nothing was lost beyond what right corners lose.
    if (verdict.lostShare < 1e-5) row.listedFalsely += 1;
    return;
  }
  if (verdict.pathLossShare > 0.05) row.lostUnlisted += 1;
  const off = [0, 1].map((k) => verdict.byDots[k] - verdict.asked[k]);
  if (off.some((error) => Math.abs(error) > 0.75 * dotMm)) row.offByDots += 1;
  errors.push(...off);
}
