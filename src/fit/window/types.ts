import type { Warning } from '../../errors.js';
import type { ProcessWindow } from '../../machine/types.js';
import type { CellOutcome } from '../../readings/types.js';

/** From too weak to too strong. */
export const CELL_LEVELS: readonly CellOutcome[] = ['uncut', 'partial', 'through', 'marked'];

/** One power/speed setting of the grid with every outcome read there. */
export interface WindowCell {
  readonly id: string;
  readonly powerPercent: number;
  readonly speedMmS: number;
  readonly outcomes: readonly CellOutcome[];
}

/** Where one outcome turns into the next: logit = constant + slopePower·(ln P − centre) + slopeSpeed·(ln v − centre). */
export interface WindowBoundary {
  readonly constant: number;
  readonly slopePower: number;
  readonly slopeSpeed: number;
  /** Where the logarithms are counted from: percent and mm/s. */
  readonly centre: { readonly powerPercent: number; readonly speedMmS: number };
  /** `false`: not one cell lies beyond it, so it lies where such edges usually do. */
  readonly seen: boolean;
}

/** How far power or speed may move before the cut stops being clean (even odds), the other one kept. */
export interface WindowRange {
  /** Lowest clean value, in percent or mm/s. */
  readonly from: number;
  readonly to: number;
  readonly downPercent: number;
  readonly upPercent: number;
}

/**
 * A setting to cut with. The margins of {@link ProcessWindow} are those of the nearer boundary, whichever that is: in the
 * middle of two boundaries that are not known well, one lies nearer than it seems, so they are smaller than both sides'.
 */
export interface WindowSetting extends ProcessWindow {
  readonly power: WindowRange;
  readonly speed: WindowRange;
  /** The narrower one of the two margins, of what was varied. */
  readonly narrowestMarginPercent: number;
  /** In percent of the setting: the narrowest margin less 1.645 of these holds in 95 % of cases; 0: it ends where nothing was tried. */
  readonly stdUncertaintyMarginPercent: number;
  /** The cut cell nearest to it (in ratio of power and speed). */
  readonly nearestCell: string;
}

export interface WindowContradiction {
  readonly id: string;
  readonly outcome: CellOutcome;
  /** Cells that its outcome can't be true together with: stronger ones that did less, weaker ones that did more. */
  readonly against: readonly string[];
  /** Probability of its outcome in the fitted model. */
  readonly probability: number;
  readonly say: string;
}

export interface WindowRefusal {
  readonly code: 'NOT_THROUGH' | 'ALL_MARKED' | 'NO_CLEAN_CELL' | 'NO_MARGIN' | 'CONTRADICTORY';
  readonly message: string;
  /** What to do, most promising first. */
  readonly remedies: readonly string[];
  /** The next grid to cut. */
  readonly nextGrid?: { readonly powersPercent: readonly number[]; readonly speedsMmS: readonly number[] };
}

export interface WindowMap {
  /** Rising, evenly spaced in ratio over the tested range. */
  readonly powersPercent: readonly number[];
  readonly speedsMmS: readonly number[];
  /** [power][speed]: probability that a cut comes through and leaves no mark. */
  readonly probabilityClean: readonly (readonly number[])[];
}

export interface WindowResult {
  readonly cells: readonly WindowCell[];
  /** Boundary between not through and through, and between through and marked; undefined when there is no model. */
  readonly boundaries?: { readonly through: WindowBoundary; readonly marked: WindowBoundary };
  readonly model: string;
  readonly map?: WindowMap;
  /** The setting with the widest margin; undefined when the readings show none, then `refusal` says why. */
  readonly setting?: WindowSetting;
  readonly refusal?: WindowRefusal;
  readonly contradictions: readonly WindowContradiction[];
  /** The setting if the contradictory cells were left out, for comparison. */
  readonly settingWithoutContradictions?: WindowSetting;
  readonly warnings: readonly Warning[];
}
