import type { Formula } from '../../formula.js';
import type { GroupKind } from '../group.js';
import type { ShapeClass } from '../measure.js';

/** Names that an expression may use: facts of the film and of the opening at hand. */
export const VARIABLES = [
  'thicknessMm',
  'designThicknessMm',
  'minOpeningMm',
  'minWebMm',
  'widthMm',
  'heightMm',
  'lengthMm',
  'narrowestMm',
  'areaMm2',
  'perimeterMm',
  'pitchMm',
  'webMm',
] as const;

export type Variable = (typeof VARIABLES)[number];
export type RuleScope = Readonly<Partial<Record<Variable, number>>>;

/** Names of what may be a formula. */
export const FORMULA_KEY = /(Mm|Percent)$|^(min|max)$/;

/** A number of a rule file. Strings are formulas, and ready to be worked out when the file has been read. */
export type RuleNumber = number | Formula;

export interface Range {
  readonly min?: RuleNumber;
  readonly max?: RuleNumber;
}

export type GroupName = GroupKind | 'centre' | 'pane' | 'none';

/** Which openings a rule is for: all conditions must hold. An empty selector takes every opening. */
export interface Selector {
  /** Extents in the opening's own frame. */
  readonly widthMm?: Range;
  readonly heightMm?: Range;
  readonly lengthMm?: Range;
  readonly narrowestMm?: Range;
  readonly areaMm2?: Range;
  /** Area / (perimeter x film thickness). */
  readonly areaRatio?: Range;
  /** Length over narrowest width. */
  readonly lengthPerWidth?: Range;
  /** Film to the nearest opening. */
  readonly webMm?: Range;
  /** Pitch of the group it belongs to. */
  readonly pitchMm?: Range;
  readonly shape?: readonly ShapeClass[];
  /**
   * `centre`: a large pad in the middle of a ring or between rows. `pane`: such a pad in several parts. `none`: belongs to
   * nothing.
   */
  readonly group?: readonly GroupName[];
  /** Names with * and ? as wildcards. */
  readonly component?: readonly string[];
  readonly pin?: readonly string[];
  /** Other attributes of the artwork, by name; values with wildcards. */
  readonly attribute?: Readonly<Record<string, string>>;
  /** The opening's centre lies in this box, mm. */
  readonly region?: { readonly minX: number; readonly minY: number; readonly maxX: number; readonly maxY: number };
  /** Numbers as the check gives them; "3-9" for a run. */
  readonly openings?: readonly (number | string)[];
  readonly not?: Selector;
}

export type ChipCut = 'home-plate' | 'inverted-home-plate' | 'inverted-radius' | 'straight';

export type Action =
  /** Moves every wall inwards, or takes a share of the area away about the centre. */
  | { readonly kind: 'shrink'; readonly perSideMm?: RuleNumber; readonly areaPercent?: RuleNumber }
  /** Moves every wall outwards as far as the webs allow. */
  | {
      readonly kind: 'grow';
      readonly perSideMm?: RuleNumber;
      readonly areaPercent?: RuleNumber;
      readonly leaveWebMm?: RuleNumber;
    }
  | { readonly kind: 'round-corners'; readonly radiusMm: RuleNumber }
  /** Brings area x film thickness to what it would be with the foil that the pads were designed for. */
  | {
      readonly kind: 'match-volume';
      readonly designThicknessMm?: RuleNumber;
      /** Thinner film than designed for: may openings grow beyond their pads? Default false. */
      readonly allowGrowth?: boolean;
      readonly leaveWebMm?: RuleNumber;
    }
  | {
      readonly kind: 'panes';
      /** Open share of the pad that stays, percent. */
      readonly coveragePercent: RuleNumber;
      readonly webMm: RuleNumber;
      readonly smallestPaneMm: RuleNumber;
      /** Wished-for pane size, mm; columns and rows: exact counts. */
      readonly paneMm?: RuleNumber;
      readonly columns?: number;
      readonly rows?: number;
    }
  /** Takes paste away at the chip's side of a chip's two pads. */
  | {
      readonly kind: 'cut-under-chip';
      readonly form: ChipCut;
      /** How far the cut reaches, percent of the pad's extent towards the other pad. */
      readonly depthPercent: RuleNumber;
      /** What stays uncut at the inner edge, percent of the pad's breadth. Default 0. */
      readonly tipPercent?: RuleNumber;
    }
  /** Semicircular ends. */
  | { readonly kind: 'round-ends' }
  /** Widens openings that the laser would not open, if the webs allow. */
  | { readonly kind: 'widen'; readonly toMm?: RuleNumber; readonly leaveWebMm?: RuleNumber }
  /** Trims neighbours until the web between them stands. */
  | { readonly kind: 'keep-webs'; readonly webMm?: RuleNumber; readonly trim?: 'both-sides' | 'facing-side' }
  | { readonly kind: 'drop' }
  /** Protects openings from all later rules. */
  | { readonly kind: 'keep' };

export interface Rule {
  readonly name: string;
  readonly why?: string;
  readonly select: Selector;
  readonly action: Action;
}

/** Rules in the order in which they are applied; each sees what the ones before it left. */
export interface RuleSet {
  readonly format: 'apertrue-rules';
  readonly version: 1;
  readonly name: string;
  /** What it is for, one or two sentences. */
  readonly purpose?: string;
  /** The foil that the pads were designed for, mm. */
  readonly designThicknessMm?: number;
  readonly rules: readonly Rule[];
}
