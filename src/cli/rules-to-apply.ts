import type { Opening } from '../geometry/types.js';
import { readRules } from '../rules/treat/read-rules.js';
import type { RuleSet } from '../rules/treat/rule-types.js';
import { withFileMarks } from '../rules/treat/svg-mark.js';

/** A rule set on its way into a job: plain data, so that it can go to another thread. */
export interface RulesToApply {
  readonly text: string;
  readonly file: string;
  /** Film thickness, mm; not given: the profile's. */
  readonly thicknessMm?: number;
}

/**
 * Openings on their way through rules, if there are any.
 *
 * @param bytes - the file that the openings were read from: rules that it has been through leave them alone
 */
export async function ruled(
  openings: readonly Opening[],
  bytes: Uint8Array,
  rules: RulesToApply | undefined,
): Promise<{ readonly openings: readonly Opening[]; readonly rules?: RuleSet; readonly thicknessMm?: number }> {
  if (!rules) return { openings };
  const { text, file, thicknessMm } = rules;
  return { openings: withFileMarks(openings, bytes), rules: await readRules(text, file), thicknessMm };
}
