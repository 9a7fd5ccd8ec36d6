import type { Warning } from '../../errors.js';
import { ringBounds } from '../../geometry/bounds.js';
import { type Added, addedTo, bilinear } from '../linear/weighted-qr.js';
import { rms } from '../statistics/averages.js';
import { chanceWords, fisherUpper, studentQuantile } from '../statistics/distributions.js';
import type { Design, Term } from './design.js';
import { withFreeZero, zeroTerm } from './determined.js';
import { type Candidate, um } from './fault-candidate.js';
import { barrel, belts, bent, slips } from './field-faults.js';
import { kerfAcross, narrowPieces, otherSettings, shapes } from './kerf-faults.js';
import type { Observation } from './observations.js';
import { coarseGauges } from './rounded-readings.js';
import { invertSymmetric } from './scatter.js';
import { type WeightedFit, weightedFit } from './weighted-fit.js';

/** One thing that machines do and the five numbers don't hold, looked for in the readings. */
export interface FaultTest {
  readonly code: string;
  /** What was looked for, in words. */
  readonly name: string;
  readonly f: number;
  /** For this one alone, all that was tried for it counted. */
  readonly p: number;
  readonly found: boolean;
  readonly sentence: string;
}

export type FaultSearch = ReturnType<typeof findFaults>;

/** Shapes that explain the readings at most so many times less likely than the best one are named beside it. */
const NEARLY_AS_LIKELY = 30;
/** Of shapes by which the readings are about as likely (less than twice) chance decides. */
const ALIKE = 1;
/** A fault is seen in nine cases of ten when it is larger than the limit by so many standard deviations. */
const NINE_IN_TEN = 1.2816;
/** Chance that a machine without a fault is said to have one, all tests together. */
const FALSE_ALARM = 0.012;
/** Fewer degrees of freedom tell nothing of what the model leaves over. */
const LEAST_DOF = 4;
/** A machine with more faults than this is better described by none of them. */
const MOST_FAULTS = 3;

type Tested = ReturnType<typeof tested>;

interface Found extends Tested {
  /** What describes the readings nearly as well, by name. */
  readonly or: readonly string[];
}

/**
 * Looks for faults of the machine: each is a few columns added to the model, tested by an F test of what they add, with
 * the noise of each gauge estimated anew. Holm's rule over all of them; then again with the one that was found.
 *
 * @param zeros - gauges whose zero is held near 0: whether it is off by more is looked at beside the faults, or waves would stand for it
 * Source: N. R. Draper, H. Smith, Applied Regression Analysis, 2nd ed. (1981), 2.7 (extra sum of squares); S. Holm,
 * Scand. J. Statist. 6 (1979) 65-70.
 */
export function findFaults(clean: WeightedFit, zeros: readonly string[]) {
  const lengths = clean.design.lengths as readonly Observation[];
  const faults = candidatesFor(lengths);
  const candidates = [...zeros.map((name) => [zeroOf(lengths, name)]), ...faults.map(shown)].filter(
    (choices) => choices.length > 0,
  );
  let base = clean;
  let tests: FaultTest[] = [];
  const found: Found[] = [];
  while (clean.dof >= LEAST_DOF && found.length < MOST_FAULTS) {
    const tells = tellsBeside(base);
    const all = candidates
      .filter(([{ gauge }]) => gauge === undefined || !found.some(({ candidate }) => candidate.gauge === gauge))
      .flatMap((choices) => testOne(choices, base, tells) ?? [])
      .sort((a, b) => a.p - b.p);
    // Of faults beyond chance the likeliest: a slip has fewer columns than a wave, and so by chance alone is always rarer.
    const sure = all.filter((one) => one.p * all.length < FALSE_ALARM && isWorthTelling(one));
    const most = Math.max(...sure.map(({ evidence }) => evidence));
    const best = sure.find(({ evidence }) => evidence > most - ALIKE);
    if (found.length === 0) tests = all.map((one) => described(one, one === best));
    else if (best) tests = tests.map((test) => (test.code === best.candidate.code ? described(best, true) : test));
    if (!best) break;
    const least = best.evidence - 2 * Math.log(NEARLY_AS_LIKELY);
    const or = sure.filter(({ candidate, evidence }) => candidate !== best.candidate && evidence > least && !candidate.gauge); // biome-ignore format: one thought
    found.push({ ...best, or: or.map(({ candidate }) => candidate.name) });
    base = best.fit;
  }
  const ofMachine = found.filter(({ candidate }) => candidate.gauge === undefined);
  const tells = tellsBeside(base);
  return {
    tests,
    terms: ofMachine.flatMap(({ candidate }) => candidate.terms),
    /** Gauges whose zero was found to be off, of those that were asked about: told of by `zeros.ts`, not among the warnings. */
    zeros: found.flatMap(({ candidate }) => candidate.gauge ?? []),
    /** What these readings would not show in nine cases of ten, were it there, in words. */
    // With what was found taken out: it is no scatter of the gauges.
    unchecked: faults.flatMap((choices) => notShown(choices, base, tells, candidates.length)),
    placeDoubt: placeDoubt(found, clean, base),
    warnings: ofMachine.map(warningOf),
  };
}

