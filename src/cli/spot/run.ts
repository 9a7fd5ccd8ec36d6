import { type Problem, refuseAll } from '../../errors.js';
import { fitSpot, type SpotPoint, type SpotResult } from '../../fit/spot/fit-spot.js';
import { present } from '../../kept.js';
import type { Profile } from '../../machine/types.js';
import { micrometres, visible } from '../../text.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import type { SpotOptionValues } from '../options/calibration.js';
import { loadProfile } from '../project-file.js';
import { expandAll, writeCharts } from '../results.js';
import { printJson, sayWarnings, sayWrote } from '../tell.js';

interface Named {
  readonly file: string;
  readonly profile: Profile;
}

export async function runSpot(patterns: readonly string[], values: SpotOptionValues, io: Io): Promise<ExitCode> {
  const files = await expandAll(patterns, io);
  const profiles = await Promise.all(
    files.map(async (file): Promise<Named> => ({ file, profile: (await loadProfile(file, io)).profile })),
  );
  requireSettings(profiles);
  const axes = (['x', 'y'] as const).map((axis) => {
    const points = pointsOf(profiles, axis);
    return { axis, points, result: fitSpot(points, { axis, fullPowerW: values.fullPowerW }) };
  });
  const written = await writeCharts(values, io, async () => {
    const { kerfByLineEnergy } = await import('../../report/plots/kerf-by-line-energy.js');
    const charts = axes.map(async ({ axis, points, result }) => {
      const title = `Kerf across ${axis.toUpperCase()} against line energy`;
      return [`spot-${axis}`, await kerfByLineEnergy(points, result, title)] as const;
    });
    return new Map(await Promise.all(charts));
  });
  if (values.json) printJson({ format: 'apertrue-spot', version: 1, axes }, io);
  else for (const { axis, result } of axes) io.out(`${words(axis, result).map(visible).join('\n')}\n`);
  const warnings = axes.flatMap(({ result }) => result.warnings);
  sayWarnings(warnings, io);
  sayWrote(written, io);
  return warnings.length > 0 ? EXIT.findings : EXIT.done;
}

function requireSettings(profiles: readonly Named[]): void {
  const problems: Problem[] = profiles
    .filter(({ profile }) => !profile.settings?.powerPercent || !profile.settings.speedMmS)
    .map(({ file }) => ({
      code: 'SETTING_MISSING',
      place: { file, key: 'settings' },
      message: 'power and speed of the cut are not in this profile.',
      hint: 'Fit it again with --power-percent and --speed-mm-s.',
    }));
  const passes = new Set(profiles.map(({ profile }) => profile.settings?.passes ?? 1));
  if (passes.size > 1) {
    problems.push({
      code: 'PASSES_DIFFER',
      message: `the profiles were cut with different numbers of passes: ${[...passes].join(', ')}.`,
      hint: 'Give profiles with one number of passes; the law holds for one pass at a time.',
    });
  }
  const stated = {
    films: profiles.map(({ profile }) => profile.film?.kind),
    'thicknesses of film': profiles.map(({ profile: { film } }) => film?.thicknessMm && `${film.thicknessMm} mm`),
    lasers: profiles.map(({ profile }) => profile.machine),
  };
  for (const [what, all] of Object.entries(stated)) {
    // One that says nothing of it speaks for any.
    const different = new Set(all.filter((one) => one !== undefined));
    if (different.size < 2) continue;
    problems.push({
      code: 'SPOT_MIXED',
      message: `the profiles are of different ${what}: ${[...different].join(', ')}.`,
      hint: 'Give profiles of one laser and one film: each film has a threshold of its own, each laser a beam.',
    });
  }
  refuseAll(problems);
}

function pointsOf(profiles: readonly Named[], axis: 'x' | 'y'): SpotPoint[] {
  const found = profiles.flatMap(({ profile }): SpotPoint[] => {
    const kerf = axis === 'x' ? profile.fit.kerfXMm : profile.fit.kerfYMm;
    if (kerf.assumed) return [];
    return [
      {
        powerPercent: profile.settings?.powerPercent ?? 0,
        speedMmS: profile.settings?.speedMmS ?? 0,
        kerfMm: kerf.value,
        stdUncertaintyMm: kerf.stdUncertainty,
        label: profile.name,
      },
    ];
  });
  // A hand-written profile states no uncertainty; then all kerfs count alike.
  if (found.every((point) => (point.stdUncertaintyMm ?? 0) > 0)) return found;
  return found.map(({ stdUncertaintyMm: _, ...point }) => point);
}

function words(axis: 'x' | 'y', result: SpotResult): string[] {
  const [low, high] = result.radiusInterval95Mm;
  const [from, to] = result.thresholdInterval95;
  const { thresholdJMm, stdUncertaintyThresholdJMm } = result;
  return present(
    `Across ${axis.toUpperCase()}, from ${result.used.length} settings:`,
    `  spot radius (1/e²)  ${micrometres(result.spotRadiusMm)} µm, 95 % from ${micrometres(low)} to ${micrometres(high)} µm`,
    `  cuts from           ${result.threshold.toPrecision(3)} % per mm/s on, 95 % from ${from.toPrecision(3)} to ${to.toPrecision(3)}`,
    thresholdJMm !== undefined &&
      stdUncertaintyThresholdJMm !== undefined &&
      `                      ${thresholdJMm.toPrecision(3)} J/mm, standard uncertainty ${stdUncertaintyThresholdJMm.toPrecision(2)}`,
    `  residuals           ${result.residualsMm.map(micrometres).join(', ')} µm`,
  );
}
