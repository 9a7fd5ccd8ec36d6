import type { ExportFormat } from '../export/export-formats.js';
import type { PerAxis } from '../geometry/types.js';
import type { GaugeUnit } from '../readings/length.js';

/** No film that is cut for paste is thicker, mm: whoever says more means another unit. */
export const THICKEST_FILM_MM = 2;

/** What a person would else type with every command: one machine, one film, where things go. */
export interface Project {
  readonly format: 'apertrue-project';
  readonly version: 1;
  readonly machine?: string;
  readonly bed?: { readonly widthMm: number; readonly heightMm: number };
  readonly pitchMm?: PerAxis;
  /** What the machine's program takes. */
  readonly formats?: readonly ExportFormat[];
  readonly film?: { readonly kind?: string; readonly thicknessMm?: number };
  /** Powers, %, and speeds, mm/s, that a power/speed grid tries; a single one: it can't be set. Not given: those of its pattern. */
  readonly powersPercent?: readonly number[];
  readonly speedsMmS?: readonly number[];
  /** Path of the profile; relative to the project file. */
  readonly profile?: string;
  /** Folder for results; relative to the project file. */
  readonly out?: string;
  readonly gauges?: readonly ProjectGauge[];
  /** Whether every fit and every job gets a report. */
  readonly report?: boolean;
}

export interface ProjectGauge {
  readonly name: string;
  /** One step or division, mm. */
  readonly resolutionMm: number;
  /** What its numbers are in where no unit is typed; mm if not given. */
  readonly unit?: GaugeUnit;
}

/** The file's name, wherever it lies. */
export const PROJECT_FILE = 'apertrue.json';

export function projectText(project: Project): string {
  return `${JSON.stringify(project, null, 2)}\n`;
}

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

/** What the machine can't set. */
export const fixedIn = ({ powersPercent, speedsMmS }: Partial<Project> = {}): readonly ('power' | 'speed')[] => [
  ...(powersPercent?.length === 1 ? (['power'] as const) : []),
  ...(speedsMmS?.length === 1 ? (['speed'] as const) : []),
];
