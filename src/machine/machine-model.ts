import { isForJaws } from '../coupon/features.js';
import { demand, InputError, type Problem, refuseAll, type Warning } from '../errors.js';
import type { Affine, Box, PerAxis, Point } from '../geometry/types.js';
import { present } from '../kept.js';
import { type MachineModel, PARAMETER_NAMES, type ParameterName, type PlaceField, type Profile } from './types.js';

type NumberOrMeasured = number | { readonly value: number };

/** The five numbers, each plain or as a measured value. */
export type FitLike = { readonly [name in ParameterName]: NumberOrMeasured };

/** Whatever holds the five numbers: a profile, the result of a calibration, its `fit`, or a plain model. */
export type ModelSource = FitLike | { readonly fit: FitLike };

/**
 * The machine's model out of a profile, the result of a calibration, or a plain model.
 *
 * @param source - numbers, or `{ value }`; directly or under `fit`
 * @returns q = A p with A = [[scaleX, shear], [0, scaleY]], and the kerf ellipse's full widths in mm
 * @throws {InputError} NOT_A_PROFILE when it holds no such numbers, BAD_PROFILE when no machine is like that, see `modelProblems`
 * @example machineModel(profile)
 */
export function machineModel(source: ModelSource): MachineModel {
  const holder = typeof source === 'object' && source !== null && 'fit' in source ? source.fit : source;
  if (typeof holder !== 'object' || holder === null) throw notAProfile(holder);
  const numbers = PARAMETER_NAMES.map((name) => {
    const given = (holder as Partial<FitLike>)[name];
    const value = typeof given === 'object' && given !== null ? given.value : given;
    if (value === undefined) throw notAProfile(holder);
    return value;
  });
  const [scaleX, scaleY, shear, kerfXMm, kerfYMm] = numbers;
  const model = { scaleX, scaleY, shear, kerfXMm: widthOf(kerfXMm), kerfYMm: widthOf(kerfYMm) };
  refuseAll(modelProblems(model));
  return model;
}

/** A cut narrower than atoms has no width: doubles have no digits left for a share of 1e-320 mm. */
const widthOf = (kerfMm: number): number => (typeof kerfMm === 'number' && Math.abs(kerfMm) < 1e-9 ? 0 : kerfMm);

function notAProfile(found: unknown): InputError {
  const keys = typeof found === 'object' && found !== null ? Object.keys(found).slice(0, 8).join(', ') : String(found);
  return new InputError({
    code: 'NOT_A_PROFILE',
    message: `expected a profile with ${PARAMETER_NAMES.join(', ')}; found ${keys || 'nothing'}.`,
    hint: 'Hand in a profile, the result of fitCalibration, or the five numbers.',
  });
}

/** A as an affine map: commanded mm to film mm. Where the film lies is free, so there is no shift. */
export function machineMap(model: MachineModel): Affine {
  return { a: model.scaleX, b: model.shear, c: 0, d: model.scaleY, e: 0, f: 0 };
}

/** κ(u): full width of the kerf ellipse along a unit direction, mm. */
export function kerfAlong(model: MachineModel, [ux, uy]: Point): number {
  return Math.hypot(model.kerfXMm * ux, model.kerfYMm * uy);
}

/** The kerf's full widths in commanded mm: what the beam adds, as the machine's own dots count. */
export function commandedKerf(model: MachineModel): { x: number; y: number } {
  return { x: model.kerfXMm / model.scaleX, y: model.kerfYMm / model.scaleY };
}

/** Above this share of the beam's reach, walls along the rows' ends are no longer walls but teeth. */
const MOST_OF_KERF = 0.5;

/**
 * The machine as it burns an image of which only every n-th row is burnt. A row is burnt as wide as ever; what stands for
 * it is n rows high, so that less is left for the kerf to add.
 *
 * @param rows - how many rows stand for one that is burnt
 * @param pitchMm - distance between two rows of the image, commanded mm
 * @param across - the machine's axis across which the rows lie
 * @throws {InputError} ROWS_APART where film would stand between the rows
 */
export function withRowsApart(model: MachineModel, rows: number, pitchMm: number, across: 'x' | 'y'): MachineModel {
  if (rows === 1) return model;
  const [kerf, scale] = across === 'y' ? (['kerfYMm', 'scaleY'] as const) : (['kerfXMm', 'scaleX'] as const);
  const betweenMm = (rows - 1) * pitchMm * model[scale];
  const strips = `of every ${rows} rows one is burnt, which leaves ${betweenMm.toFixed(3)} mm between two of them, more than half of the kerf of ${model[kerf].toFixed(3)} mm: openings would fall into strips.`;
  demand(betweenMm <= MOST_OF_KERF * model[kerf], 'ROWS_APART', strips, 'Burn more of the rows.');
  return { ...model, [kerf]: model[kerf] - betweenMm };
}

