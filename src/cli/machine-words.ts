import { refuseAll } from '../errors.js';
import type { Written } from '../export/types.js';
import type { PerAxis, Size } from '../geometry/types.js';
import { grouped, present } from '../kept.js';
import type { NarrowPart } from '../machine/correct-openings.js';
import { machineModel } from '../machine/machine-model.js';
import type { MachineModel, Profile } from '../machine/types.js';
import type { CutFigures, Fault } from '../stencil/faults.js';
import type { Frame } from '../stencil/frame.js';
import { fieldOf } from '../stencil/make-stencil.js';
import { allRuns, count, MM_PER_INCH, micrometres, runsOf, signed } from '../text.js';
import { row } from './tell.js';

/** A machine whose scale is this far from 1 makes the typed-in size look wrong, and it must be typed in all the same. */
const SCALE_OF_ITS_OWN = 0.02;

/** A canvas as the machine is commanded, and what it becomes on the film. */
export type CommandedCanvas = ReturnType<typeof reportedCanvas> & {
  /** Written turned for a beam that sweeps along Y: laid as it is, X and Y would be interchanged. */
  readonly turned?: boolean;
};

/** Dots per inch as a pitch; 508 are 0.05 mm, not 0.049999999999999996. */
export function pitchOfDpi({ x, y }: PerAxis): PerAxis {
  const [across, up] = [x, y].map((dpi) => Number((MM_PER_INCH / dpi).toPrecision(12)));
  return { x: across, y: up };
}

/**
 * A canvas as written: a sweep along Y turns it, of paths too, and its width then lies along the machine's Y. A line interval,
 * too, parts the distance between two dots from the pitch asked for.
 */
export function reportedCanvas(
  written: readonly Written[],
  { originMm }: Pick<Frame, 'originMm'>,
  { scaleX, scaleY }: MachineModel,
  { pitchMm, scanDirection }: { readonly pitchMm: PerAxis; readonly scanDirection?: 'x' | 'y' },
) {
  const { widthMm, heightMm, widthPx, heightPx } = written.find((one) => one.widthPx !== undefined) ?? written[0];
  const [along, across] = scanDirection === 'y' ? (['y', 'x'] as const) : (['x', 'y'] as const);
  const scale = { x: scaleX, y: scaleY };
  const pitch = (count: number | undefined, lengthMm: number, asked: number): number =>
    count === undefined ? asked : Number((lengthMm / count).toFixed(9));
  return {
    widthMm,
    heightMm,
    widthPx,
    heightPx,
    pitchXMm: pitch(widthPx, widthMm, pitchMm[along]),
    pitchYMm: pitch(heightPx, heightMm, pitchMm[across]),
    /** Where its lower left corner lies in the corrected artwork's own coordinates, mm. */
    originMm,
    filmWidthMm: widthMm * scale[along],
    filmHeightMm: heightMm * scale[across],
  };
}

/** Which side of the board it is for, and how it lies. */
export const laidWords = ({ side, mirrored }: { readonly side?: string; readonly mirrored: boolean }): string =>
  `${side ? `${side} side` : 'side unknown'}, ${mirrored ? 'mirrored' : 'not mirrored'}`;

/** At least as many digits as matter: micrometres. */
export const fixedMm = (value: number): string => value.toFixed(3);

/** Size of a dot as written, which rows may part from the pitch asked for; undefined when only paths are written. */
const pitchOf = ({ widthPx, pitchXMm, pitchYMm }: CommandedCanvas): PerAxis | undefined =>
  widthPx === undefined ? undefined : { x: Number(pitchXMm.toFixed(6)), y: Number(pitchYMm.toFixed(6)) };

function inchText(pitch: PerAxis): string {
  const [x, y] = [pitch.x, pitch.y].map((v) => String(Number((MM_PER_INCH / v).toFixed(2))));
  return pitch.x === pitch.y ? x : `${x} x ${y}`;
}

/** The settings to cut with, which are those the coupon was cut with. */
function settingsText({ settings: s, film }: Profile): string {
  const parts = present(
    s?.powerPercent !== undefined && `power ${s.powerPercent} %`,
    s?.speedMmS !== undefined && `speed ${s.speedMmS} mm/s`,
    s?.passes !== undefined && count(s.passes, 'pass', 'passes'),
    film?.kind && `film ${film.kind}`,
    film?.thicknessMm !== undefined && `${film.thicknessMm} mm thick`,
  );
  return parts.length > 0 ? parts.join(', ') : 'those the coupon was cut with (the profile does not name them)';
}

