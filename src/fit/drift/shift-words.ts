import type { ParameterName } from '../../machine/types.js';
import { uselessFor } from './shifts.js';
import type { ChartedShift, ReadingsAgainstProfile } from './verdict.js';

export const NUMBER_NAMES: Record<ParameterName, string> = {
  scaleX: 'scale along X',
  scaleY: 'scale along Y',
  shear: 'shear',
  kerfXMm: 'kerf across X',
  kerfYMm: 'kerf across Y',
};

/** A change of one number as a person sees it on the film. */
export function sizeWords(parameter: ParameterName, size: number): string {
  return parameter.startsWith('kerf') ? `${(1000 * size).toFixed(1)} µm` : `${(1e5 * size).toFixed(0)} µm on 100 mm`;
}

const signed = (parameter: ParameterName, size: number): string =>
  `${size < 0 ? '−' : '+'}${sizeWords(parameter, Math.abs(size))}`;

export function capital(text: string): string {
  return text[0].toUpperCase() + text.slice(1);
}

/** One number's shift against its limits. */
export function shiftWords(held: Omit<ChartedShift, 'say'>): string {
  const { parameter, shift, limit, chart, days, against, beyond } = held;
  const what = capital(NUMBER_NAMES[parameter]);
  const verdict = `${beyond ? 'outside' : 'inside'} the limits of ± ${sizeWords(parameter, limit)}`;
  if (chart === 'trend') {
    return `${what}: over ${days} days it has drifted by ${signed(parameter, shift)}, ${verdict}.`;
  }
  const who = days === 1 ? 'the new readings are off by' : `the last ${days} days, these readings included, are off by`;
  const before = against === 1 ? 'the earlier day' : `the mean of ${against} earlier days`;
  const from = against > 0 ? before : 'what the profile says';
  return `${what}: ${who} ${signed(parameter, shift)} from ${from}, ${verdict}.`;
}

const NO_CHANGE = 'No change was seen: the new readings agree with the profile.';

/** Neither changed nor not: what is off, how rarely chance makes that, and what settles it. */
function doubtWords({ shifts, doubtful }: Pick<ReadingsAgainstProfile, 'shifts' | 'doubtful'>): string[] {
  const off = shifts.filter(({ parameter }) => doubtful.includes(parameter));
  const chance = Math.min(...off.map((one) => one.chance * shifts.length));
  return [
    `Doubtful: ${off.map(({ parameter }) => NUMBER_NAMES[parameter]).join(', ')}.`,
    ...off.map(({ say }) => say),
    `Of ${Number((1 / chance).toPrecision(1))} additions of readings chance makes one look so. They count all the same: read this piece again, or cut and read another, before you cut stencils.`,
  ];
}

/** The verdict, what changed by how much, what could have been seen, and what the readings as a whole say. */
export function verdictWords(
  result: Omit<ReadingsAgainstProfile, 'sentences'>,
  farOff: boolean,
  scattered: boolean,
): string[] {
  const { shifts, leastSeen, refusedBefore, doubtful } = result;
  const moved = shifts.filter(({ beyond }) => beyond);
  const sentences: string[] = [];
  if (moved.length > 0) {
    const names = moved.map(({ parameter }) => NUMBER_NAMES[parameter]);
    sentences.push(`Changed since the profile was made: ${names.join(', ')}.`, ...moved.map(({ say }) => say));
    if (moved.every(({ chart }) => chart === 'trend')) {
      sentences.push('No day stands out: the machine has drifted slowly.');
    }
  }
  const { f, readings, pValue } = result.distance;
  if (farOff) {
    const many = readings === 1 ? 'The one new reading lies' : `The ${readings} new readings lie`;
    sentences.push(
      `${many} ${Math.sqrt(f).toFixed(1)} times as far from what the profile says as readings scatter (F = ${f.toFixed(1)}, chance ${pValue < 1e-4 ? 'below 0.0001' : pValue.toPrecision(2)}).`,
    );
  }
  if (refusedBefore.length > 0) {
    const alone =
      moved.length > 0 || farOff ? '' : ' The new readings by themselves show no change, but do not undo that one.';
    sentences.push(`Refused before, and not settled since: ${refusedBefore.join(', ')}.${alone}`);
  }
  if (!result.changed) {
    const telling = leastSeen.filter(({ parameter, change }) => change <= uselessFor(parameter));
    const least = telling.map(({ parameter, change }) => `${NUMBER_NAMES[parameter]} ${sizeWords(parameter, change)}`);
    const mute = leastSeen.flatMap((one) => (telling.includes(one) ? [] : NUMBER_NAMES[one.parameter]));
    const rest = mute.length > 0 ? ` A change of ${mute.join(', ')} they are too few, or too short, to show.` : '';
    sentences.push(...(doubtful.length > 0 ? doubtWords(result) : [NO_CHANGE]));
    sentences.push(
      least.length > 0
        ? `The smallest change that they would have shown on their own (9 times in 10): ${least.join(', ')}.${rest} Smaller ones show as days add up.`
        : 'They are too few to show a change of anything.',
    );
  }
  if (scattered && result.scatterRatio !== undefined) {
    sentences.push(
      `The new readings scatter ${result.scatterRatio.toFixed(1)} times as much among themselves as the earlier ones: look at the gauge and at how they were read.`,
    );
  }
  return sentences;
}
