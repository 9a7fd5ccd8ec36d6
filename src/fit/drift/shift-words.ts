import type { ParameterName } from '../../machine/types.js';
import type { ChartedShift, ReadingsAgainstProfile } from './readings-against-profile.js';

const NAMES: Record<ParameterName, string> = {
  scaleX: 'scale along X',
  scaleY: 'scale along Y',
  shear: 'shear',
  kerfXMm: 'kerf across X',
  kerfYMm: 'kerf across Y',
};

/** One number's shift against its limits. */
export function shiftWords({ parameter, shift, limit, chart, days, beyond }: Omit<ChartedShift, 'say'>): string {
  const isKerf = parameter.startsWith('kerf');
  const [factor, unit] = isKerf ? [1000, 'µm'] : [1e5, 'µm on 100 mm'];
  const digits = isKerf ? 1 : 0;
  const signed = `${shift < 0 ? '−' : '+'}${Math.abs(factor * shift).toFixed(digits)}`;
  const what = `${NAMES[parameter][0].toUpperCase()}${NAMES[parameter].slice(1)}`;
  const who = chart === 'average' ? 'the moving average of the last days is off by' : 'the new readings are off by';
  const from = days > 0 ? `the mean of ${days} earlier days` : 'what the profile says';
  const verdict = beyond ? 'outside' : 'inside';
  return `${what}: ${who} ${signed} ${unit} from ${from}, ${verdict} the limits of ± ${(factor * limit).toFixed(digits)} ${unit}.`;
}

/** The verdict, what changed by how much, and what the readings as a whole say. */
export function verdictWords(
  result: Omit<ReadingsAgainstProfile, 'sentences'>,
  farOff: boolean,
  scattered: boolean,
): string[] {
  const moved = result.shifts.filter(({ beyond }) => beyond);
  const names = [...new Set(moved.map(({ parameter }) => NAMES[parameter]))];
  const sentences: string[] = [];
  if (names.length > 0) {
    sentences.push(`Changed since the profile was made: ${names.join(', ')}.`, ...moved.map(({ say }) => say));
    if (moved.every(({ chart }) => chart === 'average')) {
      sentences.push('No single day stands out: the machine has drifted slowly.');
    }
  } else if (!farOff) {
    sentences.push('The new readings are those of the machine that the profile describes.');
  }
  const { f, readings, pValue } = result.distance;
  if (farOff) {
    const many = readings === 1 ? 'The one new reading lies' : `The ${readings} new readings lie`;
    sentences.push(
      `${many} ${Math.sqrt(f).toFixed(1)} times as far from what the profile says as readings scatter (F = ${f.toFixed(1)}, chance ${pValue < 1e-4 ? 'below 0.0001' : pValue.toPrecision(2)}).`,
    );
  }
  if (scattered && result.scatterRatio !== undefined) {
    sentences.push(
      `The new readings scatter ${result.scatterRatio.toFixed(1)} times as much among themselves as the earlier ones: look at the gauge and at how they were read.`,
    );
  }
  return sentences;
}