/** What to type into the laser's program, and the settings to cut with. */
export function machineRows(canvas: CommandedCanvas, profile: Profile, bed: Size | undefined): string[] {
  return machineFacts(canvas, profile, bed).map(([label, text]) => row(label, text));
}

/** Where on the bed it lies, and so the film: by the corner that the coupons had at the origin. */
function placeText({ filmWidthMm, filmHeightMm, turned }: CommandedCanvas, profile: Profile, bed: Size | undefined) {
  const [right, up] = (turned ? [filmHeightMm, filmWidthMm] : [filmWidthMm, filmHeightMm]).map((mm) => mm.toFixed(1));
  const on = bed ? `, on a bed of ${bed.widthMm} x ${bed.heightMm} mm` : '';
  const elsewhere = fieldOf(profile)
    ? 'nowhere else, because the bends of the bed are known for that place'
    : 'elsewhere on the bed will do, too, but not turned';
  return `its lower left corner at your program’s origin, where that of the coupons was: the film must reach from there ${right} mm to the right and ${up} mm up${on}; ${elsewhere}`;
}

/** The same as label and text; a fact that goes on has no label of its own. */
export function machineFacts(
  canvas: CommandedCanvas,
  profile: Profile,
  bed: Size | undefined,
): [label: string, text: string][] {
  const { scaleX, scaleY } = machineModel(profile);
  const isScaled = [scaleX, scaleY].some((scale) => Math.abs(scale - 1) > SCALE_OF_ITS_OWN);
  const px = canvas.widthPx === undefined ? '' : `${canvas.widthPx} x ${canvas.heightPx} px = `;
  const pitch = pitchOf(canvas);
  const dotMm = pitch && (pitch.x === pitch.y ? `${pitch.x}` : `${pitch.x} x ${pitch.y}`);
  const choices = present(
    pitch && `a width in pixels: ${canvas.widthPx}`,
    `a width in mm: ${fixedMm(canvas.widthMm)}`,
    pitch && `dots per inch: ${inchText(pitch)}`,
  );
  const height = `the height of ${fixedMm(canvas.heightMm)} mm too, not kept in proportion to the width`;
  const back = 'turn it by 90 degrees clockwise in your program, so that it lies on the bed as the coupons did';
  return present<[string, string]>(
    ['canvas', `${px}${size([canvas.widthMm, canvas.heightMm])}`],
    isScaled && [
      '',
      `your program will make ${size([canvas.filmWidthMm, canvas.filmHeightMm])} of it on the film, and that is right`,
    ],
    pitch && ['resolution', `${inchText(pitch)} dpi (one dot every ${dotMm} mm)`],
    ['type in', `whatever you typed for the coupon, with these numbers: ${choices.join('; ')}`],
    pitch && pitch.x !== pitch.y && ['', `the dots are not square: type ${height}`],
    canvas.turned && ['', `it is written turned, for a beam that sweeps along Y: then ${back}`],
    ['place', placeText(canvas, profile, bed)],
    ['settings', settingsText(profile)],
  );
}

const SHOWN = 12;

/** Less than this at a tip says nothing beside what dots are off by. */
const TOLD_TIP_MM = 0.01;

/** How near a stencil comes to what was asked, in words. */
export function figuresRow(figures: CutFigures | undefined): string {
  return figures ? row('comes out', figuresText(figures)) : '';
}

export function figuresText(figures: CutFigures): string {
  const { rmsWidthErrorMm, meanWidthErrorMm, maxWidthErrorMm, maxTipLossMm } = figures;
  const { rmsPlaceErrorMm, maxPlaceErrorMm } = figures;
  const widths = `widths off by ${micrometres(rmsWidthErrorMm)} µm rms, ${micrometres(meanWidthErrorMm)} on average, ${micrometres(maxWidthErrorMm)} at most${maxTipLossMm > TOLD_TIP_MM ? ` (the beam is rounder than some tips, and takes up to ${micrometres(maxTipLossMm)} µm there)` : ''}`;
  const places = `places by ${micrometres(rmsPlaceErrorMm)} µm rms, ${micrometres(maxPlaceErrorMm)} at most`;
  const areas = `areas by ${figures.meanAreaErrorPercent.toFixed(1).replace(/^-0\.0$/, '0.0')} % on average`;
  return `${widths}; ${places}; ${areas}`;
}

const size = (sizes: readonly number[]): string => `${sizes.map(fixedMm).join(' x ')} mm`;

