import { basename, dirname, join } from 'node:path';
import { readArtwork } from '../../artwork/read.js';
import type { ReadOptions } from '../../artwork/types.js';
import type { FeaturesFile } from '../../coupon/features.js';
import { InputError, warningsIf } from '../../errors.js';
import { composeMaps, IDENTITY, invert, mapOpenings, translation } from '../../geometry/affine.js';
import { insidePoint } from '../../geometry/area.js';
import { boxOf } from '../../geometry/bounds.js';
import { move } from '../../geometry/copies.js';
import type { Affine, Opening, Point, Region } from '../../geometry/types.js';
import { insideRegion } from '../../geometry/walls.js';
import { correctOpenings } from '../../machine/correct-openings.js';
import { laidStraight } from '../../machine/place-field.js';
import { cutPieces } from '../../machine/predict-cut.js';
import type { Bends, MachineModel } from '../../machine/types.js';
import { featuresOfOpenings } from '../../scan/find/features-of-openings.js';
import { Neighbourhood } from '../../scan/inspect/patch.js';
import { parseJsonText } from '../../schema/json-file.js';
import { withoutBends } from '../../stencil/command.js';
import { laying, type Turn } from '../../stencil/make-stencil.js';
import { type Kept, withoutDropped } from '../each-artwork.js';
import type { Io } from '../io.js';
import { type ArtworkOptionValues, readOptionsOf } from '../options/shared.js';
import { sha256 } from '../results.js';

interface Source {
  readonly file?: unknown;
  readonly sha256?: unknown;
}

/** What is needed of a job's record. */
interface JobRecord {
  readonly format?: unknown;
  readonly source?: Source;
  /** Of a sheet: its artworks, and what lies where. */
  readonly sources?: readonly Source[];
  readonly stencils?: readonly { readonly source: number; readonly fromArtwork: Affine; readonly atMm: Point }[];
  readonly mirrored?: boolean;
  readonly parameters?: ArtworkOptionValues & {
    readonly rotateDeg?: Turn;
    readonly read?: ReadOptions;
    readonly drop?: readonly number[];
    readonly rules?: string;
    readonly scanDirection?: 'x' | 'y';
    readonly machine?: MachineModel;
    readonly bends?: Bends;
  };
  readonly rules?: { readonly mark?: unknown };
  readonly canvas?: FeaturesFile['canvas'] & { readonly originMm?: Point };
  readonly outputs?: readonly { readonly name: string; readonly sha256: string }[];
}

/** What the machine was told, read back from one of the job's own results. */
export type ReadBack = Awaited<ReturnType<typeof commandedOpenings>>[number];

const DRAWING = '.svg';
const ENDINGS = [DRAWING, '.png', '.tif', '.bmp'];

/** Of the drawing and of the dots that lie beside the job as they were; none where its axes are not the machine's. */
async function commandedOpenings(job: string, record: JobRecord, io: Io) {
  const { canvas, outputs = [], parameters = {} } = record;
  const { machine, bends } = parameters;
  if (canvas === undefined || machine === undefined || parameters.scanDirection === 'y') return [];
  const all = [];
  const stem = basename(job).replace(/\.job\.json$/, '');
  for (const ending of ENDINGS) {
    const output = outputs.find(({ name }) => name === `${stem}${ending}`);
    const path = join(dirname(job), `${stem}${ending}`);
    if (output === undefined || !(await io.exists(path))) continue;
    const bytes = await io.readFile(path);
    if (sha256(bytes) !== output.sha256) continue;
    const { pitchXMm: x, pitchYMm: y } = canvas;
    const { openings } = await readArtwork(bytes, { name: path, asDots: true, dpi: [25.4 / x, 25.4 / y] });
    const file = featuresOfOpenings(stem, onBed(canvas, bends), openings, machine);
    all.push({
      machine,
      /** As this machine was told; the others as a machine without bends would have been. */
      file,
      openings: withoutBends(openings, bends && { field: bends, originMm: [0, 0] }),
      features: bends ? laidStraight(file.features, bends) : file.features,
    });
    // All pictures have the same dots.
    if (ending !== DRAWING) break;
  }
  return all;
}

/** A smaller canvas has its corner where the bed's has it: with that size `fit` knows that the bends are those of the bed. */
function onBed({ widthMm, heightMm, pitchXMm, pitchYMm }: FeaturesFile['canvas'], bends?: Bends) {
  const own = { widthMm, heightMm, pitchXMm, pitchYMm };
  const bed = bends?.canvasMm;
  return bed && widthMm <= bed.widthMm && heightMm <= bed.heightMm ? { ...own, ...bed } : own;
}

/**
 * What a film should look like, by the openings that a job was asked for: those of the artwork that its record names, whose bytes must be the very same.
 *
 * @throws {InputError} INSPECT_JOB, INSPECT_ARTWORK, and what the artwork's reader throws
 */
