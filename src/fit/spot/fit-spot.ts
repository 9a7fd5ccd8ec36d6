import { demand, type Warning } from '../../errors.js';
import { present } from '../../kept.js';
import { threeDigits } from '../../text.js';
import { leastSquares } from '../linear/least-squares.js';
import { bilinear } from '../linear/weighted-qr.js';
import { mean } from '../statistics/averages.js';
import { studentQuantile, studentTwoSided } from '../statistics/distributions.js';

/** The kerf cut at one setting. */
export interface SpotPoint {
  readonly powerPercent: number;
  readonly speedMmS: number;
  readonly kerfMm: number;
  /** Standard uncertainty of the kerf; give it for all points or for none. */
  readonly stdUncertaintyMm?: number;
  /** What to call the point in messages; default its power and speed. */
  readonly label?: string;
}

export interface SpotOptions {
  /** Beam power at 100 %, W: gives the threshold in J/mm too. */
  readonly fullPowerW?: number;
  /** Across which axis the kerfs were read, for the words only. */
  readonly axis?: 'x' | 'y';
}

export interface SpotResult {
  /** 1/e² radius of the beam across the cut, mm. */
  readonly spotRadiusMm: number;
  readonly stdUncertaintyRadiusMm: number;
  readonly radiusInterval95Mm: readonly [number, number];
  /** Line energy below which nothing is cut: percent of full power per mm/s, %·s/mm. */
  readonly threshold: number;
  readonly stdUncertaintyThreshold: number;
  readonly thresholdInterval95: readonly [number, number];
  /** The same in J/mm when the full power is known. */
  readonly thresholdJMm?: number;
  readonly stdUncertaintyThresholdJMm?: number;
  /** Of (spotRadiusMm, ln threshold). */
  readonly covariance: readonly (readonly number[])[];
  /** kerf − law, mm, one per point used. */
  readonly residualsMm: readonly number[];
  readonly residualSdMm: number;
  readonly dof: number;
  readonly rSquared: number;
  /** Numbers (from 1) of the points used. */
  readonly used: readonly number[];
  readonly leftOut: readonly { readonly number: number; readonly reason: string }[];
  /** Two-sided p of a quadratic term in ln(P/v): small when the points do not lie on a straight line. */
  readonly curvaturePValue?: number;
  readonly warnings: readonly Warning[];
  /** Kerf at a line energy by the law; 0 below the threshold. */
  readonly kerfAt: (powerPercent: number, speedMmS: number) => number;
}

/** The law holds for cuts up to about 2.5 spot radii (common practice); beyond, heat flow decides. */
const WIDEST_IN_RADII = 2.5;
const FEWEST_POINTS = 3;

/**
 * Spot radius and threshold from the kerfs of ladders cut at several settings, by the law of a moving Gaussian beam:
 * kerf² = 2 w0² ln[(P/v) / (P/v)th], a straight line in ln(P/v). Works per axis: kerfs across X give the radius across X.
 *
 * @param points - at least 3 with at least 2 different P/v; power in percent, speed in mm/s, kerf in mm
 * @returns radius and threshold with standard uncertainties (first-order propagation from the line) and 95 % intervals (Student's t
 *   for the slope, Fieller's for the threshold); which points were
 *   left out and why: kerfs that are not positive or below their own uncertainty, or wider than 2.5 radii
 * @throws {InputError} SETTING_NOT_POSITIVE, NOT_FINITE, UNCERTAINTY_NOT_POSITIVE, TOO_FEW_POINTS, ONE_LINE_ENERGY,
 *   SLOPE_NOT_POSITIVE, SLOPE_NOT_SURE
 * @remarks Straight-line least squares on kerf²; weights from the kerfs' uncertainty when given (u(W²) = 2 W u(W), W from
 *   the law, not the reading, so that low readings don't get more say), else equal weights on kerf².
 *   Sources: J. M. Liu, Opt. Lett. 7 (1982) 196–198 for pulses; the same slope follows for a moving beam by integrating
 *   its dose along the scan (derived). Limits: thermal, thick or several-pass cuts depart from it; look at the residuals.
 * @example fitSpot([20, 30, 50, 80].map((powerPercent) => ({ powerPercent, speedMmS: 10, kerfMm: 0.1 * Math.sqrt(Math.log(powerPercent / 10) / 2) }))).spotRadiusMm // 0.05
 */
export function fitSpot(points: readonly SpotPoint[], options: SpotOptions = {}): SpotResult {
  requireGoodPoints(points);
  const leftOut: { number: number; reason: string }[] = [];
  const leave = (i: number, why: string): void => {
    leftOut.push({ number: i + 1, reason: `${nameOf(points[i])}: kerf ${points[i].kerfMm.toFixed(3)} mm is ${why}.` });
  };
  const isReadable = ({ kerfMm, stdUncertaintyMm = 0 }: SpotPoint): boolean => kerfMm > stdUncertaintyMm;
  let used = [...points.keys()].filter((i) => isReadable(points[i]));
  for (const i of points.keys()) if (!isReadable(points[i])) leave(i, 'not larger than its own uncertainty');
  for (;;) {
    const line = fitLine(points, used);
    const limit = WIDEST_IN_RADII * Math.sqrt(line.slope / 2);
    const widest = used.reduce((a, b) => (points[b].kerfMm > points[a].kerfMm ? b : a));
    if (points[widest].kerfMm <= limit || used.length <= FEWEST_POINTS)
      return describe(points, used, line, leftOut, options);
    leave(widest, `wider than ${WIDEST_IN_RADII} spot radii (${limit.toFixed(3)} mm), where the law no longer holds`);
    used = used.filter((i) => i !== widest);
  }
}