/** What is wrong with one opening, in words. */
function faultText({ at, askedMm, gotMm, askedMm2, gotMm2, ...fault }: Fault): string {
  const { what, parts, lost, offMm } = fault;
  const asked = `at ${at.map(fixedMm).join(', ')}: asked ${size(askedMm)}`;
  if (what.includes('missing')) return `${asked}, missing`;
  const more = present(
    parts && `in ${parts} pieces`,
    lost && `a part of ${size(lost.sizeMm)} near ${lost.at.map(fixedMm).join(', ')} is missing`,
    what.includes('cut off') && 'cut off at the edge of the canvas',
    fault.with && `joined to ${fault.with.join(', ')}`,
    what.includes('area') && `area ${signed(((100 * (gotMm2 - askedMm2)) / askedMm2).toFixed(1))} %`,
    offMm && `off its place by ${offMm.map(micrometres).join(', ')} µm`,
  );
  return [`${asked}, comes out ${size(gotMm)}`, ...more].join('; ');
}

/** Openings that do not come out as asked, a line for those that share a fault. @param name - how an opening is called */
export function faultRows<F extends Fault>(faults: readonly F[], name: (fault: F) => string): string {
  if (faults.length === 0) return '';
  const groupRow = ([first, ...others]: F[]): string =>
    row('', `${name(first)} ${faultText(first)}${likeIt(others.map(name))}`);
  return [
    row('not right', `${count(faults.length, 'opening does', 'openings do')} not come out as asked:`),
    firstRows(alike(faults, name), groupRow, (group) => group.length),
  ].join('');
}

/** A row for each of the first few, and how many more there are. @param sizeOf - so many does one stand for */
export function firstRows<T>(
  all: readonly T[],
  rowOf: (one: T) => string,
  sizeOf: (one: T) => number = () => 1,
): string {
  const more = all.slice(SHOWN).reduce((sum, one) => sum + sizeOf(one), 0);
  const rows = all.slice(0, SHOWN).map(rowOf);
  return [...rows, more > 0 ? row('', `… and ${more} more, all in the .job.json`) : ''].join('');
}

/** What was asked of a part narrower than the kerf, and what it will be. */
export const narrowText = ({ askedMm, comesOutMm }: Pick<NarrowPart, 'askedMm' | 'comesOutMm'>): string =>
  `asked ${size(askedMm)}, comes out ${size(comesOutMm)}`;

/** The same for a table: all numbers of a group, and what is wrong with the first of it. */
export function faultCells<F extends Fault>(faults: readonly F[], name: (fault: F) => string): [string, string][] {
  return alike(faults, name).map((group) => [
    namesTogether(group.map(name)),
    `${group.length > 1 ? 'the first ' : ''}${faultText(group[0])}`,
  ]);
}

const numbersOf = (names: readonly string[]): number[] =>
  names.flatMap((name) => NUMBER.exec(name)?.[0] ?? []).map(Number);

/** Names that differ only in their number, as one: board paste 34-37, 42. */
export function namesTogether(names: readonly string[]): string {
  const numbers = numbersOf(names);
  if (numbers.length === 0) return names.length > 1 ? `${names.length} x ${names[0]}` : names[0];
  return `${names[0].replace(NUMBER, '')}${allRuns(numbers).replaceAll(',', ', ')}`;
}

/** Faults that differ only in the place and the number of the opening. */
function alike<F extends Fault>(faults: readonly F[], name: (fault: F) => string): F[][] {
  const key = (fault: F): string => `${name(fault).replace(NUMBER, '')} ${faultText({ ...fault, at: [0, 0] })}`;
  return [...grouped(faults, key).values()];
}

const NUMBER = /\d+$/;

function likeIt(names: readonly string[]): string {
  if (names.length === 0) return '';
  const numbers = numbersOf(names);
  return `; ${names.length} like it${numbers.length > 0 ? `: ${runsOf(numbers)}` : ''}`;
}

/**
 * Refuses what will not come out as asked, before anything is written.
 *
 * @throws {InputError} NOT_AS_ASKED
 */
export function refuseFaults<F extends Fault>(faults: readonly F[], name: (fault: F) => string): void {
  refuseAll(
    faults.slice(0, SHOWN).map((fault) => ({
      code: 'NOT_AS_ASKED',
      message: `${name(fault)} does not come out as asked (${faultText(fault)}), and --strict was given${faults.length > SHOWN ? `; so it is with ${faults.length - 1} more` : ''}.`,
      hint: 'Give a finer pitch, widen it in the artwork, or leave out --strict.',
    })),
  );
}
