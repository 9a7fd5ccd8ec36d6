import { InputError, type Warning } from '../errors.js';
import { regionBounds } from '../geometry/bounds.js';
import { cleanOpenings, requireOpenings } from '../geometry/clean.js';
import type { Box, Opening, OpeningTag, Point } from '../geometry/types.js';
import { limited } from '../geometry/work-budget.js';
import { checkGiven, someNumber, someText, type Want } from '../given.js';
import { kept, present } from '../kept.js';
import { tellHowFar } from '../work-watch.js';
import { type Finding, type FindingContext, margin, openingFindings, openingRatios } from './check-opening.js';
import { type Film, type FilmOptions, filmOf } from './film.js';
import { groupOpenings, type OpeningGroup } from './group.js';
import { choosePaste, DEFAULT_LIMITS, type Limits, type Paste } from './limits.js';
import { createMeasurer, type Measure } from './measure.js';
import { nearestWebs } from './webs.js';

/** What a check needs to know besides the openings. */
export interface CheckOptions extends FilmOptions {
  /** Paste by its powder type, default `type4`. */
  readonly paste?: string;
  /** Default `SAC305`. */
  readonly alloy?: string;
  /** Metal by weight, percent; default from the limits. */
  readonly metalPercent?: number;
  /** Default: those of `patterns/limits.json`. */
  readonly limits?: Limits;
  /** Boards to print, default 1. */
  readonly boards?: number;
}

/** One opening, measured and judged. */
export interface OpeningCheck {
  /** Counting from 1, in the order of the artwork. */
  readonly number: number;
  readonly centre: Point;
  /** In its own frame, mm. */
  readonly widthMm: number;
  readonly heightMm: number;
  readonly angleDeg: number;
  /** Upright box around it, mm. */
  readonly box: Box;
  readonly shape: Measure['shape'];
  readonly narrowestMm: number;
  readonly areaMm2: number;
  readonly perimeterMm: number;
  readonly areaRatio: number;
  /** Only where the length exceeds about five widths. */
  readonly aspectRatio?: number;
  /** Film to the nearest opening, mm; undefined for a lone opening. */
  readonly webMm?: number;
  /** Number of the nearest opening. */
  readonly webTo?: number;
  readonly ownWebMm?: number;
  /** Paste that fills it, mm³ and mg, all of it released. */
  readonly pasteMm3: number;
  readonly pasteMg: number;
  readonly verdict: 'pass' | 'fail';
  /** Every rule that was held against it, worst first. */
  readonly findings: readonly Finding[];
  /** Smallest of value over limit; below 1 when it fails. */
  readonly margin: number;
  readonly component?: string;
  readonly pin?: string;
  readonly tag?: OpeningTag;
}

/** Sums over the whole stencil. */
export interface CheckTotals {
  readonly openings: number;
  readonly passed: number;
  readonly failed: number;
  /** Passed, but with a figure near its limit. */
  readonly near: number;
  readonly areaMm2: number;
  readonly pasteMm3: number;
  readonly pasteG: number;
  readonly boards: number;
  readonly boardsPasteMm3: number;
  readonly boardsPasteG: number;
}

export interface CheckResult {
  /** In the order of the artwork. */
  readonly openings: readonly OpeningCheck[];
  readonly groups: readonly OpeningGroup[];
  readonly totals: CheckTotals;
  readonly basis: {
    readonly thicknessMm: number;
    readonly paste: Paste;
    readonly limits: Limits;
    readonly minOpeningMm?: number;
    readonly minWebMm?: number;
  };
  /** What the figures rest on, as sentences. */
  readonly notes: readonly string[];
  readonly warnings: readonly Warning[];
}

const NOTES = [
  'The area and aspect ratio limits were found on metal foil. Cut plastic has rougher walls and releases worse: take a bare pass as doubtful.',
  'Paste figures take every opening as filled and fully released; less is left on the board where a ratio is near its limit.',
];

/** Names and numbers that are possible the limits say. */
const CHECK_OPTIONS: { readonly [key in keyof CheckOptions]?: Want } = {
  thicknessMm: someNumber,
  paste: someText,
  alloy: someText,
  metalPercent: someNumber,
  boards: someNumber,
};

/**
 * Holds every opening of a stencil against the rules of the trade and, if given, against what the laser can do.
 *
 * @param openings - mm; their position + 1 is their number
 * @throws {InputError} TOO_MUCH for openings that take more than all reason; BAD_OPENING, THICKNESS, BOARDS, PASTE_UNKNOWN, ALLOY_UNKNOWN, METAL_PERCENT
 * @remarks Exact polygon geometry; about n log n for a usual board.
 * @example checkOpenings(artwork.openings, { thicknessMm: 0.1, paste: 'type4' }).totals.failed
 */
export function checkOpenings(openings: readonly Opening[], options: CheckOptions): CheckResult {
  checkGiven('options', options, CHECK_OPTIONS);
  requireOpenings(openings);
  return limited(openings, () => checked(openings, options));
}

