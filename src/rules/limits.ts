/** A number to keep, and who says so. Everything in a limits file can be edited. */
export interface Limit {
  readonly value: number;
  readonly source: string;
}

/** Powder sizes of a paste type, mm. */
export interface PasteType {
  /** Largest grain of the main range. */
  readonly largestGrainMm: number;
  readonly source: string;
}

export interface Alloy {
  readonly densityGPerCm3: number;
  readonly source: string;
}

/** What openings are held against. patterns/limits.json is the copy for users to start from, held equal by a test. */
export interface Limits {
  readonly format: 'apertrue-limits';
  readonly version: 1;
  /** Open area over wall area, at least. */
  readonly areaRatio: Limit;
  /** Narrowest width over film thickness, at least; for openings longer than `longFromWidths` widths. */
  readonly aspectRatio: Limit;
  readonly longFromWidths: Limit;
  /** Narrowest width in largest powder grains, at least. */
  readonly grainsAcross: Limit;
  /** Web over film thickness, at least. */
  readonly webPerThickness: Limit;
  /** A figure within this much above its limit is marked as near it, percent. */
  readonly nearPercent: Limit;
  readonly pastes: Readonly<Record<string, PasteType>>;
  readonly alloys: Readonly<Record<string, Alloy>>;
  readonly fluxDensityGPerCm3: Limit;
  /** Metal by weight when nothing else is said, percent. */
  readonly metalPercent: Limit;
}

const J_STD_005 = 'IPC J-STD-005 powder types, main range';

/**
 * The limits that hold when no file is given. Ratios: IPC-7525, as quoted in the STMicroelectronics data sheets
 * ESDALC6V1-1M2 and ESDALC5-1BM2. All of it was found on metal foil.
 */
export const DEFAULT_LIMITS: Limits = {
  format: 'apertrue-limits',
  version: 1,
  areaRatio: { value: 0.66, source: 'IPC-7525 area ratio; found on metal foil' },
  aspectRatio: { value: 1.5, source: 'IPC-7525 aspect ratio; found on metal foil' },
  longFromWidths: { value: 5, source: 'IPC-7525: the aspect ratio speaks for openings longer than about five widths' },
  grainsAcross: { value: 5, source: 'five-ball rule (T. Lentz, SMT007, July 2019)' },
  webPerThickness: { value: 1, source: 'common practice: no web thinner than the film' },
  nearPercent: { value: 10, source: 'common practice' },
  pastes: {
    type3: { largestGrainMm: 0.045, source: J_STD_005 },
    type4: { largestGrainMm: 0.038, source: J_STD_005 },
    type5: { largestGrainMm: 0.025, source: J_STD_005 },
    type6: { largestGrainMm: 0.015, source: J_STD_005 },
    type7: { largestGrainMm: 0.011, source: J_STD_005 },
  },
  alloys: {
    SAC305: { densityGPerCm3: 7.37, source: 'material sheets give 7.37 to 7.40' },
    Sn63Pb37: { densityGPerCm3: 8.4, source: 'handbook value, from memory' },
  },
  fluxDensityGPerCm3: { value: 1, source: 'Indium Corporation, "Calculating Solder Paste Usage"' },
  metalPercent: { value: 88.5, source: 'O’Neill, Tafoya, Ramirez, SMT007, 31 July 2018 (type 4)' },
};
