import { Matrix, pseudoInverse } from 'ml-matrix';
import { type DimensionalFeature, vectorOf } from '../../coupon/features.js';
import { KERF_SIGN } from '../../fit/calibration/design.js';
import { bilinear, dot, weightedQr } from '../../fit/linear/weighted-qr.js';
import type { PerAxis, Point } from '../../geometry/types.js';
import { grouped, listIn, present } from '../../kept.js';
import type { MachineModel } from '../../machine/types.js';

/** A length as one picture shows it. */
export interface ScannedLength {
  readonly coupon: string;
  readonly feature: DimensionalFeature;
  readonly lengthMm: number;
  readonly uMm: number;
  /** In the scanner's own axes; a unit vector. */
  readonly direction: readonly [number, number];
}

/** A length that somebody measured with another gauge. */
export interface Reference {
  readonly coupon: string;
  readonly feature: DimensionalFeature;
  readonly readingMm: number;
  readonly uMm: number;
}

/**
 * What the scanner does to lengths: a length in its direction (x, y) is stretched by the factor
 * exp(−(x² eX + y² eY + x y k)); eX, eY and k are small, and `covariance` is theirs. `offsetMm` is what must be added to
 * every opening and taken from every web: how far the level at which an edge is read, or a wall's line, lies from the wall.
 */
export interface ScannerFit {
  readonly strain: readonly [number, number, number];
  readonly covariance: readonly (readonly number[])[];
  readonly offsetMm: number;
  readonly uOffsetMm: number;
  /** The same film was scanned in directions that are far apart, so film and scanner can be told from each other. */
  readonly reversed: boolean;
  /** What of the film these poses leave to what is usual of scanners: `ratio` is that of its two scales. */
  readonly open: readonly ('ratio' | 'shear' | 'bends')[];
  /** Standard uncertainty that the scanner leaves in a film's shear. */
  readonly uShear: number;
  /** A span that the pictures show was measured with another gauge. */
  readonly scaled: boolean;
}

type OfFeature = Pick<ScannedLength, 'coupon' | 'feature'>;

/** Whether both are of one feature of one coupon. */
export const isOf = (one: OfFeature, { coupon, feature }: OfFeature): boolean =>
  one.coupon === coupon && one.feature.id === feature.id;

/** What else the pictures are like. */
export interface SeenBy {
  /** Only the walls' lines showed, so edges have an offset of their own. */
  readonly walls?: boolean;
  /** The pictures don't say their resolution, so lengths are in no known unit. */
  readonly unsized?: boolean;
  /** How far each edge may be off because levels are not light, mm. */
  readonly uToneMm?: number;
}

/** How far a scanner is off as a rule, as nothing else is known: scales by half a percent, the angle by 3 mrad. */
export const USUAL_SCALE = 0.005;
const USUAL_SKEW = 0.003;
/** Edges in pictures of two sides that differ are read this far from the wall, mm: optics, rims, the film's thickness. */
const USUAL_OFFSET_MM = 0.0005;
/** Nobody knows where a wall lies within its line. */
const ANY_OFFSET_MM = 0.05;
/**
 * What two scans of the same length differ by beyond what their edges say, relative: the carriage's motion. So much is
 * usual, and counts for as many lengths as were seen twice; what the pictures themselves show takes its place.
 */
const MOTION = 1e-5;
const MOTION_COUNTS = 4;
const MOST_MOTION = 1e-3;

/**
 * Fits the scanner's two scales and its skew from lengths that it shows in several directions, and from lengths known
 * otherwise. Unknowns: the scanner's strain, and the length of each span by itself, so that a machine with bends is no
 * fault of the scanner. All films move with a scan's turn, the scanner does not: that is how they are told apart (reversal,
 * as in checking a square or a level).
 */
