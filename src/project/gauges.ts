import type { ProjectGauge } from './project.js';

/** Jaws that no narrow slot lets in, and that reach far. */
const IS_LONG = /cal+iper|messschieber|ruler|rule\b/i;

/**
 * The gauge for a length. Openings and webs are narrow: the finest that is no caliper, where there is one. Spans are
 * long: a caliper where there is one, else the coarsest.
 */
export function gaugeFor(kind: string, gauges: readonly ProjectGauge[]): ProjectGauge | undefined {
  const byStep = [...gauges].sort((a, b) => a.resolutionMm - b.resolutionMm);
  if (kind !== 'span') return byStep.find(({ name }) => !IS_LONG.test(name)) ?? byStep[0];
  return byStep.find(({ name }) => IS_LONG.test(name)) ?? byStep.at(-1);
}

/** How lengths of these kinds are taken with the gauges at hand, for a plan of what to read; undefined: none is named. */
export function takenWith(
  kinds: readonly string[],
  gauges: readonly ProjectGauge[],
): { readonly takes: 'edges' | 'windows'; readonly stepMm: number } | undefined {
  const gauge = gaugeFor(kinds.includes('span') ? 'span' : 'opening', gauges);
  // A ruler has no jaws.
  return gauge && { takes: HAS_JAWS.test(gauge.name) ? 'windows' : 'edges', stepMm: gauge.resolutionMm };
}

const HAS_JAWS = /cal+iper|messschieber/i;
