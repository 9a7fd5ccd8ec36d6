import type { Feature } from '../coupon/features.js';
import type { PerAxis, Size } from '../geometry/types.js';
import type { Reading } from '../readings/types.js';

/** A measured result. */
export interface Measured {
  readonly value: number;
  /** Infinite (null in the file) with `assumed`: nobody knows how far off a value is that was taken and not measured. */
  readonly stdUncertainty: number;
  /** 95 % interval (Student t). */
  readonly interval95?: readonly [number, number];
  /** The readings can't tell it: taken by name, and nothing may be judged by it. */
  readonly assumed?: boolean;
}

export const PARAMETER_NAMES = ['scaleX', 'scaleY', 'shear', 'kerfXMm', 'kerfYMm'] as const;
export type ParameterName = (typeof PARAMETER_NAMES)[number];

/** A record of the five, each made anew. */
export const byParameter = <T>(of: (name: ParameterName, k: number) => T): Record<ParameterName, T> =>
  Object.fromEntries(PARAMETER_NAMES.map((name, k) => [name, of(name, k)])) as Record<ParameterName, T>;

const NAMES: Record<ParameterName, readonly [title: string, number: string]> = {
  scaleX: ['scale X', 'scale along X'],
  scaleY: ['scale Y', 'scale along Y'],
  shear: ['shear', 'shear'],
  kerfXMm: ['kerf X', 'kerf across X'],
  kerfYMm: ['kerf Y', 'kerf across Y'],
};
/** What each parameter is called in a sentence or a table. */
export const PARAMETER_TITLES = byParameter((name) => NAMES[name][0]);
/** The same in sentences about a change. */
export const NUMBER_NAMES = byParameter((name) => NAMES[name][1]);

/** A change of one number as a person sees it on the film. */
export function sizeWords(parameter: ParameterName, size: number): string {
  return parameter.startsWith('kerf') ? `${(1000 * size).toFixed(1)} µm` : `${(1e5 * size).toFixed(0)} µm on 100 mm`;
}

/** The five numbers with what is known about them. */
export interface ProfileFit {
  readonly scaleX: Measured;
  readonly scaleY: Measured;
  readonly shear: Measured;
  readonly kerfXMm: Measured;
  readonly kerfYMm: Measured;
  /** Name of the model that was fitted, in plain words; see src/fit. */
  readonly model: string;
  /** 5 x 5 in the order of PARAMETER_NAMES; for an assumed one the variance is infinite (null in the file), see `fitVariance`. */
  readonly covariance: readonly (readonly number[])[];
  readonly residualSdMm: number;
  readonly dof: number;
  readonly warnings: readonly string[];
}

/**
 * Shapes of a place error over the bed. Letters are Legendre polynomials of u (along X) and v (along Y), both −1 to 1 over
 * the area: `uuv` is P2(u)·P1(v). None has a part that is a scale, a shear or a shift. Sines have a period of their own.
 */
export const FIELD_SHAPES = [
  ...(['uu', 'uv', 'vv', 'uuu', 'uuv', 'uvv', 'vvv'] as const),
  ...(['sin u', 'cos u', 'sin v', 'cos v'] as const),
] as const;
export type FieldShape = (typeof FIELD_SHAPES)[number];

/** Part of the place error: along which axis it moves things, commanded mm where its shape is 1. */
export interface FieldTerm {
  readonly moves: 'x' | 'y';
  readonly shape: FieldShape;
  /** Of sines, mm along the axis of their letter. */
  readonly periodMm?: number;
  readonly mm: number;
  readonly stdUncertainty: number;
}

/**
 * How places over the bed depart from what the five numbers say: what is commanded at p is cut as if it were commanded at
 * p + e(p) to a machine without bends, e being the sum of the terms.
 */
export interface PlaceField {
  /** Canvas of the coupons that showed it, commanded mm: places count from its lower left corner. */
  readonly canvasMm: Size;
  /** Where marks were read, commanded mm: x0, y0, x1, y1. Beyond it the error at its border is taken. */
  readonly areaMm: readonly [number, number, number, number];
  readonly terms: readonly FieldTerm[];
  /** Of the terms, mm², in their order, as places need it: with the straight part held. */
  readonly covariance: readonly (readonly number[])[];
  /** What is left of a mark's place along one axis, mm. */
  readonly residualSdMm: number;
  readonly dof: number;
  readonly marks: number;
}

/** Bends, without how sure they are. */
export type Bends = Pick<PlaceField, 'canvasMm' | 'areaMm' | 'terms'>;

/** The setting with the widest margin, from a power/speed grid. */
export interface ProcessWindow {
  readonly powerPercent: number;
  readonly speedMmS: number;
  readonly marginPowerPercent: number;
  readonly marginSpeedPercent: number;
  readonly probabilityClean: number;
}

/** Contract 3: what was learnt about one laser + film + settings. */
export interface Profile {
  readonly format: 'apertrue-profile';
  readonly version: 1;
  readonly name: string;
  readonly machine?: string;
  readonly film?: { readonly kind?: string; readonly thicknessMm?: number };
  readonly settings?: { readonly powerPercent?: number; readonly speedMmS?: number; readonly passes?: number };
  /** The pitch of the machine for which the coupons were made, mm. */
  readonly pitchMm?: PerAxis;
  readonly fit: ProfileFit;
  readonly limits?: {
    readonly minOpeningMm?: number;
    readonly minWebMm?: number;
    /** Smallest opening that was cut, where all came through: the limit lies below it. Width on the film. */
    readonly smallestOpenedMm?: number;
    /** Smallest web that was cut, where all stand. */
    readonly smallestStoodMm?: number;
    /** Which readings showed it. */
    readonly evidence?: readonly string[];
  };
  readonly window?: ProcessWindow;
  /** Bends of the machine, where places over the bed were read and showed some. */
  readonly field?: PlaceField;
  /**
   * What the profile was fitted from, so that anybody can refit. In the file the rows of all sessions stand together
   * under `readings`, each with the number of its session.
   */
  readonly sessions: readonly ReadingSession[];
}

/** Readings of one coupon, taken at one time. */
export interface ReadingSession {
  readonly coupon: string;
  /** Day on which they were taken or entered, YYYY-MM-DD, if the user said so. */
  readonly date?: string;
  readonly canvas?: {
    readonly widthMm: number;
    readonly heightMm: number;
    readonly pitchXMm: number;
    readonly pitchYMm: number;
  };
  /** Limit of error of each gauge by its maker or a standard, mm, under its name (see `gaugeOf` in src/fit/calibration). */
  readonly gaugeLimitsMm?: Readonly<Record<string, number>>;
  readonly features: readonly Feature[];
  readonly readings: readonly Reading[];
  /** Why these readings are not part of the fit: they showed a machine that has changed. Kept, and never forgotten. */
  readonly refused?: string;
  /** Part of the fit, but in doubt: what seemed off when the readings were added, until later ones settle it. */
  readonly doubtful?: Doubts;
}

/** By how much a number seemed off, a ratio or mm. */
export interface Doubt {
  readonly by: number;
  readonly stdUncertainty: number;
}

export type Doubts = Partial<Readonly<Record<ParameterName, Doubt>>>;

/** The machine's model: q = A p with A = [[scaleX, shear], [0, scaleY]], and the kerf ellipse's full widths. */
export interface MachineModel {
  readonly scaleX: number;
  readonly scaleY: number;
  readonly shear: number;
  readonly kerfXMm: number;
  readonly kerfYMm: number;
}
