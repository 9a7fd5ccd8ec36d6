import type { Warning } from '../../errors.js';
import { micrometres } from '../../text.js';
import { studentQuantile } from '../statistics/distributions.js';
import type { FitLength } from './design.js';
import { type Determined, zeroNumber } from './determined.js';
import type { Gauge } from './gauges.js';
import type { Answer } from './profile-fit.js';
import type { WeightedFit } from './weighted-fit.js';

/** What the readings say of a gauge. */
export type GaugeFinding = ReturnType<typeof gaugeFindings>['findings'][number];

/** Chance that the zero of a right gauge is said to be off. */
const FALSE_ALARM = 0.004;
/** A smaller zero is taken out all the same, but no reason to look at the gauge. */
const LEAST_TOLD_MM = 0.0025;
/** The same where no spans were read: were it the film's, the kerf would be as sure as anybody needs (`USUAL_TARGETS`). */
const LEAST_OF_WIDTHS_MM = 0.004;
const LEAST_TOLD_STEPS = 0.25;

export function gaugeFindings(
  gauges: readonly Gauge[],
  { design, uncheckedZeros }: Determined,
  fit: WeightedFit,
  answer: Answer,
) {
  const warnings: Warning[] = [];
  const findings = gauges
    .filter(({ name }) => name !== 'verniers')
    .map(({ name, limitMm, limitBecause, zeroWithinMm }) => {
      const number = zeroNumber(design, name);
      const zeroMm = answer.parameters[number];
      const sd = Math.sqrt(answer.covariance[number][number]);
      const dof = Math.max(1, fit.parameterDof[number]);
      const half = sd * studentQuantile(0.05, dof);
      const stepMm = Math.max(...fit.groups.flatMap(({ gauge, resolutionMm }) => (gauge === name ? resolutionMm : [])));
      const own = fit.design.lengths.filter(({ gauge }) => gauge === name);
      const readsSpans = own.some(({ kind }) => kind === 'span');
      const leastMm = Math.max(readsSpans ? LEAST_TOLD_MM : LEAST_OF_WIDTHS_MM, LEAST_TOLD_STEPS * stepMm);
      const isUnchecked = uncheckedZeros.includes(name);
      const isOff = Math.abs(zeroMm) > Math.max(leastMm, sd * studentQuantile(FALSE_ALARM, dof));
      const zeroOff = isOff && !isUnchecked;
      const oneLengthMm = isUnchecked ? undefined : oneLengthOf(own);
      if (zeroOff) warnings.push(offWarning(name, zeroMm, half, readsSpans, oneLengthMm));
      return {
        name,
        limitMm,
        /** Where the limit comes from, when nobody stated it. */
        limitBecause,
        /** What it reads where it should read nothing, mm, taken out of the answer. */
        zeroMm,
        zeroInterval95: [zeroMm - half, zeroMm + half] as const,
        /** These readings hardly show the zero: it was taken to lie within ± so much, mm. */
        zeroWithinMm: isUnchecked ? zeroWithinMm : undefined,
        /** Spans of one length alone were read with it, mm: what it reads there tells its zero from how fast it runs no more. */
        oneLengthMm,
        /** The zero is off beyond doubt. */
        zeroOff,
        /** What was taken for that zero may be the film or the gauge's lengths as well: then the numbers are off by it. */
        zeroDoubtful: isUnchecked ? undefined : zeroOff && (!readsSpans || oneLengthMm !== undefined),
      };
    });
  return { findings, warnings };
}

/** Lengths that differ by less than this share part no zero from a length error. */
const ALIKE = 1.25;

function oneLengthOf(own: readonly FitLength[]): number | undefined {
  const longest = Math.max(...own.map(({ valueMm }) => valueMm));
  return own.every(({ kind, valueMm }) => kind === 'span' && ALIKE * valueMm > longest) ? longest : undefined;
}

/** Where it reads so. */
export const whereRead = (oneLengthMm: number): string =>
  `at ${oneLengthMm.toFixed(1)} mm, the one length read with it`;

function offWarning(
  name: string,
  zeroMm: number,
  half: number,
  readsSpans: boolean,
  oneLengthMm: number | undefined,
): Warning {
  const spans = name.endsWith(' spans');
  const what = spans || name.endsWith(' widths') ? `the gauge of ${name}` : name;
  const [much, other] = zeroMm > 0 ? ['much', 'less'] : ['little', 'more'];
  const size = micrometres(Math.abs(zeroMm));
  // Widths alone hold nothing that parts a gauge's zero from webs that burn otherwise than openings.
  const or = readsSpans
    ? ''
    : ` If both are right, webs lose ${micrometres(2 * Math.abs(zeroMm))} µm ${other} than openings gain, and openings come out ${size} µm ${zeroMm > 0 ? 'wider' : 'narrower'} than by this kerf: widths can't tell one from the other.`;
  return {
    code: spans ? 'SPANS_OFF_BY_CONSTANT' : 'GAUGE_ZERO_OFF',
    message: `${what} reads ${size} ± ${micrometres(half)} µm too ${much} ${oneLengthMm ? whereRead(oneLengthMm) : 'everywhere'} (95 %): that is taken out of the answer.`,
    hint: oneLengthMm
      ? 'Its zero may be off, or its lengths: spans of another length would tell.'
      : spans
        ? 'Check the zero of the gauge, and read spans from left edge to left edge, never from a left to a right one; backlash of the machine does the same.'
        : `Check the zero of the gauge, and whether dark edges are read as part of the opening.${or}`,
  };
}