type Line = ReturnType<typeof fitLine>;

function lineEnergy(point: SpotPoint): number {
  return point.powerPercent / point.speedMmS;
}

function nameOf(point: SpotPoint): string {
  return point.label ?? `${threeDigits(point.powerPercent)} %, ${threeDigits(point.speedMmS)} mm/s`;
}

/** kerf² = intercept + slope · (ln(P/v) − centre), mm². */
function fitLine(points: readonly SpotPoint[], used: readonly number[]) {
  const few = `expected at least ${FEWEST_POINTS} readable kerfs, found ${used.length}.`;
  demand(used.length >= FEWEST_POINTS, 'TOO_FEW_POINTS', few, 'Cut ladders at more settings.');
  const logs = used.map((i) => Math.log(lineEnergy(points[i])));
  const spread = Math.max(...logs) - Math.min(...logs);
  const one = 'all kerfs were cut at the same power/speed ratio.';
  demand(spread > 1e-6, 'ONE_LINE_ENERGY', one, 'Cut at least two, better five, different ratios.');
  const centre = mean(logs);
  const rows = logs.map((value) => [1, value - centre]);
  const squares = used.map((i) => points[i].kerfMm ** 2);
  let fit = leastSquares(rows, squares);
  let weights: number[] | undefined;
  if (points[used[0]].stdUncertaintyMm !== undefined) {
    for (let round = 0; round < 3; round++) {
      weights = used.map((i, k) => {
        const u = points[i].stdUncertaintyMm!;
        return 1 / (4 * Math.max(fit.fitted[k], u * u) * u * u);
      });
      fit = leastSquares(rows, squares, { weights });
    }
  }
  const [intercept, slope] = fit.coefficients;
  const falls = 'the kerf does not grow with power/speed, so no spot size follows.';
  demand(slope > 0, 'SLOPE_NOT_POSITIVE', falls, 'Check that each kerf stands with its own setting.');
  // With known uncertainties a scatter smaller than they say is luck: keep theirs.
  const scale = weights ? 1 / Math.min(1, fit.residualSd) ** 2 : 1;
  return {
    intercept,
    slope,
    centre,
    covariance: fit.covariance.map((row) => row.map((value) => (fit.residualSd > 0 ? value * scale : value))),
    dof: fit.dof,
    rSquared: fit.rSquared,
    weights,
    /** The covariance comes from the stated uncertainties and not from the scatter. */
    covarianceFromStated: weights !== undefined && fit.residualSd <= 1,
  };
}

function describe(
  points: readonly SpotPoint[],
  used: readonly number[],
  line: Line,
  leftOut: readonly { number: number; reason: string }[],
  options: SpotOptions,
): SpotResult {
  const { intercept, slope, centre } = line;
  const radius = Math.sqrt(slope / 2);
  const logThreshold = centre - intercept / slope;
  const threshold = Math.exp(logThreshold);
  // d radius = d slope / (4 radius); d ln threshold = −d intercept / slope + intercept d slope / slope².
  const jacobian = [
    [0, 1 / (4 * radius)],
    [-1 / slope, intercept / slope ** 2],
  ];
  const covariance = jacobian.map((a) => jacobian.map((b) => bilinear(a, line.covariance, b)));
  // When the scatter is no more than the stated uncertainties, these are what is known, and they count as exact.
  const t = studentQuantile(0.05, line.covarianceFromStated ? Number.POSITIVE_INFINITY : line.dof);
  const uSlope = Math.sqrt(line.covariance[1][1]);
  const most = 1000 * Math.sqrt((slope + t * uSlope) / 2);
  demand(
    slope > t * uSlope,
    'SLOPE_NOT_SURE',
    `these ${used.length} kerfs grow with power/speed by no more than they scatter: the spot radius may be anything up to ${Number(most.toPrecision(2))} µm (95 %), the threshold anything.`,
    'Cut ladders at more settings, and at ratios of power to speed that lie further apart.',
  );
  const [uRadius, uLog] = [Math.sqrt(covariance[0][0]), Math.sqrt(covariance[1][1])];
  const kerfAt = (powerPercent: number, speedMmS: number): number =>
    Math.sqrt(Math.max(0, slope * (Math.log(powerPercent / speedMmS) - logThreshold)));
  const residualsMm = used.map((i) => points[i].kerfMm - kerfAt(points[i].powerPercent, points[i].speedMmS));
  const inJoules = (value: number): number | undefined => options.fullPowerW && (value * options.fullPowerW) / 100;
  const curvaturePValue = curvatureP(points, used, line);
  return {
    spotRadiusMm: radius,
    stdUncertaintyRadiusMm: uRadius,
    radiusInterval95Mm: [Math.sqrt((slope - t * uSlope) / 2), Math.sqrt((slope + t * uSlope) / 2)],
    threshold,
    stdUncertaintyThreshold: threshold * uLog,
    thresholdInterval95: crossing(line, t).map((offset) => Math.exp(centre + offset)) as [number, number],
    thresholdJMm: inJoules(threshold),
    stdUncertaintyThresholdJMm: inJoules(threshold * uLog),
    covariance,
    residualsMm,
    residualSdMm: Math.sqrt(residualsMm.reduce((sum, value) => sum + value ** 2, 0) / line.dof),
    dof: line.dof,
    rSquared: line.rSquared,
    used: used.map((i) => i + 1),
    leftOut,
    curvaturePValue,
    warnings: warningsOf(points, used, radius, curvaturePValue, leftOut, options),
    kerfAt,
  };
}