/** Bends belong to places of the bed, and whoever works with openings alone does not know where on it they lie. */
export function bendsLeftOut(source: ModelSource & { readonly field?: PlaceField }): Warning[] {
  return present(
    source.field?.terms.length && {
      code: 'BENDS_LEFT_OUT',
      message: 'the profile knows bends of the bed, which are not applied here: only the five numbers are.',
      hint: 'Use makeStencil, which knows where on the bed each opening lies.',
    },
  );
}

/**
 * What a machine can be. Scales hold what a program makes of units and resolutions too (mm taken as inches: 25.4, mm as
 * pixels of 96 dpi: 0.26), so they may be far from 1; a shear of a fifth is a parallelogram of 11°; no cut in film is
 * wider than 2 mm (common practice: 0.08 to 0.3 mm).
 */
const SCALE_REACH = 60;
const SHEAR_REACH = 0.2;
const WIDEST_KERF_MM = 2;
/** Lines may lie some dots apart, and a program that knows nothing of that makes one scale so many times the other. */
const APART_REACH = 8;
/** Scales that far from 1 come from a program, and the kerf from the beam: both kerfs 0 are the mark of a slip. */
const SLIP_REACH = 2;

/** What is wrong with five numbers as a machine's; empty when nothing is. */
export function modelProblems(model: MachineModel): Problem[] {
  const problems = PARAMETER_NAMES.flatMap((name) => problemOf(name, model) ?? []);
  if (problems.length > 0) return problems;
  const { scaleX, scaleY, kerfXMm, kerfYMm } = model;
  const slip = (message: string): Problem => ({
    code: 'BAD_PROFILE',
    place: { key: 'scaleX' },
    message: `the scales are ${scaleX} along X and ${scaleY} along Y${message}: no machine does that, but a decimal point that slipped in one reading does.`,
    hint: 'Look at the readings of the longest spans along both axes, and fit again.',
  });
  if (Math.max(scaleX / scaleY, scaleY / scaleX) > APART_REACH) return [slip(`, more than ${APART_REACH} times apart`)];
  const far = [scaleX, scaleY].some((scale) => Math.abs(Math.log(scale)) > Math.log(SLIP_REACH));
  return present(far && kerfXMm <= 0 && kerfYMm <= 0 && slip(', and no cut has any width'));
}

function problemOf(name: ParameterName, model: MachineModel): Problem | undefined {
  const value = model[name];
  const found = Number.isFinite(value) ? String(Number(value.toPrecision(9))) : String(value);
  const unless = (isRight: boolean, wanted: string, hint: string): Problem | undefined =>
    isRight
      ? undefined
      : {
          code: 'BAD_PROFILE',
          place: { key: name },
          message: `expected ${wanted}, found ${found}.`,
          hint: `${hint} Fit the readings again, or look for a slip in the profile.`,
        };
  if (typeof value !== 'number') return unless(false, 'a number', `It is a ${typeof value}.`);
  if (name.startsWith('scale')) {
    const isPercent = value > SCALE_REACH && value < 2 * 100;
    const percent = isPercent ? ` It looks like percent: ${found} % is ${Number((value / 100).toPrecision(9))}.` : '';
    const wanted = `a number > 0, a scale between 1/${SCALE_REACH} and ${SCALE_REACH}`;
    const is = `A scale is film mm per commanded mm, near 1 as a rule.${percent}`;
    return unless(value >= 1 / SCALE_REACH && value <= SCALE_REACH, wanted, is);
  }
  if (name === 'shear') {
    const most = SHEAR_REACH * Math.max(Math.abs(model.scaleX), 1e-9);
    const wanted = `a number within ± ${Number(most.toPrecision(3))} (a fifth of the scale)`;
    return unless(Math.abs(value) <= most, wanted, 'Shear is film mm along X per commanded mm along Y.');
  }
  const micrometres = value > WIDEST_KERF_MM && value <= 1000 * WIDEST_KERF_MM ? ' It looks like micrometres.' : '';
  const wanted = `a length >= 0 in mm, at most ${WIDEST_KERF_MM}`;
  return unless(value >= 0 && value <= WIDEST_KERF_MM, wanted, `A kerf is the width of the cut.${micrometres}`);
}

/** How far apart things were read, mm: no scale was ever looked at beyond that. */
export interface CalibratedExtent {
  readonly widthMm: number;
  readonly heightMm: number;
}

