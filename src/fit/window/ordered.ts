import { expit } from '../statistics/distributions.js';
import { sampleEnsemble, seeded } from '../statistics/ensemble-sampler.js';

/** One reading of one setting. */
export interface OrderedReading {
  /** ln power and ln speed, counted from the middle of the grid. */
  readonly power: number;
  readonly speed: number;
  /** 0 uncut, 1 partial, 2 through, 3 marked. */
  readonly level: number;
}

/** Where the edges of a window may lie, in ln power at the middle speed of the grid. */
export type Edges = ReturnType<typeof drawEdges>[number];

/** What is usual of lasers and films: middle and half-width (two of three are within) of the logarithm. */
const USUAL = {
  /** From 1 to 20 % (95 %): supply, lens, film. */
  scatter: [Math.log(0.04), 0.8],
  /** Power that marks to power that cuts, as ln: from a few percent to some fivefold. */
  width: [Math.log(0.45), 1],
  /** Power that cuts to power that cuts in places. */
  partial: [Math.log(0.25), 0.9],
  speed: [0, 0.4],
  /** The two edges' against each other. */
  speeds: [0, 0.15],
} as const;
type Usual = keyof typeof USUAL;

/** So many cells are misread. */
const MISREAD = 0.005;
const LEVELS = 4;

const WALKERS = 36;
const STEPS = { burnIn: 200, kept: 300 };
/** So many of all draws are handed on: neighbours are hardly new. */
const DRAWS = 1000;

/**
 * The edges of a window as they may lie by the readings and by what is usual of lasers ({@link USUAL}), each as often as
 * it is likely. Readings rarely tell more than between which cells an edge lies: how much a machine wavers, and where an
 * edge is that no cell lies beyond, only what is usual can bound.
 *
 * @param bothVary - power and speed both do; else power divided by speed is taken to decide
 * @remarks Cumulative logit model of ordered levels (McCullagh, J. R. Statist. Soc. B 42 (1980) 109–142).
 */
export function drawEdges(readings: readonly OrderedReading[], bothVary: boolean) {
  const both = [0, 1].every((level) => readings.some((reading) => reading.level === level));
  const names: Usual[] = ['width', 'scatter'];
  if (both) names.push('partial');
  if (bothVary) names.push('speed', 'speeds');
  const [partialAt, speedAt] = [names.indexOf('partial') + 1, names.indexOf('speed') + 1];
  const edgesOf = (at: ArrayLike<number>) => {
    const throughSpeed = speedAt > 0 ? Math.exp(at[speedAt]) : 1;
    return {
      /** From here on a cut comes through, and is marked, with better than even odds. */
      through: at[0],
      marked: at[0] + Math.exp(at[1]),
      /** How much more ln power each edge takes for more ln speed; 1 where power divided by speed decides. */
      throughSpeed,
      markedSpeed: speedAt > 0 ? throughSpeed * Math.exp(at[speedAt + 1]) : 1,
      /** Logistic scale by which the ln power that a cell got wavers. */
      scatter: Math.exp(at[2]),
      /** From here on a cut is partial; as `through` where nothing was uncut, or nothing partial. */
      partial: partialAt > 0 ? at[0] - Math.exp(at[partialAt]) : at[0],
    };
  };
  const density = (at: ArrayLike<number>): number =>
    names.reduce((sum, name, k) => sum + logUsual(name, at[k + 1]), logLikelihood(readings, edgesOf(at), both));
  const random = seeded();
  const start = startAt(readings);
  const middles = [
    start.through,
    Math.log(start.width),
    Math.log(0.1),
    ...names.slice(2).map((name) => USUAL[name][0]),
  ];
  const walkers = Array.from({ length: WALKERS }, () =>
    Float64Array.from(middles, (value) => value + 0.2 * (random() - 0.5)),
  );
  const series = sampleEnsemble(density, walkers, STEPS, random);
  const every = series[0].length / DRAWS;
  return Array.from({ length: DRAWS }, (_, i) => edgesOf(series.map((values) => values[Math.floor(i * every)])));
}

/** Student's t of three degrees of freedom: many readings that show something unusual are believed. */
function logUsual(name: Usual, value: number): number {
  const [middle, sd] = USUAL[name];
  return -2 * Math.log1p(((value - middle) / sd) ** 2 / 3);
}

function logLikelihood(readings: readonly OrderedReading[], edges: Edges, both: boolean): number {
  let total = 0;
  for (const { power, speed, level } of readings) {
    const got = power - edges.throughSpeed * speed;
    const [toThrough, toMarked] = [
      (got - edges.through) / edges.scatter,
      (power - edges.markedSpeed * speed - edges.marked) / edges.scatter,
    ];
    // Edges that cross within what was tried.
    if (!(toThrough > toMarked)) return Number.NEGATIVE_INFINITY;
    let chance: number;
    if (level === 3) chance = expit(toMarked);
    else if (level === 2) chance = expit(toThrough) - expit(toMarked);
    else if (!both) chance = expit(-toThrough);
    else {
      const toPartial = (got - edges.partial) / edges.scatter;
      chance = level === 0 ? expit(-toPartial) : expit(toPartial) - expit(toThrough);
    }
    total += Math.log(MISREAD / LEVELS + (1 - MISREAD) * chance);
  }
  return total;
}

/** Edges in the middle between the mean readings of each kind, from which the draws set out. */
function startAt(readings: readonly OrderedReading[]): { through: number; width: number } {
  const mean = (levels: readonly number[]): number | undefined => {
    const of = readings.filter(({ level }) => levels.includes(level));
    return of.length === 0 ? undefined : of.reduce((sum, { power, speed }) => sum + power - speed, 0) / of.length;
  };
  const clean = mean([2]) ?? 0;
  const [below, above] = [mean([0, 1]) ?? clean - 1, mean([3]) ?? clean + 1];
  return { through: (below + clean) / 2, width: Math.max(0.1, (above - below) / 2) };
}