function checked(given: readonly Opening[], options: CheckOptions): CheckResult {
  const { limits = DEFAULT_LIMITS, boards = 1 } = options;
  const film = filmOf(options);
  const { thicknessMm } = film;
  if (!(Number.isFinite(boards) && boards > 0)) {
    const message = `expected the number of boards, a number above 0, found ${boards}.`;
    throw new InputError({ code: 'BOARDS', message, hint: 'For example 10.' });
  }
  const { openings, warnings } = cleanOpenings(given);
  const paste = choosePaste(limits, { type: options.paste, alloy: options.alloy, metalPercent: options.metalPercent });
  const measurer = createMeasurer();
  const measures = openings.map((opening, i) => {
    tellHowFar('measuring', i, openings.length);
    return measurer(opening);
  });
  const webs = nearestWebs(openings);
  const judge = judgeOnce({ ...film, limits, paste });
  const checks = openings.map((opening, i): OpeningCheck => {
    tellHowFar('checking', i, openings.length);
    const measure = measures[i];
    const web = webs[i];
    const { ratios, findings, ...judged } = judge(measure, web?.distanceMm, opening.islands.length);
    const pasteMm3 = measure.areaMm2 * thicknessMm;
    return {
      number: i + 1,
      centre: measure.centre,
      widthMm: measure.widthMm,
      heightMm: measure.heightMm,
      angleDeg: measure.angleDeg,
      box: regionBounds(opening),
      shape: measure.shape,
      narrowestMm: measure.narrowestMm,
      areaMm2: measure.areaMm2,
      perimeterMm: measure.perimeterMm,
      ...ratios,
      webMm: web?.distanceMm,
      webTo: web && web.q + 1,
      ownWebMm: measure.ownWebMm,
      pasteMm3,
      // 1 g/cm3 is 1 mg/mm3.
      pasteMg: pasteMm3 * paste.densityGPerCm3,
      verdict: judged.verdict,
      findings,
      margin: judged.margin,
      component: opening.tag?.component,
      pin: opening.tag?.pin,
      tag: opening.tag,
    };
  });
  return {
    openings: checks,
    groups: groupOpenings(openings, measures, webs),
    totals: totalsOf(checks, boards),
    basis: { ...film, paste, limits },
    notes: notesFor(film),
    warnings,
  };
}

/** Holds openings against the rules; those of equal figures share one answer, for a board has few sizes and many pads. */
function judgeOnce(context: FindingContext) {
  const judge = (measure: Measure, webMm: number | undefined, islands: number) => {
    const ratios = openingRatios(measure, context.thicknessMm, context.limits);
    const findings = openingFindings(measure, ratios, webMm, islands, context);
    findings.sort((p, q) => Number(p.passes) - Number(q.passes) || margin(p) - margin(q));
    const verdict = findings.every(({ passes }) => passes) ? ('pass' as const) : ('fail' as const);
    return { ratios, findings, verdict, margin: Math.min(...findings.map(margin)) };
  };
  const known = new Map<string, ReturnType<typeof judge>>();
  return (measure: Measure, webMm: number | undefined, islands: number) => {
    const { areaMm2, perimeterMm, lengthMm, narrowestMm, ownWebMm } = measure;
    const key = [areaMm2, perimeterMm, lengthMm, narrowestMm, ownWebMm, webMm, islands].join();
    return kept(known, key, () => judge(measure, webMm, islands));
  };
}

/** The checks in the order in which they deserve a look: failed before passed, smallest margin first. */
export function worstFirst(checks: readonly OpeningCheck[]): OpeningCheck[] {
  const rank = (check: OpeningCheck): number => (check.verdict === 'fail' ? 0 : 1);
  return [...checks].sort((p, q) => rank(p) - rank(q) || p.margin - q.margin || p.number - q.number);
}

function totalsOf(checks: readonly OpeningCheck[], boards: number): CheckTotals {
  const sum = (of: (check: OpeningCheck) => number): number => checks.reduce((total, check) => total + of(check), 0);
  const pasteMm3 = sum((check) => check.pasteMm3);
  const pasteG = sum((check) => check.pasteMg) / 1000;
  return {
    openings: checks.length,
    passed: sum(({ verdict }) => (verdict === 'pass' ? 1 : 0)),
    failed: sum(({ verdict }) => (verdict === 'fail' ? 1 : 0)),
    near: sum(({ verdict, findings }) => (verdict === 'pass' && findings.some(({ near }) => near) ? 1 : 0)),
    areaMm2: sum((check) => check.areaMm2),
    pasteMm3,
    pasteG,
    boards,
    boardsPasteMm3: pasteMm3 * boards,
    boardsPasteG: pasteG * boards,
  };
}

function notesFor({ minOpeningMm, minWebMm, smallestOpenedMm, smallestStoodMm }: Film): string[] {
  const openedAll = minOpeningMm === undefined && smallestOpenedMm !== undefined;
  const stoodAll = minWebMm === undefined && smallestStoodMm !== undefined;
  const missing = present(
    minOpeningMm === undefined && !openedAll && 'smallest opening',
    minWebMm === undefined && !stoodAll && 'smallest web',
  );
  return present(
    ...NOTES,
    openedAll && `The smallest opening cut, ${smallestOpenedMm} mm, still opened; the limit lies below it.`,
    stoodAll && `The thinnest web cut, ${smallestStoodMm} mm, still stood; the limit lies below it.`,
    missing.length > 0 &&
      `No ${missing.join(' and no ')} of the laser was given: a profile with readings of an aperture ladder says what this laser opens and what stands.`,
  );
}