/** A span runs along an axis from this share of its length on. */
const ALONG = 0.1;

/**
 * The largest piece of the bed over which a profile's spans, and windows that jaws grip, were read: from their own
 * positions, not from the size of the coupon's canvas.
 *
 * @returns undefined where none was read, for example in a profile written by hand
 * @example calibratedExtent(profile)
 */
export function calibratedExtent({ sessions }: Pick<Profile, 'sessions'>): CalibratedExtent | undefined {
  // Sessions of a profile's file hold no readings until `parseProfile` has given each its own.
  const sizes = sessions.flatMap(({ features, readings = [], refused }) => {
    const read = new Set(readings.flatMap((row) => (row.readingMm === undefined || row.dropped ? [] : [row.feature])));
    const spans = features.filter((one) => (one.kind === 'span' || isForJaws(one)) && read.has(one.id) && !refused);
    if (spans.length === 0) return [];
    // A span tells the scale along which it runs, not across; slanted ones tell both.
    const reach = (k: 0 | 1): number => {
      const ends = spans.flatMap((span) =>
        'from' in span && Math.abs(span.to[k] - span.from[k]) > ALONG * span.nominalMm
          ? [span.from[k], span.to[k]]
          : [],
      );
      return ends.length === 0 ? 0 : Math.max(...ends) - Math.min(...ends);
    };
    return [{ widthMm: reach(0), heightMm: reach(1) }];
  });
  if (sizes.length === 0) return undefined;
  return {
    widthMm: Math.max(...sizes.map(({ widthMm }) => widthMm)),
    heightMm: Math.max(...sizes.map(({ heightMm }) => heightMm)),
  };
}

/** A stencil may stick out by this share: a scale does not bend at once beyond what was read. */
const STICKS_OUT = 1.1;

/** What a stencil larger than anything that was read deserves to be told. */
export function extentWarnings(profile: Partial<Pick<Profile, 'sessions'>>, box: Box | undefined): Warning[] {
  const extent = profile.sessions && calibratedExtent({ sessions: profile.sessions });
  if (!extent || !box) return [];
  const [width, height] = [box.maxX - box.minX, box.maxY - box.minY];
  const size = (w: number, h: number): string => `${w.toFixed(0)} x ${h.toFixed(0)} mm`;
  return present(
    (width > STICKS_OUT * extent.widthMm || height > STICKS_OUT * extent.heightMm) && {
      code: 'BEYOND_CALIBRATED',
      message: `the openings span ${size(width, height)}, and the profile rests on spans over ${size(extent.widthMm, extent.heightMm)}: beyond that nobody has looked at the scale.`,
      hint: 'Cut and read a scale-ruler as large as the stencil, and fit again.',
    },
  );
}

/** Rows and dots of an image. */
interface Rows {
  readonly pitchMm: PerAxis;
  readonly burnEveryNthRow?: number;
}

/** Pitches that differ by less, mm, make no kerf another: 1000 dpi typed as 0.025. */
const SAME_MM = 0.002;

const sizeOf = ({ x, y }: Rows['pitchMm']): string => `${Number(x.toFixed(4))} x ${Number(y.toFixed(4))}`;

/** Says that dots are not those of the coupons; undefined where they are, or nobody knows. */
export function otherDots(known: PerAxis | undefined, pitchMm: PerAxis, of = 'the coupons'): string | undefined {
  if (!known || (['x', 'y'] as const).every((axis) => Math.abs(known[axis] - pitchMm[axis]) <= SAME_MM))
    return undefined;
  return `the dots lie ${sizeOf(pitchMm)} mm apart, those of ${of} ${sizeOf(known)} mm`;
}

/**
 * What an image deserves to be told whose dots are not those of the coupons: a beam burns a row as wide as ever, so that
 * what it adds around a finer or coarser row is another kerf, which nobody has measured.
 */
export function pitchWarnings(
  profile: Partial<Pick<Profile, 'pitchMm'>>,
  { pitchMm, burnEveryNthRow = 1 }: Rows,
): Warning[] {
  const other = otherDots(profile.pitchMm, pitchMm);
  const say = (message: string, hint: string): Warning => ({ code: 'PITCH_NOT_CALIBRATED', message, hint });
  return present(
    other &&
      say(
        `${other}: the kerf was measured with these, and is another with those.`,
        'Leave out the pitch, or cut and read coupons with it.',
      ),
    burnEveryNthRow > 1 &&
      say(
        `of every ${burnEveryNthRow} rows one is burnt, of the coupons every one: whether the film opens with less heat nobody has looked.`,
        'Cut a small piece first.',
      ),
  );
}
