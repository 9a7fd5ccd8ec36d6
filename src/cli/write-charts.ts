import { join } from 'node:path';
import { InputError } from '../errors.js';
import type { Chart } from '../report/plots/chart.js';
import type { Io } from './io.js';
import { refuseExisting, writeResults } from './results.js';

/** Where {@link writeCharts} puts charts of these names. */
export function chartPaths(names: readonly string[], out: string): string[] {
  return names.flatMap((name) => [join(out, `${name}.svg`), join(out, `${name}.png`)]);
}

/** Writes charts as NAME.svg and NAME.png, after making sure that none of them exists; gives the paths. */
export async function writeCharts(
  charts: ReadonlyMap<string, Chart>,
  values: { readonly out: string; readonly overwrite?: boolean },
  io: Io,
): Promise<string[]> {
  // Told before they are drawn, which takes longest.
  await refuseExisting(chartPaths([...charts.keys()], values.out), io, values);
  const { chartPng } = await import('../report/plots/render-chart.js');
  const drawn = [...charts].map(async ([name, chart]) => [
    { name: `${name}.svg`, bytes: chart.svg },
    { name: `${name}.png`, bytes: await chartPng(chart) },
  ]);
  return writeResults((await Promise.all(drawn)).flat(), values, io);
}

/** Loads what patterns name, each file once, in order. */
export async function expandAll(patterns: readonly string[], io: Io): Promise<string[]> {
  const files = [...new Set((await Promise.all(patterns.map((pattern) => io.expand(pattern)))).flat())];
  if (files.length > 0) return files;
  throw new InputError({
    code: 'NO_FILES',
    message: `no file matches ${patterns.join(' ')}.`,
    hint: 'Check the folder and the name.',
  });
}
