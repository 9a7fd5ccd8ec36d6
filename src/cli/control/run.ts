import { InputError } from '../../errors.js';
import { type DriftChart, driftChart } from '../../fit/drift/drift-chart.js';
import { controlVerdict, courseOf, profileHistory } from '../../fit/drift/profile-history.js';
import { grouped } from '../../kept.js';
import { straightProfile } from '../../machine/place-field.js';
import { byParameter, NUMBER_NAMES, PARAMETER_NAMES, type ParameterName } from '../../machine/types.js';
import type { Chart } from '../../report/plots/chart.js';
import { capital, count, visible } from '../../text.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import type { ControlOptionValues } from '../options/calibration.js';
import { findProject, loadProfile } from '../project-file.js';
import { expandAll, writeCharts } from '../results.js';
import { printJson, sayWrote } from '../tell.js';

/** Of each number: how it stands above its chart, in the chart's file name, and with how many digits. */
const QUANTITIES = byParameter((parameter) => {
  const isKerf = parameter.startsWith('kerf');
  return {
    name: `${NUMBER_NAMES[parameter]}${isKerf ? ', mm' : ''}`,
    file: parameter
      .replace(/Mm$/, '')
      .replace(/(?=[XY])/, '-')
      .toLowerCase(),
    format: (value: number): string => (isKerf ? `${value.toFixed(4)} mm` : value.toFixed(5)),
  };
});

export async function runControl(patterns: readonly string[], values: ControlOptionValues, io: Io): Promise<ExitCode> {
  const files = patterns.length > 0 ? await expandAll(patterns, io) : [await profileOfProject(io)];
  const profiles = await Promise.all(files.map(async (file) => straightProfile((await loadProfile(file, io)).profile)));
  const history = profileHistory(profiles);
  const courses = PARAMETER_NAMES.map((parameter) => {
    const points = courseOf(history, parameter);
    const { format } = QUANTITIES[parameter];
    return { parameter, points, chart: driftChart(points, { baselineCount: values.baseline, format }) };
  }).filter(({ points }) => points.length > 0);
  const verdict = controlVerdict(history, courses);
  const written = await writeCharts(values, io, () => drawCharts(courses));
  if (values.json) {
    printJson({ format: 'apertrue-control', version: 1, verdict, history, courses }, io);
  } else {
    io.out(`${visible(verdict.sentence)}\n\n`);
    // Numbers of which the same is to be said share a head.
    const same = grouped(courses, ({ points, chart }) => JSON.stringify([points.length, chart.sentences]));
    for (const group of same.values()) {
      const [{ points, chart }] = group;
      const names = group.map(({ parameter }) => QUANTITIES[parameter].name).join('; ');
      io.out(`${capital(names)}, ${count(points.length, 'date')}:\n${list(chart.sentences)}\n`);
    }
  }
  for (const { label, reason } of history.skipped)
    io.say(`note: ${visible(label)} was passed over: ${visible(reason)}\n`);
  sayWrote(written, io);
  return verdict.inControl ? EXIT.done : EXIT.findings;
}

async function profileOfProject(io: Io): Promise<string> {
  const found = await findProject(io);
  if (found?.profile !== undefined) return found.profile;
  throw new InputError({
    code: 'OPTION_MISSING',
    place: { key: 'profiles' },
    message: 'no profile is named, and none by an apertrue.json.',
    hint: 'Name one or more, oldest first: apertrue control laser.profile.json.',
  });
}

async function drawCharts(
  courses: readonly { parameter: ParameterName; chart: DriftChart }[],
): Promise<Map<string, Chart>> {
  const { controlPlot } = await import('../../report/plots/control-plot.js');
  const charts = new Map<string, Chart>();
  for (const { parameter, chart } of courses) {
    const drawn = await controlPlot(chart, QUANTITIES[parameter].name);
    if (drawn) charts.set(`control-${QUANTITIES[parameter].file}`, drawn);
  }
  return charts;
}

function list(sentences: readonly string[]): string {
  return sentences.map((sentence) => `  ${sentence}`).join('\n');
}