function warningOf({ candidate, fit, p, or }: Found, i: number, told: readonly Found[]): Warning {
  const before = told.slice(0, i).map((one) => one.candidate);
  const again = candidate.differs && before.some(({ differs }) => differs);
  const rest = again ? '; it may be the rest of the same fault, whose shape is not exactly the one above' : '';
  const onTop = before.some(({ name }) => name === candidate.name) ? 'on top of that, ' : '';
  const others = or.length > 0 ? ` Nearly as likely: ${or.join('; ')}.` : '';
  return {
    code: candidate.code,
    message: `${onTop}${candidate.say(sizesOf(candidate, fit))} (${chanceWords(p)})${rest}.${others}`,
    hint: candidate.hint,
  };
}

/** Scans show tenths of a micrometre. What differs by less than this, mm, is no fault: no stencil shows it. */
const LEAST_MM = 0.003;

function isWorthTelling({ candidate, fit }: Tested): boolean {
  if (candidate.gauge !== undefined) return true;
  const sizes = sizesOf(candidate, fit);
  const offMm = candidate.offMm?.(sizes) ?? Math.max(...sizes.map(Math.abs));
  return offMm >= LEAST_MM;
}

/** Numbers of its parameters in a fit that holds it. */
const numbersOf = ({ terms }: Candidate, design: Design): number[] =>
  terms.map(({ name }) => 5 + design.terms.findIndex((term) => term.name === name));

const sizesOf = (candidate: Candidate, { design, parameters }: WeightedFit): number[] =>
  numbersOf(candidate, design).map((number) => parameters[number]);

/** What the readings hold something of. */
function shown(choices: readonly Candidate[]): Candidate[] {
  return choices.filter(({ terms }) => terms.every(({ column }) => column.some((value) => value !== 0)));
}

/** The words for a fault of which at least one named shape would mostly stay below the limit. */
function notShown(choices: readonly Candidate[], clean: WeightedFit, tells: Tells, tests: number): string[] {
  const named = choices.flatMap(({ terms, named: own }) => (own ? [{ terms, ...own }] : []));
  const isFound = choices.some(({ terms }) => clean.design.terms.some(({ name }) => name === terms[0].name));
  if (named.length === 0 || isFound) return [];
  const dof = Math.max(1, clean.dof - named[0].terms.length);
  const chanceEach = FALSE_ALARM / Math.max(1, tests) / tries(choices.length);
  const limit = studentQuantile(chanceEach, dof) + NINE_IN_TEN;
  const unseen = named.find(({ terms, size }) => {
    const { sds, least } = tells(terms);
    return clean.dof < LEAST_DOF || !(least > LEAST_LEFT) || size < limit * rms(sds);
  });
  return unseen ? [unseen.words] : [];
}

