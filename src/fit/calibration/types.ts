import type { Warning } from '../../errors.js';
import type { ParameterName, Profile, ProfileFit } from '../../machine/types.js';
import type { ReadingCause } from './causes.js';
import type { FaultTest } from './faults.js';
import type { RowShift } from './observations.js';
import type { ParameterResult } from './profile-fit.js';
import type { LackOfFit } from './repeats.js';
import type { GaugeFinding } from './zeros.js';

export interface CalibrationOptions {
  /** Resolution of the gauge for readings that state none, mm. Not given: told from the readings' last digits. */
  readonly resolutionMm?: number;
  /**
   * Limit of error of every gauge for which the sessions state none, as its maker or a standard states it, mm: an error
   * common to all its readings, in its zero and over its length, that reading more often does not make smaller.
   */
  readonly gaugeLimitMm?: number;
  /** Ids of features whose readings are left out. Nothing is left out unless told. */
  readonly drop?: readonly string[];
  /** Take the answer that readings which stand out hardly move, instead of plain least squares. */
  readonly robust?: boolean;
  /**
   * The answer is held against others from the same gauges: a zero that readings hardly show is alike in all of them, and
   * is taken as 0.
   */
  readonly sameGauges?: boolean;
}

/** Which reading it is. */
export interface ReadingRef {
  readonly session: number;
  /** Place of the reading in its session, from 0. */
  readonly index: number;
  readonly feature: string;
}

/** What is left of one reading once the machine's model is taken away. */
export interface ReadingResidual extends ReadingRef {
  readonly kind: 'span' | 'opening' | 'web' | 'vernier';
  readonly line?: number;
  readonly nominalMm: number;
  readonly readingMm: number;
  readonly predictedMm: number;
  readonly residualMm: number;
  /** Residual over its standard deviation, this reading left out. */
  readonly studentised: number;
  /** Standard deviation of the reading that its weight stands for, mm. */
  readonly sdMm: number;
}

/** A reading that doesn't belong to the others. It still counts unless it is dropped. */
export interface FlaggedReading extends ReadingRef {
  readonly file?: string;
  readonly line?: number;
  readonly readingMm?: number;
  /** What the readings that belong together say it should be, mm. */
  readonly expectedMm: number;
  /** Distance in standard deviations. */
  readonly distance: number;
  readonly cause: ReadingCause;
  /** Name, what was read, what was expected, and the likely cause. */
  readonly sentence: string;
}

/** The answer without the readings that stand out, beside the plain one. */
export interface RobustAnswer {
  readonly fit: ProfileFit;
  /** How far each parameter moves from the plain answer, and that over its standard uncertainty. */
  readonly moves: readonly { readonly name: ParameterName; readonly by: number; readonly inUncertainties: number }[];
  /** Readings that count for nothing in it. */
  readonly ignored: readonly ReadingRef[];
}

export interface CalibrationResult {
  readonly fit: ProfileFit;
  readonly limits?: NonNullable<Profile['limits']>;
  readonly parameters: readonly ParameterResult[];
  /** 5 x 5, in the order of PARAMETER_NAMES; 0 for assumed ones. */
  readonly correlations: readonly (readonly number[])[];
  readonly residuals: readonly ReadingResidual[];
  readonly flagged: readonly FlaggedReading[];
  /** Some reading is wrong, but there are too few to tell which: none is named. */
  readonly undecided: boolean;
  /** Readings that were left out because they were told to be. */
  readonly dropped: readonly ReadingRef[];
  readonly robust?: RobustAnswer;
  /** Faults of the machine that were looked for, the likeliest first; empty where there are too few readings. */
  readonly faults: readonly FaultTest[];
  /** Faults that these readings would not show in nine cases of ten, were they there, in words. */
  readonly unchecked: readonly string[];
  /** How far scale X, scale Y and shear of some place of the bed lie from these, by the faults found: no reading narrows that. */
  readonly placeDoubt: readonly [scaleX: number, scaleY: number, shear: number];
  readonly lackOfFit?: LackOfFit;
  /** Limit and zero of each gauge. */
  readonly gauges: readonly GaugeFinding[];
  /** Scatter of each gauge's readings beyond its rounding, standard deviation, mm. */
  readonly scatter: readonly {
    readonly gauge: string;
    readonly resolutionMm: number;
    /** Each reading says how uncertain it is itself; `resolutionMm` is the step that would be as uncertain as the worst. */
    readonly uncertain: boolean;
    readonly readings: number;
    readonly sdMm: number;
  }[];
  /** Shift of alternate rows read from verniers: mean, what it may be off by, and number of readings. */
  readonly rowShifts: readonly (RowShift & { readonly readings: number })[];
  /** Why the iteration stopped, in plain words. */
  readonly stopped: string;
  readonly iterations: number;
  /** What the readings could not tell, and what is odd about them. */
  readonly warnings: readonly Warning[];
  /** Likely reasons for unusual values. */
  readonly hints: readonly string[];
}
