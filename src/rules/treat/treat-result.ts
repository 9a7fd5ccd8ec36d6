import type { Warning } from '../../errors.js';
import type { Opening } from '../../geometry/types.js';
import type { Rule } from './rule-types.js';

/** Size of an opening, or of all its panes together. */
export interface Size {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly areaMm2: number;
  /** 1, or the number of panes; 0 when it was dropped. */
  readonly pieces: number;
}

/** What one rule did to one opening. */
export interface RuleChange {
  /** Number of the opening in the artwork, counting from 1. */
  readonly opening: number;
  readonly rule: string;
  readonly action: Rule['action']['kind'];
  readonly before: Size;
  readonly after: Size;
  /** Area after, percent of the area before. */
  readonly areaPercent: number;
  /** How far the centre of area moved, mm. */
  readonly centreMovedMm: number;
  readonly note?: string;
}

/** An opening that a rule selected and yet left as it was, with the reason. */
export interface Refusal {
  readonly opening: number;
  readonly rule: string;
  readonly reason: string;
}

/** What became of one opening of the artwork. */
export interface Account {
  readonly opening: number;
  readonly fate: 'unchanged' | 'changed' | 'split' | 'dropped' | 'treated before';
  /** Positions in the result's openings, counting from 1. */
  readonly becomes: readonly number[];
  readonly areaBeforeMm2: number;
  readonly areaAfterMm2: number;
}

export interface TreatResult {
  readonly openings: readonly Opening[];
  readonly changes: readonly RuleChange[];
  readonly refusals: readonly Refusal[];
  /** One per opening of the artwork, in order. */
  readonly accounts: readonly Account[];
  /** One per rule, in order. */
  readonly rules: readonly { readonly name: string; readonly selected: number; readonly changed: number }[];
  readonly warnings: readonly Warning[];
  /** Name and hash of the rule set, as the treated openings carry it. */
  readonly mark: string;
}
