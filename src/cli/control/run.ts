import { compareProfiles } from '../../fit/drift/compare-profiles.js';
import { type DriftChart, driftChart } from '../../fit/drift/drift-chart.js';
import { courseOf, profileHistory } from '../../fit/drift/profile-history.js';
import { type ScatterChart, scatterChart } from '../../fit/drift/scatter-chart.js';
import { PARAMETER_NAMES, type ParameterName } from '../../machine/types.js';
import type { Chart } from '../../report/plots/chart.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import { loadProfile } from '../load-profile.js';
import { expandAll, writeCharts } from '../write-charts.js';
import type { ControlOptionValues } from './options.js';

/** Limits of long histories come from their beginning, when all was well (common practice: 20 to 25 points). */
const BASELINE = 20;

const QUANTITIES: Record<ParameterName, { name: string; file: string; format: (value: number) => string }> = {
  scaleX: { name: 'scale along X', file: 'scale-x', format: (value) => value.toFixed(5) },
  scaleY: { name: 'scale along Y', file: 'scale-y', format: (value) => value.toFixed(5) },
  shear: { name: 'shear', file: 'shear', format: (value) => value.toFixed(5) },
  kerfXMm: { name: 'kerf across X, mm', file: 'kerf-x', format: (value) => `${value.toFixed(4)} mm` },
  kerfYMm: { name: 'kerf across Y, mm', file: 'kerf-y', format: (value) => `${value.toFixed(4)} mm` },
};

export async function runControl(patterns: readonly string[], values: ControlOptionValues, io: Io): Promise<ExitCode> {
  const files = await expandAll(patterns, io);
  const profiles = await Promise.all(files.map(async (file) => (await loadProfile(file, io)).profile));
  const history = profileHistory(profiles);
  const courses = PARAMETER_NAMES.map((parameter) => {
    const points = courseOf(history, parameter);
    const { format } = QUANTITIES[parameter];
    return { parameter, points, chart: driftChart(points, { baselineCount: values.baseline, format }) };
  }).filter(({ points }) => points.length > 0);
  const scatter = scatterChart(
    history.entries.map(({ label, fit }) => ({ label, sdMm: fit.residualSdMm, dof: fit.dof })),
    { baselineCount: values.baseline ?? BASELINE },
  );
  const comparison = profiles.length > 1 ? compareProfiles(profiles[0], profiles[profiles.length - 1]) : undefined;
  const written = await drawCharts(courses, scatter, values, io);
  if (values.json) {
    io.out(
      `${JSON.stringify({ format: 'apertrue-control', version: 1, history, courses, scatter, comparison }, null, 2)}\n`,
    );
  } else {
    if (comparison) io.out(`${files[0]} against ${files[files.length - 1]}:\n${list(comparison.sentences)}\n\n`);
    for (const { parameter, points, chart } of courses) {
      io.out(
        `${capital(QUANTITIES[parameter].name)}, ${points.length} date${points.length === 1 ? '' : 's'}:\n${list(chart.sentences)}\n`,
      );
    }
    if (scatter) io.out(`Scatter of the readings within each date:\n${list(scatter.sentences)}\n`);
    if (courses.length === 0) io.out('No date holds readings that could be fitted alone.\n');
  }
  for (const { label, reason } of history.skipped) io.say(`note: ${label} was passed over: ${reason}\n`);
  for (const file of written) io.say(`wrote ${file}\n`);
  const outside = courses.some(({ chart }) => chart.outside.length > 0);
  return outside ||
    scatter?.chart.outside.some((n) => scatter.chart.points[n - 1] > scatter.chart.centre) ||
    comparison?.anyBeyondNoise
    ? EXIT.findings
    : EXIT.done;
}

async function drawCharts(
  courses: readonly { parameter: ParameterName; chart: DriftChart }[],
  scatter: ScatterChart | undefined,
  values: ControlOptionValues,
  io: Io,
): Promise<string[]> {
  if (values.out === undefined) return [];
  const { controlPlot, scatterPlot } = await import('../../report/plots/control-plot.js');
  const charts = new Map<string, Chart>();
  for (const { parameter, chart } of courses) {
    const drawn = await controlPlot(chart, { quantity: QUANTITIES[parameter].name });
    if (drawn) charts.set(`control-${QUANTITIES[parameter].file}`, drawn);
  }
  if (scatter) charts.set('control-scatter', await scatterPlot(scatter));
  return writeCharts(charts, { out: values.out, overwrite: values.overwrite }, io);
}

function list(sentences: readonly string[]): string {
  return sentences.map((sentence) => `  ${sentence}`).join('\n');
}

function capital(text: string): string {
  return text[0].toUpperCase() + text.slice(1);
}