/**
 * How far scale X, scale Y and shear of some place lie from those of the fit without faults. The profile holds one scale
 * for all places: that is off at each by what the faults do there.
 */
function placeDoubt(
  found: readonly Tested[],
  clean: WeightedFit,
  last: WeightedFit,
): readonly [number, number, number] {
  const differing = found.flatMap(({ candidate }) =>
    candidate.differs ? [candidate.differs(sizesOf(candidate, last))] : [],
  );
  const most = (k: number): number => {
    const ends = [0, 1].map((end) => differing.reduce((sum, own) => sum + own[k][end], last.parameters[k] - clean.parameters[k])); // biome-ignore format: one list
    return differing.length > 0 ? Math.max(...ends.map(Math.abs)) : 0;
  };
  return [most(0), most(1), most(2)];
}

/** Terms of what was found, for other readings of the same film: all of it, or what is of the kerf. */
export function foundTerms(lengths: readonly Observation[], { terms }: FaultSearch, ofKerfOnly = false): Term[] {
  const found = new Set(terms.map(({ name }) => name));
  if (found.size === 0) return [];
  return candidatesFor(lengths)
    .flatMap(shown)
    .filter(({ ofKerf }) => ofKerf || !ofKerfOnly)
    .flatMap((candidate) => candidate.terms.filter(({ name }) => found.has(name)));
}

/** The best of several shapes of one fault, by what it adds at the weights at hand; then tested with weights of its own. */
function testOne(choices: readonly Candidate[], base: WeightedFit, tells: Tells): Tested | undefined {
  const [{ gauge }] = choices;
  // A gauge's zero against none, were nothing known of it beforehand.
  if (gauge !== undefined) return tested(choices[0], withFreeZero(base.design, gauge), base, 1);
  const known = base.design.terms;
  const usable = choices
    .filter(({ terms }) => !known.some(({ name }) => name === terms[0].name))
    .map((candidate) => ({ candidate, ...tells(candidate.terms) }))
    .filter(({ least }) => least > LEAST_LEFT);
  if (usable.length === 0) return undefined;
  const clear = ({ candidate, gain }: (typeof usable)[number]): number => gain - (candidate.ofOneAxis ? CLEARLY : 0);
  const { candidate: best, gain } = usable.reduce((a, b) => (clear(b) > clear(a) ? b : a));
  const less = 1 + (ROUNDED_ALIKE - 1) * coarseShare(best.terms, base);
  const quick = gain / best.terms.length / less;
  if (quick < WORTH_A_FIT) {
    const p = fisherUpper(quick, best.terms.length, Math.max(1, base.dof)) * tries(usable.length);
    return { candidate: best, fit: base, f: quick, p: Math.min(1, p), evidence: Number.NEGATIVE_INFINITY };
  }
  return tested(best, { ...base.design, terms: [...known, ...best.terms] }, base, tries(usable.length));
}

/** One axis alone is named when that takes away so much more of the squares than both: about 20 times as likely. */
const CLEARLY = 6;

/** F test of a fault's sizes against none, with weights of its own. */
function tested(candidate: Candidate, design: Design, base: WeightedFit, times: number) {
  const fit = weightedFit(design, base.parameters);
  const numbers = numbersOf(candidate, design);
  const less = 1 + (ROUNDED_ALIKE - 1) * coarseShare(candidate.terms, base);
  const sizes = numbers.map((k) => fit.parameters[k]);
  const information = invertSymmetric(numbers.map((j) => numbers.map((k) => fit.covariance[j][k])));
  const f = bilinear(sizes, information, sizes) / numbers.length / less;
  const dof = Math.min(...numbers.map((k) => fit.parameterDof[k]), Math.max(1, fit.dof));
  const p = Math.min(1, fisherUpper(f, numbers.length, dof) * times);
  // Less what freedom alone gains (G. Schwarz, Ann. Statist. 6 (1978) 461-464).
  const evidence = likelihood(fit) - numbers.length * Math.log(fit.residuals.length);
  return { candidate, fit, f, p, evidence };
}

