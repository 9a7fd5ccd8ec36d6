import { present } from '../../kept.js';
import {
  NUMBER_NAMES,
  PARAMETER_NAMES,
  type ParameterName,
  type Profile,
  type ReadingSession,
} from '../../machine/types.js';
import { capital, count, micrometres, signed } from '../../text.js';
import { studentTwoSided } from '../statistics/distributions.js';
import type { DriftChart, HistoryPoint } from './drift-chart.js';
import { type ProfileHistory, sessionKey } from './profile-history.js';
import { doubtIn, openDoubts, refusedDays, settleDoubt } from './session-days.js';

export interface ParameterChange {
  readonly parameter: ParameterName;
  readonly older: number;
  readonly newer: number;
  /** newer − older. */
  readonly change: number;
  /** Standard uncertainty of the change; NaN when it can't be compared. */
  readonly stdUncertainty: number;
  /** Effective degrees of freedom (Welch–Satterthwaite). */
  readonly dof: number;
  /** Two-sided, for this parameter alone. */
  readonly pValue: number;
  /** pValue times the number of parameters compared, at most 1 (Bonferroni). */
  readonly adjustedPValue: number;
  readonly beyondNoise: boolean;
  readonly say: string;
}

export interface ProfileComparison {
  readonly changes: readonly ParameterChange[];
  readonly anyBeyondNoise: boolean;
  /** How the newer readings relate to the older: `separate`, or `added` when all older sessions are among the newer. */
  readonly relation: 'separate' | 'added' | 'overlapping';
  /** Plain sentences, the verdict first. */
  readonly sentences: readonly string[];
}

/**
 * Has the machine changed between two profiles, or is it noise? Each of the five parameters is compared with the
 * uncertainty of its difference (Student t, Bonferroni over the parameters).
 *
 * @param options.alpha - chance of one false alarm over all five together, default 0.05
 * @remarks Readings taken separately: u² = u1² + u2². When the newer profile keeps all older readings and adds some, its
 *   estimate already holds the older one, and u² = u1² − u2² (J. A. Hausman, Econometrica 46 (1978) 1251–1271).
 *   Sessions that overlap only in part are compared as separate ones, which understates a change; the words say so.
 * @example compareProfiles(profile, profile).anyBeyondNoise // false
 */
export function compareProfiles(
  older: Profile,
  newer: Profile,
  options: { readonly alpha?: number } = {},
): ProfileComparison {
  const alpha = options.alpha ?? 0.05;
  const relation = relationOf(older.sessions, newer.sessions);
  const compared = PARAMETER_NAMES.filter((name) => !older.fit[name].assumed && !newer.fit[name].assumed).length;
  const changes = PARAMETER_NAMES.map((name) => compareParameter(name, older, newer, { relation, compared, alpha }));
  const moved = changes.filter((change) => change.beyondNoise);
  return {
    changes,
    anyBeyondNoise: moved.length > 0,
    relation,
    sentences: sentencesOf(changes, relation, newer.sessions),
  };
}

function relationOf(older: readonly ReadingSession[], newer: readonly ReadingSession[]): ProfileComparison['relation'] {
  const known = new Set(newer.map(sessionKey));
  const shared = older.filter((session) => known.has(sessionKey(session))).length;
  if (shared === 0) return 'separate';
  return shared === older.length ? 'added' : 'overlapping';
}

/** @param compared - how many numbers are */
function compareParameter(
  parameter: ParameterName,
  { fit: older }: Profile,
  { fit: newer }: Profile,
  { relation, compared, alpha }: Pick<ProfileComparison, 'relation'> & Record<'compared' | 'alpha', number>,
): ParameterChange {
  const [a, b] = [older[parameter], newer[parameter]];
  const change = b.value - a.value;
  const values = { parameter, older: a.value, newer: b.value, change };
  if (a.assumed || b.assumed) {
    const say = `${capital(NUMBER_NAMES[parameter])} can't be compared: ${a.assumed ? 'the older' : 'the newer'} profile assumed it.`;
    const [stdUncertainty, dof] = [Number.NaN, Number.NaN];
    return { ...values, stdUncertainty, dof, pValue: 1, adjustedPValue: 1, beyondNoise: false, say };
  }
  const [va, vb] = [a.stdUncertainty ** 2, b.stdUncertainty ** 2];
  // A newer fit can be the less certain one when its scatter is larger; then the plain sum is the safe side.
  const isPart = relation === 'added' && va > vb;
  const stdUncertainty = Math.sqrt(isPart ? va - vb : va + vb);
  const dof = isPart ? newer.dof : welch(va, older.dof, vb, newer.dof);
  const pValue = change === 0 ? 1 : studentTwoSided(change / stdUncertainty, Math.max(1, dof));
  const adjustedPValue = Math.min(1, pValue * compared);
  const beyondNoise = adjustedPValue < alpha;
  const say = sentence(parameter, a.value, b.value, stdUncertainty, beyondNoise);
  return { ...values, stdUncertainty, dof, pValue, adjustedPValue, beyondNoise, say };
}

