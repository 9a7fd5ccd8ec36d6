import { type Feature, isForJaws } from '../coupon/features.js';
import type { ExportFormat } from '../export/export-formats.js';
import type { PerAxis, Size } from '../geometry/types.js';
import type { GaugeUnit } from '../readings/length.js';
import { parseShipped } from '../schema/shipped.js';

/** What a person would else type with every command: one machine, one film, where things go; see its schema. */
export interface Project {
  readonly format: 'apertrue-project';
  readonly version: 1;
  readonly machine?: string;
  readonly bed?: Size;
  readonly pitchMm?: PerAxis;
  readonly formats?: readonly ExportFormat[];
  readonly film?: { readonly kind?: string; readonly thicknessMm?: number };
  readonly powersPercent?: readonly number[];
  readonly speedsMmS?: readonly number[];
  readonly profile?: string;
  readonly out?: string;
  readonly gauges?: readonly ProjectGauge[];
  readonly report?: boolean;
}

export interface ProjectGauge {
  readonly name: string;
  readonly resolutionMm: number;
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

/** The gauge for a feature; undefined for what is no length. Windows for jaws are read as spans are. */
export const gaugeOf = (feature: Feature, gauges: readonly ProjectGauge[]): ProjectGauge | undefined =>
  'nominalMm' in feature ? gaugeFor(isForJaws(feature) ? 'span' : feature.kind, gauges) : undefined;

/** How the lengths of a coupon are taken with the gauges at hand, for a plan of what to read; undefined: none is named. */
export function takenWith(
  features: readonly Pick<Feature, 'kind'>[],
  gauges: readonly ProjectGauge[],
): { readonly takes: 'edges' | 'windows'; readonly stepMm: number } | undefined {
  const gauge = gaugeFor(features.some(({ kind }) => kind === 'span') ? 'span' : 'opening', gauges);
  // A ruler has no jaws.
  return gauge && { takes: HAS_JAWS.test(gauge.name) ? 'windows' : 'edges', stepMm: gauge.resolutionMm };
}

const HAS_JAWS = /cal+iper|messschieber/i;

/** What the machine can't set. */
export const fixedIn = ({ powersPercent, speedsMmS }: Partial<Project> = {}): readonly ('power' | 'speed')[] => [
  ...(powersPercent?.length === 1 ? (['power'] as const) : []),
  ...(speedsMmS?.length === 1 ? (['speed'] as const) : []),
];

/**
 * Reads a project file.
 *
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY with the nearest name, BAD_VALUE
 */
export async function parseProject(text: string, file: string): Promise<Project> {
  return parseShipped<Project>('project', text, file);
}
