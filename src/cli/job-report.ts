import { basename } from 'node:path';
import { CAUTION } from '../coupon/cautions.js';
import type { Warning } from '../errors.js';
import { mapOpenings } from '../geometry/affine.js';
import { ownSize } from '../geometry/oriented-box.js';
import type { Opening, Size } from '../geometry/types.js';
import { grouped, kept } from '../kept.js';
import { machineMap, machineModel } from '../machine/machine-model.js';
import { PARAMETER_NAMES, PARAMETER_TITLES, type Profile } from '../machine/types.js';
import {
  type Block,
  heading,
  type NumberedOpening,
  type Report,
  type StencilLayer,
  table,
  words,
} from '../report/document/blocks.js';
import { type Commanded, withoutBends } from '../stencil/command.js';
import type { CutFigures, Fault } from '../stencil/faults.js';
import { capital, count } from '../text.js';
import {
  type CommandedCanvas,
  faultCells,
  figuresText,
  fixedMm,
  machineFacts,
  namesTogether,
} from './machine-words.js';
import { sinceChanged } from './project-file.js';
import { type OutputFile, recordOf } from './results.js';
import { warningText } from './tell.js';

/** What the report on a stencil or a sheet tells. */
export interface JobToReport {
  readonly title: string;
  /** One sentence each: what it is and what was done to it. */
  readonly sentences: readonly string[];
  /** As they shall lie on the film, mm. */
  readonly asked: readonly Opening[];
  /** How one of them is called, and its number where it has one. */
  readonly called: (opening: number) => { readonly name: string; readonly number?: number };
  readonly commanded: Commanded;
  readonly canvas: CommandedCanvas;
  readonly profile: Profile;
  /** What the machine reaches, as far as it is known. */
  readonly bed?: Size;
  readonly figures?: CutFigures;
  readonly faults: readonly Fault[];
  readonly warnings: readonly Warning[];
  /** Further states of it, such as before it was treated by rules. */
  readonly layers?: readonly StencilLayer[];
  /** What else to do before it is cut. */
  readonly first?: readonly string[];
  /** Its own files, and what they were made from. */
  readonly made: readonly OutputFile[];
  readonly sources: readonly { readonly file: string; readonly sha256: string }[];
  readonly profileSha256: string;
}

const LAYER_WORDS =
  'Filled: the openings as asked, with their numbers. Line: what the machine is told, at its size on the film; the kerf widens it to what is asked. Dashed walls: look at these.';

/** Plain words, what to do next, the stencil before and after, tables, and what it was made from. */
export function jobReport(job: JobToReport): Report {
  const { title, sentences, warnings, faults, figures, canvas, profile, called } = job;
  const changed = sinceChanged(profile);
  const shown = warnings.filter(({ code }) => code !== 'NOT_AS_ASKED' && code !== 'NARROWER_THAN_KERF');
  const facts = machineFacts(canvas, profile, job.bed);
  const told = toldOnFilm(job);
  const sizes = sizesOf(job, told);
  return {
    title,
    blocks: [
      ...changed.map((warning) => words(ofWarning(warning), 'warning')),
      verdict(job),
      ...sentences.map((sentence) => words(sentence)),
      ...shown.map((warning) => words(ofWarning(warning), warning.code === 'OPENINGS_DROPPED' ? undefined : 'warning')),
      heading('What to do next'),
      { kind: 'list', ordered: true, items: nextSteps(job, facts) },
      heading('The stencil'),
      { kind: 'stencil', layers: layersOf(job, told, sizes), words: LAYER_WORDS },
      ...table(
        'Openings that do not come out as asked',
        ['opening', 'what'],
        faultCells(
          faults.map((fault) => named(fault, called)),
          ({ opening }) => called(opening).name,
        ),
      ),
      ...table(
        'Parts narrower than the kerf, kept as the thinnest line',
        ['opening', 'extent', 'the first near, mm', 'asked, mm', 'comes out, mm'],
        narrowCells(job),
      ),
      heading('Sizes'),
      ...(figures ? [words(`What comes out, worked out for every opening: ${figuresText(figures)}.`)] : []),
      ...sizesTable(sizes, called),
      heading('What it was made from'),
      ...table(
        'Record',
        ['what', 'value'],
        [...recordRows(job), ...facts.map(([label, text]) => [label, text] as const), ...modelRows(profile)],
      ),
    ],
  };
}

function narrowCells({ commanded, called }: JobToReport): string[][] {
  const rows = commanded.corrected.narrow.map(({ opening, extent, at, askedMm, comesOutMm }) => ({
    name: called(opening).name,
    at: at.map(fixedMm).join(', '),
    cells: [extent, askedMm.map(fixedMm).join(' x '), comesOutMm.map(fixedMm).join(' x ')],
  }));
  return [...grouped(rows, ({ name, cells }) => [name.replace(/\d+$/, ''), ...cells].join()).values()].map((group) => {
    const [{ at, cells: [extent, ...sizes] }] = group; // biome-ignore format: one line
    return [namesTogether(group.map(({ name }) => name)), extent, at, ...sizes];
  });
}

/** A fault with the numbers of the openings that it joins. */
function named<F extends Fault>(fault: F, called: JobToReport['called']): F {
  return fault.with ? { ...fault, with: fault.with.map((other) => called(other).number ?? other) } : fault;
}

/** A warning as a sentence; one that begins with the name of a file keeps it as it is. */
const ofWarning = (warning: Warning): string => {
  const text = warningText(withoutFolder(warning));
  return warning.place?.file === undefined ? capital(text) : text;
};