/**
 * Between what ends, as ln(P/v) from the centre, the line crosses zero: exact for a line that is surely not flat.
 * Source: E. C. Fieller, J. R. Statist. Soc. B 16 (1954) 175-185.
 */
function crossing({ intercept, slope, covariance }: Line, t: number): [number, number] {
  const a = slope ** 2 - t * t * covariance[1][1];
  const b = intercept * slope - t * t * covariance[0][1];
  const c = intercept ** 2 - t * t * covariance[0][0];
  const root = Math.sqrt(Math.max(0, b * b - a * c));
  return [(-b - root) / a, (-b + root) / a];
}

/** Does a parabola in ln(P/v) fit better than the line? */
function curvatureP(points: readonly SpotPoint[], used: readonly number[], line: Line): number | undefined {
  const offsets = used.map((i) => Math.log(lineEnergy(points[i])) - line.centre);
  if (used.length < 5 || new Set(offsets.map((value) => value.toFixed(9))).size < 3) return undefined;
  const fit = leastSquares(
    offsets.map((value) => [1, value, value * value]),
    used.map((i) => points[i].kerfMm ** 2),
    { weights: line.weights },
  );
  const ratio = fit.coefficients[2] / fit.standardErrors[2];
  // A parabola in exact numbers is rounding, whatever its ratio to the (also rounded) scatter.
  const tiny = Math.abs(fit.coefficients[2]) < 1e-9 * line.slope;
  return Number.isFinite(ratio) && !tiny ? studentTwoSided(ratio, fit.dof) : undefined;
}

function warningsOf(
  points: readonly SpotPoint[],
  used: readonly number[],
  radius: number,
  curvature: number | undefined,
  leftOut: readonly { number: number; reason: string }[],
  options: SpotOptions,
): Warning[] {
  const where = options.axis ? ` across ${options.axis.toUpperCase()}` : '';
  const wide = used.filter((i) => points[i].kerfMm > WIDEST_IN_RADII * radius);
  return present<Warning>(
    ...leftOut.map(({ reason }) => ({ code: 'POINT_LEFT_OUT', message: `left out${where}: ${reason}` })),
    wide.length > 0 && {
      code: 'BEYOND_THE_LAW',
      message: `${wide.length} of the kerfs used${where} are wider than ${WIDEST_IN_RADII} spot radii, where the law no longer holds.`,
      hint: 'Cut ladders at less power or more speed too; take radius and threshold as rough until then.',
    },
    curvature !== undefined &&
      curvature < 0.01 && {
        code: 'NOT_STRAIGHT',
        message: `kerf²${where} does not follow a straight line in ln(power/speed) (p = ${curvature.toPrecision(2)}).`,
        hint: 'Real power is seldom linear in the command value: keep one power and vary the speed.',
      },
  );
}

function requireGoodPoints(points: readonly SpotPoint[]): void {
  const without = points.filter(({ stdUncertaintyMm }) => stdUncertaintyMm === undefined).length;
  const isMixed = without !== 0 && without !== points.length;
  demand(!isMixed, 'UNCERTAINTY_MISSING', `${without} of ${points.length} kerfs have no uncertainty.`, 'Give it for all of them or for none.'); // biome-ignore format: one call
  for (const point of points) {
    const { powerPercent, speedMmS, kerfMm, stdUncertaintyMm: u = 1 } = point;
    const isSet = powerPercent > 0 && speedMmS > 0 && Number.isFinite(powerPercent / speedMmS);
    demand(isSet, 'SETTING_NOT_POSITIVE', `expected power and speed > 0, found ${nameOf(point)}.`, 'Correct the setting.'); // biome-ignore format: one call
    demand(Number.isFinite(kerfMm), 'NOT_FINITE', `expected a kerf in mm, found ${kerfMm}.`, 'Correct it.');
    demand(u > 0, 'UNCERTAINTY_NOT_POSITIVE', `expected an uncertainty > 0, found ${u}.`, 'Correct or omit it.');
  }
}