function welch(va: number, dofA: number, vb: number, dofB: number): number {
  const below = va ** 2 / Math.max(1, dofA) + vb ** 2 / Math.max(1, dofB);
  return below > 0 ? (va + vb) ** 2 / below : Number.POSITIVE_INFINITY;
}

function sentence(parameter: ParameterName, older: number, newer: number, u: number, beyond: boolean): string {
  const name = NUMBER_NAMES[parameter];
  const change = newer - older;
  const verdict = beyond ? 'more than the readings’ noise' : 'within the readings’ noise';
  if (parameter.startsWith('kerf')) {
    return `${capital(name)} went from ${older.toFixed(4)} to ${newer.toFixed(4)} mm (${signed(micrometres(change))} µm ± ${micrometres(u)} µm): ${verdict}.`;
  }
  const per100 = (value: number): string => (100 * value).toFixed(3);
  return `${capital(name)} went from ${older.toFixed(6)} to ${newer.toFixed(6)} (${signed(per100(change))} mm ± ${per100(u)} mm on 100 mm): ${verdict}.`;
}

function sentencesOf(
  changes: readonly ParameterChange[],
  relation: ProfileComparison['relation'],
  sessions: readonly ReadingSession[],
): string[] {
  const refused = refusedDays(sessions);
  const doubts = openDoubts(sessions);
  const moved = changes.filter((change) => change.beyondNoise);
  const names = moved.map((change) => NUMBER_NAMES[change.parameter]);
  const asFar = refused.length > 0 ? ', as far as days count that were not refused' : '; the older profile still holds';
  const holds = doubts && refused.length === 0 ? ', but the newer profile is in doubt' : asFar;
  const verdict =
    moved.length === 0
      ? `Nothing changed beyond the readings’ noise${holds}.`
      : `Changed beyond the readings’ noise: ${names.join(', ')}. Use the newer profile; stencils corrected by the older one are off by as much.`;
  const notes: Record<ProfileComparison['relation'], string[]> = {
    separate: [],
    added: ['The newer profile holds all readings of the older one: only what was added can show a change.'],
    overlapping: ['The profiles share some readings, so a change shows smaller here than it is.'],
  };
  // A refused day says that the machine moved, and moves no number of the profile that refuses it.
  const left = refused.length > 0 ? [`Refused, and so in none of these numbers: ${refused.join(', ')}.`] : [];
  const open = doubts ? [`${capital(doubtIn(doubts))}.`] : [];
  return [verdict, ...changes.map((change) => change.say), ...left, ...open, ...notes[relation]];
}

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
  comparison: ProfileComparison | undefined,
): { readonly inControl?: boolean; readonly sentence: string } {
  const refused = history.entries.filter((entry) => entry.refused).map(({ label }) => label);
  const changed = courses.filter(({ chart }) => chart.change?.beyond || chart.farOff.length > 0);
  const between = comparison?.changes.filter(({ beyondNoise }) => beyondNoise) ?? [];
  const names = [...new Set([...changed, ...between].map(({ parameter }) => NUMBER_NAMES[parameter]))];
  const doubtful = history.entries.flatMap(({ label, doubtful: numbers }) =>
    numbers ? [`${numbers.map((number) => NUMBER_NAMES[number]).join(', ')} of ${label}`] : [],
  );
  const found = present(
    refused.length > 0 &&
      `refused when they were added, and not settled since: ${refused.join(', ')} (the limits rest on the days before)`,
    names.length > 0 && `changed: ${names.join(', ')}`,
  );
  const doubts = present(doubtful.length > 0 && `doubtful, and not settled since: ${doubtful.join('; ')}`);
  if (found.length > 0)
    return { inControl: false, sentence: `Not in control. ${capital([...found, ...doubts].join('; '))}.` };
  if (doubts.length > 0) {
    const again = settleDoubt(history.entries.filter((entry) => entry.doubtful).map(({ label }) => label));
    return {
      inControl: false,
      sentence: `${capital(doubts[0])}. The machine may have changed: before you cut stencils, ${again}.`,
    };
  }
  if (courses.length === 0) {
    return { sentence: 'No verdict: no date holds readings that could be fitted alone.' };
  }
  const most = Math.max(...courses.map(({ points }) => points.length));
  if (most < 2 && !comparison) return { sentence: 'No verdict: one date shows no change.' };
  // A witness piece tells no shear: years of them would call a machine in control whose axes have come loose.
  const newest = history.entries.at(-1)?.label;
  const silent = courses.flatMap(({ parameter, points }) => {
    const last = points[points.length - 1].label;
    return last === newest ? [] : [`${NUMBER_NAMES[parameter]} (last told ${last})`];
  });
  const untold = silent.length > 0 ? ` Later dates say nothing of ${silent.join(', ')}.` : '';
  return { inControl: true, sentence: `In control: no change was seen over ${count(most, 'date')}.${untold}` };
}
