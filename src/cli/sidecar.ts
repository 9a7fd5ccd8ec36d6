import { createHash } from 'node:crypto';
import { basename, dirname, join } from 'node:path';
import type { Warning } from '../errors.js';
import { type Mark, markIn } from '../export/export-formats.js';
import { machineModel } from '../machine/machine-model.js';
import type { Bends, MachineModel, Profile } from '../machine/types.js';
import { fieldOf } from '../stencil/make-stencil.js';
import type { Io } from './io.js';
import type { OutputFile } from './results.js';
import { type Content, chunksOf } from './write-together.js';

/** SHA-256 of a file's content, as sidecars state it. */
export function sha256(content: Content): string {
  const hash = createHash('sha256');
  for (const part of chunksOf(content)) hash.update(part);
  return hash.digest('hex');
}

/** For JSON.stringify: numbers to a picometre, which is beyond any laser and free of the noise of doubles. */
export function roundedNumbers(_key: string, value: unknown): unknown {
  return typeof value === 'number' && !Number.isInteger(value) ? Number(value.toFixed(9)) : value;
}

/** The machine that a stencil was corrected for: its five numbers, and how its bed is bent. */
export function machineOf(profile: Profile): { machine: MachineModel; bends?: Bends } {
  const field = fieldOf(profile);
  if (!field) return { machine: machineModel(profile) };
  const { canvasMm, areaMm, terms } = field;
  return { machine: machineModel(profile), bends: { canvasMm, areaMm, terms } };
}

/** Results as sidecars state them: by name and content. */
export const recordOf = (files: readonly OutputFile[]): { readonly name: string; readonly sha256: string }[] =>
  files.map(({ name, bytes }) => ({ name, sha256: sha256(bytes) }));

/** The parts of a record beside a result that tell what the result is. */
interface JobRecord {
  readonly format?: unknown;
  readonly profile?: { readonly name?: unknown };
  readonly images?: unknown;
  readonly outputs?: readonly { readonly name?: unknown; readonly file?: unknown; readonly sha256?: unknown }[];
}

/**
 * A warning for artwork that is itself a result: corrected already, or a coupon, which is cut as it is. Known by the
 * record beside it that names these very bytes, or by the file's own title.
 */
export async function madeBefore(file: string, bytes: Uint8Array, io: Io): Promise<Warning[]> {
  const name = basename(file);
  let digest: string | undefined;
  for (let end = name.lastIndexOf('.'); end > 0; end = name.lastIndexOf('.', end - 1)) {
    const path = join(dirname(file), `${name.slice(0, end)}.job.json`);
    if (!(await io.exists(path))) continue;
    const job = await recordAt(path, io);
    digest ??= sha256(bytes);
    const own = job?.outputs?.some((output) => (output.name ?? output.file) === name && output.sha256 === digest);
    const warning = own && job ? warningFor(job, file, basename(path)) : undefined;
    if (warning) return [warning];
  }
  const mark = markIn(bytes);
  return mark ? [warningBy(mark, file, 'its title says so', '')] : [];
}

async function recordAt(path: string, io: Io): Promise<JobRecord | undefined> {
  try {
    const job: unknown = JSON.parse(new TextDecoder().decode(await io.lookAt(path)));
    const record = typeof job === 'object' && job !== null ? (job as JobRecord) : undefined;
    return record?.format === 'apertrue-job' && Array.isArray(record.outputs) ? record : undefined;
  } catch {
    // Somebody else's file of that name is no record.
    return undefined;
  }
}

function warningFor({ profile, images }: JobRecord, file: string, record: string): Warning | undefined {
  const saidBy = `${record} beside it says so`;
  if (profile) return warningBy('corrected', file, saidBy, `, for the profile ${JSON.stringify(profile.name)}`);
  return images ? warningBy('coupon', file, saidBy, '') : undefined;
}

function warningBy(mark: Mark, file: string, saidBy: string, laser: string): Warning {
  const place = { file };
  if (mark === 'coupon') {
    return {
      code: 'IS_COUPON',
      place,
      message: `this is a coupon (${saidBy}): coupons are cut as they are, or they say nothing about the machine.`,
      hint: 'Cut the file that `coupon` made.',
    };
  }
  return {
    code: 'ALREADY_CORRECTED',
    place,
    message: `this is corrected already${laser} (${saidBy}): corrected again, its openings come out too narrow by the kerf.`,
    hint: 'Give the artwork it was made from.',
  };
}
