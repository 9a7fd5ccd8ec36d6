import type { ParameterName } from '../../machine/types.js';
import type { ProfileComparison } from './compare-profiles.js';
import type { DriftChart, HistoryPoint } from './drift-chart.js';
import type { ProfileHistory } from './profile-history.js';
import type { ScatterChart } from './scatter-chart.js';
import { capital, NUMBER_NAMES } from './shift-words.js';

/** One number of the machine from date to date. */
interface Course {
  readonly parameter: ParameterName;
  readonly points: readonly HistoryPoint[];
  readonly chart: DriftChart;
}

/** One verdict over all that was looked at; the rest of the report says where it comes from. */
export function controlVerdict(
  history: ProfileHistory,
  courses: readonly Course[],
  scatter: ScatterChart | undefined,
  comparison: ProfileComparison | undefined,
): { readonly inControl?: boolean; readonly sentence: string } {
  const refused = history.entries.filter((entry) => entry.refused).map(({ label }) => label);
  const changed = courses.filter(({ chart }) => chart.change?.beyond || chart.farOff.length > 0);
  const between = comparison?.changes.filter(({ beyondNoise }) => beyondNoise) ?? [];
  const names = [...new Set([...changed, ...between].map(({ parameter }) => NUMBER_NAMES[parameter]))];
  const wide = scatter?.wide ?? [];
  const found = [
    ...(refused.length > 0 ? [`refused when they were added, and not settled since: ${refused.join(', ')}`] : []),
    ...(names.length > 0 ? [`changed: ${names.join(', ')}`] : []),
    ...(wide.length > 0 ? [`readings that scatter more than usual: ${wide.map((n) => scatter?.labels[n - 1]).join(', ')}`] : []), // biome-ignore format: one thought
  ];
  if (found.length > 0) return { inControl: false, sentence: `Not in control. ${capital(found.join('; '))}.` };
  if (courses.length === 0) {
    return { sentence: 'No verdict: no date holds readings that could be fitted alone.' };
  }
  const most = Math.max(...courses.map(({ points }) => points.length));
  if (most < 2 && !comparison) return { sentence: 'No verdict: one date shows no change.' };
  return { inControl: true, sentence: `In control: no change was seen over ${most} dates.` };
}
