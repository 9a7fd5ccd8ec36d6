import { judgeGuard, randomBoard } from '../truth/guard-judge.js';
import { LASERS } from '../truth/laser.js';
import { seeded } from '../virtual-laser/random.js';

/** What the guard lists against an independent measurement, on random boards: `npm run bench:truth:guard -- --boards N --seed S`. */
const option = (name: string, otherwise: number): number => {
  const at = process.argv.indexOf(`--${name}`);
  return at < 0 ? otherwise : Number(process.argv[at + 1]);
};

const random = seeded(option('seed', 1));
const rows: Record<string, { cases: number; listed: number; wrong: number; listedFalsely: number; unlisted: number }> =
  {};
for (let i = 0; i < option('boards', 20); i += 1) {
  const laser = LASERS[i % LASERS.length];
  const pads = randomBoard(random, 36, laser);
  judgeGuard(pads, laser).forEach((verdict, k) => {
    rows[verdict.kind] ??= { cases: 0, listed: 0, wrong: 0, listedFalsely: 0, unlisted: 0 };
    const row = rows[verdict.kind];
    row.cases += 1;
    if (verdict.faults.length > 0 || verdict.narrow) row.listed += 1;
    if (verdict.wrong.length > 0) row.wrong += 1;
    const falsely = verdict.right && verdict.faults.some((kind) => kind !== 'place');
    const unlisted = verdict.wrong.length > 0 && verdict.faults.length === 0 && !verdict.narrow;
    if (falsely) row.listedFalsely += 1;
    if (unlisted) row.unlisted += 1;
    if (falsely || unlisted) {
      const { kind, faults, wrong, figures } = verdict;
      const numbers = Object.entries(figures).map(([name, value]) => `${name} ${value.toFixed(4)}`);
      console.log(
        falsely ? 'FALSE' : 'UNLISTED',
        `board ${i} opening ${k + 1}`,
        kind,
        pads[k].angleDeg.toFixed(1),
        faults.join(),
        '|',
        wrong.join(),
        '|',
        numbers.join(' '),
      );
    }
  });
}
console.table(rows);
