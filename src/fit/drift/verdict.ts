import type { ParameterName } from '../../machine/types.js';
import type { DayChange } from './seek-change.js';

/** One number of the machine as the new readings show it, against the days before. */
export interface ChartedShift extends Omit<DayChange, 'kind' | 'size'> {
  readonly parameter: ParameterName;
  /** New readings, less what the profile (or the mean of the days before) says: a ratio or mm; of a trend: its whole size. */
  readonly shift: number;
  /** The newest day or days (`days`, the new one included) against those before; a trend over all days. */
  readonly chart: 'newest' | 'trend';
  /** Days before on which the same piece was read, that it is held against; 0: the profile's prediction. */
  readonly against: number;
  readonly say: string;
}

export interface ReadingsAgainstProfile {
  /** The most telling test of each number. */
  readonly shifts: readonly ChartedShift[];
  /** The smallest change of each number that this one day would have shown in nine cases of ten: a ratio or mm. */
  readonly leastSeen: readonly { readonly parameter: ParameterName; readonly change: number }[];
  /** Days that were refused before and that nothing has settled since. */
  readonly refusedBefore: readonly string[];
  /** Mean square of the new readings' distance from the profile, over what it should be, with the F test. */
  readonly distance: { readonly f: number; readonly readings: number; readonly pValue: number };
  /** Scatter of the new readings among themselves over the usual one; undefined when there are too few of them. */
  readonly scatterRatio?: number;
  /** The one verdict: these readings are not to be pooled with those of the profile. */
  readonly changed: boolean;
  /** Where nothing is sure: numbers that are off by what chance hardly makes, so that the piece should be read again. */
  readonly doubtful: readonly ParameterName[];
  /** Plain sentences, the verdict first. */
  readonly sentences: readonly string[];
}