export function fitScanner(
  lengths: readonly ScannedLength[],
  references: readonly Reference[],
  seen: SeenBy = {},
): ScannerFit {
  const spans = lengths.filter(({ feature }) => feature.kind === 'span');
  const scaling = references.filter(
    (reference) => reference.feature.kind === 'span' && spans.some((one) => isOf(one, reference)),
  );
  const motion = motionOf(spans, scaling, seen);
  const { solution, covariance } = strainOf(spans, scaling, seen, motion);
  const strain: [number, number, number] = [solution[0], solution[1], solution[2]];
  return {
    strain,
    covariance,
    ...offsetOf(lengths, references, strain, seen),
    ...poses(spans, covariance),
    scaled: scaling.length > 0,
  };
}

/** Unknowns are the scanner's three; what each span is goes out with the weighted mean of what was seen of it. */
function strainOf(spans: readonly ScannedLength[], scaling: readonly Reference[], { unsized }: SeenBy, motion: number) {
  const priors: readonly SeenSpan[] = [
    { row: [1, 1, 0], value: 0, sd: unsized ? 1 : 2 * USUAL_SCALE },
    { row: [1, -1, 0], value: 0, sd: USUAL_SCALE },
    { row: [0, 0, 1], value: 0, sd: USUAL_SKEW },
  ];
  const groups = [...bySpan(spans, scaling, motion)];
  const told = groups.flatMap((seen) => {
    const weights = seen.map(({ sd }) => 1 / sd ** 2);
    const sum = weights.reduce((a, b) => a + b, 0);
    const mean = (of: (one: SeenSpan) => number): number => dot(weights, seen.map(of)) / sum;
    const middle = [0, 1, 2].map((k) => mean(({ row }) => row[k]));
    const value = mean((one) => one.value);
    return seen.map((one): SeenSpan => {
      return { row: one.row.map((part, k) => part - middle[k]), value: one.value - value, sd: one.sd };
    });
  });
  const all = [...priors, ...told];
  const columns = [0, 1, 2].map((k) => Float64Array.from(all, ({ row, sd }) => row[k] / sd));
  const values = Float64Array.from(all, ({ value, sd }) => value / sd);
  const { solution, inverse } = weightedQr(columns, values, new Float64Array(all.length).fill(1));
  const left = told.map(({ row, value, sd }) => (value - dot(row, solution)) / sd);
  return { solution, covariance: inverse, chi2: dot(left, left), free: told.length - groups.length - solution.length };
}

/** How much motion makes lengths differ between pictures by as much as they do (Paule and Mandel's rule). */
function motionOf(spans: readonly ScannedLength[], scaling: readonly Reference[], seen: SeenBy): number {
  const { free } = strainOf(spans, scaling, seen, MOTION);
  if (free <= 0) return MOTION;
  const tooMuch = (motion: number): boolean => strainOf(spans, scaling, seen, motion).chi2 < free;
  let [low, high] = [0, MOST_MOTION];
  for (let k = 0; k < 14; k += 1) {
    const middle = (low + high) / 2;
    if (tooMuch(middle)) high = middle;
    else low = middle;
  }
  return Math.sqrt((free * low ** 2 + MOTION_COUNTS * MOTION ** 2) / (free + MOTION_COUNTS));
}

/** A laser's scales and shear stay within this from job to job, relative. */
const MACHINE_STAYS = 5e-4;

/** Farther along an axis is what lies aside from it by so much less. */
const ASIDE = 3;
/** How well the distance of two openings is seen by their middles, mm, and for how many of them. */
const MIDDLES_MM = 0.01;
const MOST_MIDDLES = 40;

/**
 * Lengths of a stencil by the middles of its openings, from each to the farthest one, also along X and along Y: where no span
 * can be read edge by edge.
 *
 * @param seen - middles as commanded, mm, and in the picture, pixels
 */