export async function askedOpenings(job: string, artwork: string | undefined, io: Io) {
  const record = parseJsonText(new TextDecoder().decode(await io.readFile(job)), job) as JobRecord | null;
  const isSheet = record?.stencils?.every(({ fromArtwork }) => fromArtwork) ?? false;
  if (record?.format !== 'apertrue-job' || (record.source === undefined && !isSheet)) {
    throw new InputError({
      code: 'INSPECT_JOB',
      place: { file: job },
      message: 'this is not the record of a corrected stencil, nor of a sheet as it is written now.',
      hint: 'Give the .job.json that `apertrue correct` or `apertrue layout` wrote beside it; lay a sheet of an older version again.',
    });
  }
  const commanded = await commandedOpenings(job, record, io);
  const read: Reading = async (source, options, ofSeveral = false) => {
    const bytes = await sourceBytes(job, source, artwork, io, ofSeveral);
    return withoutDropped(await readArtwork(bytes, options), { drop: record.parameters?.drop }, job);
  };
  const asked = isSheet ? await askedOfSheet(record, read, commanded[0]) : await askedOfStencil(record, read, artwork);
  const warnings = warningsIf(job, [
    [
      isSheet && commanded.length === 0,
      'INSPECT_ONLY_PASTE',
      'the picture or drawing of the sheet is not beside its record as it was, so that only the paste is known: marks, holes and letters are told as holes that nobody asked for.',
      'Lay the .sheet.png or .sheet.svg that was cut beside the record.',
    ],
    [
      record.rules ?? record.parameters?.rules,
      'INSPECT_RULES',
      'the job went through a rule set; openings are held against the artwork as it was before.',
      'Write the treated artwork with `apertrue treat` and correct that, to have it inspected as changed.',
    ],
  ]);
  return { ...asked, asCut: asCutBy(record, asked), warnings, commanded };
}

/** What the beam makes of those that are judged, where the record says what machine it is: tips and corners come out round. */
function asCutBy(
  { parameters, canvas }: JobRecord,
  asked: { readonly openings: readonly Opening[]; readonly judged: number },
): readonly (readonly Region[])[] | undefined {
  const machine = parameters?.machine;
  if (!machine || asked.judged === 0) return undefined;
  const openings = asked.openings.slice(0, asked.judged);
  const lineMm = canvas?.pitchXMm && canvas.pitchYMm ? { x: canvas.pitchXMm, y: canvas.pitchYMm } : undefined;
  const corrected = correctOpenings(openings, machine, { lineMm });
  return cutPieces(corrected.openings, machine, corrected.numbers, openings.length);
}

/** Reads an artwork that a record names, without what was left out of it. */
type Reading = (source: Source, options: ReadOptions, ofSeveral?: boolean) => Promise<Kept>;

async function askedOfStencil(record: JobRecord, read: Reading, named: string | undefined) {
  const { source = {}, mirrored = false, parameters = {} } = record;
  const options = { ...parameters.read, name: named ?? `${source.file}` };
  const { artwork: kept, numberAt } = await read(source, options);
  const map = laying(mirrored, parameters.rotateDeg ?? 0);
  const openings = mapOpenings(map, kept.openings);
  return { openings, judged: openings.length, nameAt: numberAt, toTold: invert(map) };
}

/** Paste as the artworks have it; everything else on a sheet as its own picture, or drawing, has it. */
async function askedOfSheet(record: JobRecord, read: Reading, commanded: ReadBack | undefined) {
  const { sources = [], stencils = [], parameters = {}, canvas } = record;
  const kept = await Promise.all(
    sources.map((source) => read(source, readOptionsOf(parameters, `${source.file}`), sources.length > 1)),
  );
  const names: (number | string)[] = [];
  const paste = stencils.flatMap(({ source, fromArtwork, atMm }, k) => {
    const { artwork: own, numberAt } = kept[source - 1];
    own.openings.forEach((_, i) => {
      names.push(stencils.length === 1 ? numberAt(i + 1) : `${k + 1}:${numberAt(i + 1)}`);
    });
    return mapOpenings(composeMaps(translation(...atMm), fromArtwork), own.openings);
  });
  const origin = canvas?.originMm;
  const others = commanded && origin ? besides(paste, filmOf(commanded, origin)) : [];
  return {
    /** As they lie on the film, seen from the squeegee side; first those that are judged. */
    openings: [...paste, ...others],
    /** How many are judged: the rest are marks, holes, letters and witness of a sheet. */
    judged: paste.length,
    /** What the opening at a place, counting from 1, is called. */
    nameAt: (place: number): number | string => (place <= paste.length ? names[place - 1] : `M${place - paste.length}`),
    /** To the coordinates in which places are told: the artwork's, or those of a sheet. */
    toTold: IDENTITY,
  };
}

/** What the machine makes of what it is told. */
function filmOf({ openings, machine }: ReadBack, [x, y]: Point): Opening[] {
  const laid = openings.map((opening) => move(opening, x, y));
  return cutPieces(laid, machine, laid.map((_, i) => i + 1), laid.length).flat(); // biome-ignore format: one call
}

/** Those that are no part of the paste. */
function besides(paste: readonly Opening[], film: readonly Opening[]): Opening[] {
  const around = new Neighbourhood(paste);
  return film.filter((opening) => {
    const near = around.near(boxOf(opening), 0);
    return !around.holds(insidePoint(opening), near) && !near.some((i) => insideRegion(insidePoint(paste[i]), opening));
  });
}

async function sourceBytes(
  job: string,
  { file, sha256: hash }: Source,
  artwork: string | undefined,
  io: Io,
  ofSeveral: boolean,
): Promise<Uint8Array> {
  const [folder, name] = [dirname(job), `${file}`];
  // Of a sheet's artworks the others lie beside the one that was given.
  const beside = artwork !== undefined && ofSeveral ? [join(dirname(artwork), name)] : [];
  const places = artwork === undefined ? [join(folder, name), join(folder, '..', name), name] : [artwork, ...beside];
  const others: string[] = [];
  for (const path of places) {
    if (path !== artwork && !(await io.exists(path))) continue;
    const bytes = await io.readFile(path);
    if (sha256(bytes) === hash) return bytes;
    others.push(path);
  }
  throw new InputError({
    code: 'INSPECT_ARTWORK',
    place: { file: job },
    message:
      others.length > 0
        ? `${others[0]} is not the ${name} that the job was made from: its bytes differ.`
        : `the artwork ${name} that the job was made from is not beside it.`,
    hint: 'Give the artwork as it was, with --artwork.',
  });
}