/** Twice its logarithm, up to a constant. */
function likelihood({ residuals, weights }: WeightedFit): number {
  return residuals.reduce((sum, e, i) => sum + Math.log(weights[i]) - weights[i] * e * e, 0);
}

/** Neighbouring shapes are much alike: they count as fewer tries. */
function tries(choices: number): number {
  return Math.max(1, choices * 0.6);
}

/** A fault that takes away less than this, as an F at the weights at hand, is none with weights of its own either. */
const WORTH_A_FIT = 2;

/**
 * A gauge that is coarse against its scatter rounds like lengths alike: a pattern, up to half a step and not the
 * step/sqrt 12 of chance. Without this one right machine in ten was blamed where a plastic caliper was read.
 */
const ROUNDED_ALIKE = 3;

/** How much of what the readings say of these terms comes from coarse gauges. */
function coarseShare(terms: readonly Term[], fit: WeightedFit): number {
  const coarse = new Set(coarseGauges(fit).flatMap(({ members }) => members));
  if (coarse.size === 0) return 0;
  let [of, all] = [0, 0];
  for (const { column } of terms) {
    column.forEach((value, i) => {
      const information = fit.weights[i] * value * value;
      all += information;
      if (coarse.has(i)) of += information;
    });
  }
  return all > 0 ? of / all : 0;
}

/** What must be left of a column when the others are taken out of it, for the readings to tell it. */
const LEAST_LEFT = 0.02;

/** What terms would tell of a machine that a fit does not know of. */
type Tells = (terms: readonly Term[]) => Added;

function tellsBeside({ qr, residuals }: WeightedFit): Tells {
  // Rows of priors are satisfied where the fit stands: only what is left of the readings matters.
  const left = qr.roots.map((root, i) => root * (residuals[i] ?? 0));
  const tells = addedTo(qr, left, residuals.length);
  return (terms) => tells(terms.map(({ column }) => column));
}

function described({ candidate, f, p }: Tested, found: boolean): FaultTest {
  const verdict = found ? 'found' : p < 0.05 ? 'perhaps' : 'not seen in these readings';
  return {
    code: candidate.code,
    name: candidate.name,
    f,
    p,
    found,
    sentence: `${candidate.name}: ${verdict} (F = ${f.toPrecision(3)}, ${chanceWords(p)})`,
  };
}

const AXES = ['x', 'y'] as const;

/**
 * All faults that are looked for; each as one shape or as several of which the best is taken. Some have nothing to show
 * themselves in: columns of zeros.
 */
function candidatesFor(lengths: readonly Observation[]): Candidate[][] {
  const ends = lengths.flatMap(({ feature, elsewhere }) => ('from' in feature && !elsewhere ? [feature.from, feature.to] : [])); // biome-ignore format: one thought
  const bed = ringBounds(ends);
  if (!(bed.maxX > bed.minX) && !(bed.maxY > bed.minY)) return [];
  return [
    [barrel(lengths, bed)],
    ...[...AXES, undefined].map((axis) => [bent(lengths, bed, axis)]),
    ...AXES.map((axis) => belts(lengths, bed, axis)),
    ...AXES.flatMap((axis) => AXES.map((by) => slips(lengths, bed, axis, by))),
    ...kerfAcross(lengths, bed),
    ...(['opening', 'web'] as const).map((piece) => narrowPieces(lengths, piece)),
    ...(['square', 'circle'] as const).map((shape) => shapes(lengths, shape)),
    ...otherSettings(lengths),
  ].filter((choices) => choices.length > 0);
}

/** A gauge that reads too much or too little everywhere. */
function zeroOf(lengths: readonly Observation[], gauge: string): Candidate {
  return {
    code: 'GAUGE_ZERO_OFF',
    name: `zero of ${gauge}`,
    terms: [zeroTerm(lengths, gauge)],
    say: ([size]) => `${gauge} are off by ${um(size)}`,
    hint: 'Check the zero of the gauge.',
    gauge,
  };
}
