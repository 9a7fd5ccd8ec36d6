import {
  closeSync,
  existsSync,
  fsync,
  linkSync,
  lstatSync,
  openSync,
  renameSync,
  unlinkSync,
  writeFile,
} from 'node:fs';
import { mkdir, stat } from 'node:fs/promises';
import { dirname } from 'node:path';
import { promisify } from 'node:util';
import { InputError } from '../errors.js';
import { fileExists, fileProblem } from './file-problem.js';
import { beginFile, claimFolder, clearLeftovers, endFile, temporaryFor } from './left-over.js';

/** What a file is to hold; parts of a text are made as they are written. */
export type Content = Uint8Array | string | Iterable<Uint8Array>;

/** The parts of a content, in order. */
export function partsOf(content: Content): Iterable<Uint8Array | string> {
  return typeof content === 'string' || ArrayBuffer.isView(content) ? [content] : content;
}

export interface FileToWrite {
  readonly path: string;
  readonly bytes: Content;
}

interface Placing {
  readonly path: string;
  readonly temporary: string;
  /** A second name of what is replaced, until all is done. */
  kept?: string;
  isPlaced?: boolean;
}

/** Folders that this process has cleared of others' leftovers. */
const cleared = new Set<string>();

/**
 * Writes files that belong together: all as temporary files first, flushed to the disk, then all renamed in one go,
 * while the folder is claimed. So a full disk is met before anything is in place, a reader sees the old file or the new
 * one, and of two runs at once all files are one's or all are the other's. Records (`.job.json`) go first: a run that is
 * killed between two renames leaves a record without its image, which nobody cuts, rather than an image without record.
 *
 * @returns what is to be told of half-written files of other runs
 * @throws {InputError} FILE_NOT_WRITTEN; FILE_EXISTS unless `overwrite`
 */
export async function writeTogether(
  files: readonly FileToWrite[],
  { overwrite }: { readonly overwrite: boolean },
): Promise<readonly string[]> {
  const notes: string[] = [];
  const placings = files.map(({ path }): Placing => ({ path, temporary: temporaryFor(path) }));
  const folders = [...new Set(files.map(({ path }) => dirname(path)))].sort();
  const releases: (() => void)[] = [];
  let path = files[0]?.path ?? '';
  try {
    for (const folder of folders) {
      path = files.find((file) => dirname(file.path) === folder)?.path ?? path;
      await makeFolder(folder);
      if (!cleared.has(folder)) notes.push(...clearLeftovers(folder));
      cleared.add(folder);
    }
    for (const [i, { bytes }] of files.entries()) {
      path = files[i].path;
      refuseOddTarget(path);
      await writePart(placings[i].temporary, bytes);
    }
    for (const folder of folders) releases.push(await claimFolder(folder));
    if (!overwrite) {
      const taken = placings.filter((one) => existsSync(one.path));
      if (taken.length > 0) throw new InputError(taken.map((one) => fileExists(one.path)));
    }
    placeAll(placings, (next) => {
      path = next;
    });
  } catch (error) {
    throw error instanceof InputError ? error : fileProblem(path, 'write', error);
  } finally {
    for (const { temporary, kept } of placings) for (const name of [temporary, kept]) if (name) forget(name);
    for (const release of releases) release();
  }
  return notes;
}

/** Renaming onto a folder fails with a word for each system, and onto a device it would put the device away. */
function refuseOddTarget(path: string): void {
  const found = lstatSync(path, { throwIfNoEntry: false });
  if (!found || found.isFile() || found.isSymbolicLink()) return;
  throw Object.assign(new Error('no plain file'), { code: found.isDirectory() ? 'EISDIR' : 'ENXIO' });
}

/** Opened in one step, so that no signal can come between its making and its being known. */
async function writePart(temporary: string, content: Content): Promise<void> {
  beginFile(temporary);
  const file = openSync(temporary, 'wx');
  try {
    for (const part of partsOf(content)) await promisify(writeFile)(file, part);
    await promisify(fsync)(file);
  } finally {
    closeSync(file);
  }
}

/** Synchronous, so that neither a signal nor another file of this process comes between. Undone when one fails. */
function placeAll(placings: readonly Placing[], at: (path: string) => void): void {
  const isRecord = ({ path }: Placing): boolean => path.endsWith('.job.json');
  const order = [...placings.filter(isRecord), ...placings.filter((one) => !isRecord(one))];
  try {
    for (const one of order) {
      at(one.path);
      keep(one);
      renameSync(one.temporary, one.path);
      one.isPlaced = true;
    }
  } catch (error) {
    for (const { path, kept } of order.filter(({ isPlaced }) => isPlaced)) {
      if (kept) renameSync(kept, path);
      else unlinkSync(path);
    }
    throw error;
  }
}

/** Keeps what is about to be replaced under a second name. Disks without links go without. */
function keep(one: Placing): void {
  if (!existsSync(one.path)) return;
  const kept = temporaryFor(one.path);
  try {
    beginFile(kept);
    linkSync(one.path, kept);
    one.kept = kept;
  } catch {
    endFile(kept);
  }
}

function forget(temporary: string): void {
  try {
    unlinkSync(temporary);
  } catch {
    // It was renamed or never made.
  }
  endFile(temporary);
}

/**
 * Makes a folder and those above it, each once. Node's own recursive mkdir never comes back where the system says that
 * a folder is missing although the one above it is there (as under /proc).
 *
 * @throws the system's error
 */
async function makeFolder(path: string): Promise<void> {
  const missing: string[] = [];
  let above = path;
  for (;;) {
    const found = await stat(above).catch((error: NodeJS.ErrnoException) => {
      if (error.code === 'ENOENT') return undefined;
      throw error;
    });
    if (found && !found.isDirectory()) throw Object.assign(new Error('not a folder'), { code: 'ENOTDIR' });
    if (found || dirname(above) === above) break;
    missing.unshift(above);
    above = dirname(above);
  }
  for (const folder of missing) {
    await mkdir(folder).catch((error: NodeJS.ErrnoException) => {
      // Somebody else, such as the next file of the same batch, made it meanwhile.
      if (error.code !== 'EEXIST') throw error;
    });
  }
}