/** Where the artwork lies on this machine is nobody's business who gets the report. */
export function withoutFolder(warning: Warning): Warning {
  const { place } = warning;
  return place?.file === undefined ? warning : { ...warning, place: { ...place, file: basename(place.file) } };
}

/** Openings that will not come out as asked. */
const badOf = ({ faults, commanded }: JobToReport): ReadonlySet<number> =>
  new Set([...faults, ...commanded.corrected.narrow].map(({ opening }) => opening));

function verdict(job: JobToReport): Block {
  const { asked, figures } = job;
  const bad = badOf(job).size;
  return bad === 0
    ? words(
        `All ${count(asked.length, 'opening')} come out as asked${figures ? ', as near as whole dots allow' : ''}.`,
        'good',
      )
    : words(
        `${bad} of ${count(asked.length, 'opening')} will not come out as asked; they are listed below.`,
        'warning',
      );
}

function nextSteps(job: JobToReport, facts: readonly (readonly [string, string])[]): string[] {
  const { made, profile, first = [] } = job;
  const at = (name: string): number => facts.findIndex(([label]) => label === name);
  const typed = facts.slice(at('type in'), at('place')).map(([, text]) => text);
  const [place, settings] = ['place', 'settings'].map((name) => facts[at(name)][1]);
  return [
    ...(sinceChanged(profile).length > 0 ? ['Do not cut it before what is said above of the machine is settled.'] : []),
    ...(badOf(job).size > 0
      ? ['Look at the openings that are listed below: will they do as they come out? If not, change the artwork first.']
      : []),
    ...first,
    `Open ${made.map(({ name }) => name).join(' or ')} in your laser's program, the one that you cut the coupons with, and type in ${typed.join('; ')}.`,
    `Put ${place}.`,
    `Cut it with the coupons' settings: ${settings}. Lay the film the same way round. Caution: ${CAUTION}`,
    'Look at the stencil against a light: are all openings through, and does one of each small size have its width under a loupe?',
  ];
}

function layersOf(job: JobToReport, told: readonly Opening[], sizes: readonly SizeRow[]): StencilLayer[] {
  const named = new Set(sizes.slice(0, MOST_SIZES).map(({ first }) => first));
  const { asked, called, layers = [] } = job;
  const doubtful = badOf(job);
  const openings = asked.map(
    (region, i): NumberedOpening => ({
      number: called(i + 1).number,
      region,
      doubtful: doubtful.has(i + 1),
      named: named.has(i + 1),
    }),
  );
  const outlines = told.map((region) => ({ region }));
  return [
    { name: 'as asked', openings },
    { name: 'told to the machine', openings: outlines, outline: true },
    ...layers,
  ];
}

/** Where the beam goes on the film for what the machine is told, what is corrected first: at its place of a bent bed, too. */
function toldOnFilm({ commanded: { corrected, uncorrected, bed }, profile }: JobToReport): readonly Opening[] {
  const told = [...corrected.openings, ...uncorrected];
  return mapOpenings(machineMap(machineModel(profile)), withoutBends(told, bed));
}

/** More sizes than this are a traced picture, and nobody reads them. */
const MOST_SIZES = 40;

/** Openings that are alike as asked and as told to the machine. */
interface SizeRow {
  readonly words: readonly string[];
  /** The first of them. */
  readonly first: number;
  count: number;
}

/** The sizes of a stencil, the most frequent first. */
function sizesOf({ asked, commanded, called }: JobToReport, told: readonly Opening[]): SizeRow[] {
  const { numbers } = commanded.corrected;
  const pieces: number[][] = asked.map(() => []);
  for (const [i, number] of numbers.entries()) pieces[number - 1].push(i);
  const sizes = new Map<string, SizeRow>();
  asked.forEach((opening, i) => {
    // Marks and letters are looked at, not measured.
    if (called(i + 1).number === undefined) return;
    const own = pieces[i];
    const size = own.length === 1 ? sizeWords(told[own[0]]) : own.length === 0 ? 'nothing' : `in ${own.length} pieces`;
    const row = [sizeWords(opening), size];
    kept(sizes, row.join(), (): SizeRow => ({ words: row, first: i + 1, count: 0 })).count += 1;
  });
  return [...sizes.values()].sort((a, b) => b.count - a.count);
}

function sizesTable(sizes: readonly SizeRow[], called: JobToReport['called']): Block[] {
  const rest = sizes.length > MOST_SIZES ? `; ${sizes.length - MOST_SIZES} rarer sizes are left out` : '';
  return table(
    `Sizes along the openings' own sides, mm, on the film${rest}`,
    ['how many', 'first', 'asked', 'told to the machine'],
    sizes.slice(0, MOST_SIZES).map(({ words: row, first, count: n }) => [`${n}`, called(first).name, ...row]),
  );
}

const sizeWords = (opening: Opening): string => ownSize(opening).map(fixedMm).join(' x ');

function recordRows({ sources, profile, profileSha256, made }: JobToReport): string[][] {
  return [
    ...sources.flatMap(({ file, sha256 }) => [
      ['artwork', file],
      ['its SHA-256', sha256],
    ]),
    ['profile', profile.name],
    ['its SHA-256', profileSha256],
    ...recordOf(made).map(({ name, sha256 }) => [`SHA-256 of ${name}`, sha256]),
  ];
}

function modelRows(profile: Profile): string[][] {
  const model = machineModel(profile);
  return PARAMETER_NAMES.map((name) => [
    PARAMETER_TITLES[name],
    name.startsWith('kerf') ? `${model[name].toFixed(4)} mm` : model[name].toFixed(6),
  ]);
}
