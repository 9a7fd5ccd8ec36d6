/**
 * How true the process window is, on random lasers: how often the lower bound of the margin holds, and how often cuts are
 * clean of those told to be so likely. `npm run bench:truth:window -- 2000`; a small share of it is in `npm test`.
 */
import { anyLaser, type Grid, type JudgedWindow, judgeWindow } from '../fit/window/virtual-grids.js';
import { seeded } from '../virtual-laser/random.js';

const GRIDS: Readonly<Record<string, Grid>> = {
  '7 powers at one speed': [[20, 30, 40, 50, 60, 70, 80], [100]],
  '6 powers at one speed': [[20, 28, 40, 55, 75, 100], [100]],
  '7 speeds at one power': [[60], [5, 8, 12, 20, 30, 45, 70]],
  '5 x 3': [
    [20, 30, 45, 65, 100],
    [50, 100, 200],
  ],
  '5 x 6, fine': [[29, 34, 40, 47, 56], [63, 76, 91, 110, 132, 160]], // biome-ignore format: one grid a line
  '7 x 6': [[20, 30, 40, 50, 60, 80, 100], [5, 8, 12, 20, 30, 50]], // biome-ignore format: one grid a line
};

type Judged = NonNullable<JudgedWindow['judged']>;

export function main(log: (line: string) => void = console.log, cases = Number(process.argv[2] ?? 1000)): void {
  const random = seeded(20);
  const all = Object.entries(GRIDS).flatMap(([name, on]) =>
    Array.from({ length: Math.ceil(cases / Object.keys(GRIDS).length) }, (_, i) => {
      const laser = anyLaser(on, random);
      return { name, laser, ...judgeWindow(on, laser, random, i % 3 === 0 ? 0.6 : 1) };
    }),
  );
  const found = all.flatMap(({ judged, ...rest }) => (judged ? [{ ...rest, ...judged }] : []));
  const mean = (list: readonly Judged[], of: (one: Judged) => number): number =>
    list.reduce((sum, one) => sum + of(one), 0) / list.length;
  const row = (name: string, list: readonly Judged[]): void => {
    if (list.length === 0) return;
    log(
      `${name}: ${list.length} settings; bound holds in ${(100 * mean(list, ({ holds }) => Number(holds))).toFixed(1)} % (aim 95); margin too good by ${mean(list, ({ marginPercent, truePercent }) => marginPercent - truePercent).toFixed(1)} points; told ${(100 * mean(list, ({ told }) => told)).toFixed(1)} % clean, are ${(100 * mean(list, ({ clean }) => clean)).toFixed(1)}`,
    );
  };
  for (const edges of [2, 1, 0]) row(`${edges} edges seen`, found.filter((one) => one.edges === edges)); // biome-ignore format: one line
  for (const name of Object.keys(GRIDS)) row(name, found.filter((one) => one.name === name)); // biome-ignore format: one line
  for (const [low, high] of [[0.01, 0.022], [0.022, 0.046], [0.046, 0.1]]) // biome-ignore format: one line
    row(`wavers by ${low} to ${high}`, found.filter(({ laser }) => laser.wavers >= low && laser.wavers < high)); // biome-ignore format: one line
  for (let tenth = 0; tenth < 10; tenth += 1)
    row(`told ${10 * tenth} to ${10 * tenth + 10} %`, found.filter(({ told }) => Math.min(9, Math.floor(10 * told)) === tenth)); // biome-ignore format: one line
  log(`no setting: ${all.length - found.length} of ${all.length}`);
}

if (import.meta.url === `file://${process.argv[1]}`) main();