export function lengthsBetween(seen: readonly (readonly [Point, Point])[], dots: PerAxis): ScannedLength[] {
  const step = Math.max(1, Math.ceil(seen.length / MOST_MIDDLES));
  const ways = [[1, 1], [1, -ASIDE], [-ASIDE, 1]] as const; // biome-ignore format: along both, X, Y
  const lengths = seen.flatMap(([from, start], i) => {
    if (i % step !== 0) return [];
    return ways.map(([alongX, alongY]): ScannedLength => {
      const far = ([[x, y]]: readonly [Point, Point]): number => alongX * Math.abs(x - from[0]) + alongY * Math.abs(y - from[1]); // biome-ignore format: one thought
      const j = seen.reduce((best, one, k) => (far(one) > far(seen[best]) ? k : best), 0);
      const [to, end] = seen[j];
      const [x, y] = [(end[0] - start[0]) / dots.x, (end[1] - start[1]) / dots.y];
      const lengthMm = Math.hypot(x, y);
      const nominalMm = Math.hypot(to[0] - from[0], to[1] - from[1]);
      const feature = { id: [Math.min(i, j), Math.max(i, j)].join(), kind: 'span', nominalMm, from, to, say: '' } as const; // biome-ignore format: one line
      return { coupon: 'middles', feature, lengthMm, uMm: MIDDLES_MM, direction: [x / lengthMm, y / lengthMm] };
    });
  });
  return [...new Map(lengths.map((one) => [one.feature.id, one])).values()].filter(({ lengthMm }) => lengthMm > 0);
}

/**
 * The scanner as the spans of a finished stencil show it: of those is known what they measure as long as the laser is what
 * it was. So a laser's own scale can't be followed by it, its kerf can.
 */
export function fitScannerToStencil(
  lengths: readonly ScannedLength[],
  { scaleX, scaleY, shear }: Pick<MachineModel, 'scaleX' | 'scaleY' | 'shear'>,
  seen: SeenBy,
): ScannerFit {
  const spans = lengths.filter(({ feature }) => feature.kind === 'span');
  const references = spans.map(({ coupon, feature }): Reference => {
    const { dx, dy } = vectorOf(feature);
    const readingMm = Math.hypot(scaleX * dx + shear * dy, scaleY * dy);
    // One laser: many spans know no more of it than one does.
    return { coupon, feature, readingMm, uMm: readingMm * MACHINE_STAYS * Math.sqrt(spans.length) };
  });
  return fitScanner(lengths, references, seen);
}

/** One span as one picture or another gauge shows it: value = log of its length − row · strain. */
interface SeenSpan {
  readonly row: readonly number[];
  readonly value: number;
  readonly sd: number;
}

function bySpan(
  spans: readonly ScannedLength[],
  references: readonly Reference[],
  motion: number,
): Iterable<readonly SeenSpan[]> {
  const groups = new Map<string, SeenSpan[]>();
  const add = ({ coupon, feature }: OfFeature, mm: number, row: readonly number[], sd: number): void => {
    listIn(groups, `${coupon} ${feature.id}`).push({ row, value: Math.log(mm / feature.nominalMm), sd });
  };
  for (const one of spans) {
    const row = stretchRow(one.direction).map((part) => -part);
    add(one, one.lengthMm, row, Math.hypot(one.uMm / one.lengthMm, motion));
  }
  for (const one of references) add(one, one.readingMm, [0, 0, 0], one.uMm / one.readingMm);
  return groups.values();
}

/** What a length of the scanner is on the film, mm. */
export function trueLength(
  lengthMm: number,
  direction: readonly [number, number],
  { strain }: Pick<ScannerFit, 'strain'>,
): number {
  return lengthMm * Math.exp(dot(stretchRow(direction), strain));
}

/** Standard uncertainty of the scanner's scale in a direction, relative. */
export function scaleUncertainty([x, y]: readonly [number, number], { covariance }: ScannerFit): number {
  const row = stretchRow([x, y]);
  return Math.sqrt(bilinear(row, covariance, row));
}

