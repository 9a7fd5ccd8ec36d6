import { basename, dirname, join } from 'node:path';
import { readArtwork } from '../../artwork/read.js';
import type { ReadOptions } from '../../artwork/types.js';
import type { FeaturesFile } from '../../coupon/features.js';
import { InputError, type Warning } from '../../errors.js';
import type { Opening } from '../../geometry/types.js';
import type { MachineModel } from '../../machine/types.js';
import { featuresOfOpenings } from '../../scan/find/features-of-openings.js';
import { parseJsonText } from '../../schema/json-file.js';
import { type Kept, withoutDropped } from '../dropped-openings.js';
import type { Io } from '../io.js';
import { sha256 } from '../sidecar.js';

/** What is needed of a job's record. */
interface JobRecord {
  readonly format?: unknown;
  readonly source?: { readonly file?: unknown; readonly sha256?: unknown };
  readonly parameters?: {
    readonly read?: ReadOptions;
    readonly drop?: readonly number[];
    readonly scanDirection?: 'x' | 'y';
    readonly machine?: MachineModel;
  };
  readonly rules?: { readonly mark?: unknown };
  readonly counts?: { readonly openings?: unknown };
  readonly canvas?: FeaturesFile['canvas'];
  readonly outputs?: readonly { readonly name: string; readonly sha256: string }[];
}

/** What the machine was told, read back from the job's own result. */
export interface Commanded {
  readonly openings: readonly Opening[];
  readonly features: FeaturesFile;
  readonly machine: MachineModel;
}

/** Drawings before dots: dots are traced. */
const ENDINGS = ['.svg', '.png', '.tif', '.bmp'];

/** Undefined where no result of the job lies beside it as it was, or its axes are not the machine's. */
async function commandedOpenings(job: string, record: JobRecord, io: Io): Promise<Commanded | undefined> {
  const { canvas, outputs = [], parameters = {} } = record;
  const { machine } = parameters;
  if (canvas === undefined || machine === undefined || parameters.scanDirection === 'y') return undefined;
  const stem = basename(job).replace(/\.job\.json$/, '');
  for (const ending of ENDINGS) {
    const output = outputs.find(({ name }) => name === `${stem}${ending}`);
    const path = join(dirname(job), `${stem}${ending}`);
    if (output === undefined || !(await io.exists(path))) continue;
    const bytes = await io.readFile(path);
    if (sha256(bytes) !== output.sha256) continue;
    const { openings } = await readArtwork(bytes, { name: path });
    const { widthMm, heightMm, pitchXMm, pitchYMm } = canvas;
    return {
      openings,
      machine,
      features: featuresOfOpenings(stem, { widthMm, heightMm, pitchXMm, pitchYMm }, openings),
    };
  }
  return undefined;
}

/**
 * The openings that a job was asked for: those of the artwork that its record names, whose bytes must be the very same.
 *
 * @throws {InputError} INSPECT_JOB, INSPECT_ARTWORK, and what the artwork's reader throws
 */
export async function askedOpenings(
  job: string,
  artwork: string | undefined,
  io: Io,
): Promise<{
  readonly openings: readonly Opening[];
  readonly numberAt: Kept['numberAt'];
  readonly warnings: readonly Warning[];
  readonly commanded?: Commanded;
}> {
  const record = parseJsonText(new TextDecoder().decode(await io.readFile(job)), job) as JobRecord | null;
  const [name, hash] = [record?.source?.file, record?.source?.sha256];
  if (record?.format !== 'apertrue-job' || typeof name !== 'string' || typeof hash !== 'string') {
    throw new InputError({
      code: 'INSPECT_JOB',
      place: { file: job },
      message: 'this is not the record of a corrected stencil.',
      hint: 'Give the .job.json that `apertrue correct` wrote beside it.',
    });
  }
  const bytes = await sourceBytes(job, name, hash, artwork, io);
  const read = { ...record.parameters?.read, name: artwork ?? name };
  const { artwork: kept, numberAt } = withoutDropped(await readArtwork(bytes, read), record.parameters?.drop, job);
  const warnings: Warning[] = [];
  if (record.rules !== undefined) {
    warnings.push({
      code: 'INSPECT_RULES',
      place: { file: job },
      message: 'the job went through a rule set; openings are held against the artwork as it was before.',
      hint: 'Write the treated artwork with `apertrue treat` and correct that, to have it inspected as changed.',
    });
  }
  const commanded = await commandedOpenings(job, record, io);
  return { openings: kept.openings, numberAt, warnings, ...(commanded ? { commanded } : {}) };
}

async function sourceBytes(
  job: string,
  name: string,
  hash: string,
  artwork: string | undefined,
  io: Io,
): Promise<Uint8Array> {
  const folder = dirname(job);
  const places = artwork === undefined ? [join(folder, name), join(folder, '..', name), name] : [artwork];
  const others: string[] = [];
  for (const path of places) {
    if (artwork === undefined && !(await io.exists(path))) continue;
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