function offsetOf(
  lengths: readonly ScannedLength[],
  references: readonly Reference[],
  strain: readonly [number, number, number],
  { walls, uToneMm = 0 }: SeenBy,
): Pick<ScannerFit, 'offsetMm' | 'uOffsetMm'> {
  // A bent tone moves both edges of an opening outwards alike.
  const prior = walls ? ANY_OFFSET_MM : Math.hypot(USUAL_OFFSET_MM, 2 * uToneMm);
  let [sum, weight] = [0, 1 / prior ** 2];
  for (const reference of references) {
    const { feature, readingMm, uMm } = reference;
    // Several pictures of one opening don't make one caliper reading better.
    const found = lengths.find((one) => isOf(one, reference));
    if (feature.kind === 'span' || !found) continue;
    const sign = KERF_SIGN[feature.kind];
    const w = 1 / (uMm ** 2 + found.uMm ** 2);
    sum += w * sign * (readingMm - trueLength(found.lengthMm, found.direction, { strain }));
    weight += w;
  }
  return { offsetMm: sum / weight, uOffsetMm: Math.sqrt(1 / weight) };
}

/** Known to this share of what is usual of scanners, the film's numbers are told by its pictures. */
const TOLD = 0.05;

/**
 * What the poses of the films can tell. Turned by θ, a film shows what the scanner's axes differ by, and its skew, by 2 sin θ;
 * one that is upside down in one picture shows only one combination of the two, whatever its angle: turned by 90 degrees
 * as well, the skew stays as it is and looks like a shear of the film. So no pose is judged by itself, but by what the
 * scanner's doubt comes to in the film's own axes.
 */
function poses(
  spans: readonly ScannedLength[],
  covariance: readonly (readonly number[])[],
): Pick<ScannerFit, 'reversed' | 'open' | 'uShear'> {
  const films = [...grouped(spans, ({ coupon }) => coupon).values()];
  const doubts = films.map((film) => doubtsOf([[1, -1, 0], [0, 0, 1]], film, covariance)); // biome-ignore format: one call
  const [uRatio, uShear] = [0, 1].map((k) => Math.max(0, ...doubts.map((own) => own[k])));
  if (!isTurned(spans)) return { reversed: false, open: ['ratio', 'shear', 'bends'], uShear };
  const open = present(
    uRatio > TOLD * USUAL_SCALE && ('ratio' as const),
    uShear > TOLD * USUAL_SKEW && ('shear' as const),
  );
  return { reversed: open.length === 0, open, uShear };
}

/** What the scanner's doubt comes to in combinations of a film's eX, eY and k; nothing where its spans don't show one. */
function doubtsOf(
  combinations: readonly (readonly number[])[],
  spans: readonly ScannedLength[],
  covariance: readonly (readonly number[])[],
): number[] {
  const onGlass = new Matrix(spans.map(({ direction }) => stretchRow(direction)));
  const onFilm = new Matrix(
    spans.map(({ feature }) => {
      const { dx, dy } = vectorOf(feature);
      return stretchRow([dx / Math.hypot(dx, dy), dy / Math.hypot(dx, dy)]);
    }),
  );
  const toFilm = pseudoInverse(onFilm);
  const known = new Matrix(covariance.map((row) => [...row]));
  return combinations.map((ofFilm) => {
    const told = Matrix.rowVector([...ofFilm]).mmul(toFilm);
    if (Matrix.sub(told.mmul(onFilm), Matrix.rowVector([...ofFilm])).norm() > 0.1) return 0;
    const looksLike = told.mmul(onGlass);
    return Math.sqrt(Math.max(0, looksLike.mmul(known).dot(looksLike)));
  });
}

/** By how much eX, eY and k stretch a direction. */
const stretchRow = ([x, y]: readonly [number, number]): [number, number, number] => [x * x, y * y, x * y];

/** Two pictures of one span lie more than 45 degrees apart. */
function isTurned(spans: readonly ScannedLength[]): boolean {
  const first = new Map<string, readonly [number, number]>();
  return spans.some(({ coupon, feature, direction }) => {
    const key = `${coupon} ${feature.id}`;
    const other = first.get(key);
    if (!other) first.set(key, direction);
    return other !== undefined && Math.abs(other[0] * direction[0] + other[1] * direction[1]) < Math.SQRT1_2;
  });
}
