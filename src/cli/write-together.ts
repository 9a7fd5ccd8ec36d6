import { createHash } from 'node:crypto';
import * as fs from 'node:fs';
import { mkdir, stat } from 'node:fs/promises';
import { hostname } from 'node:os';
import { dirname, join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { promisify } from 'node:util';
import { InputError, refuseAll } from '../errors.js';
import { fileExists, fileProblem } from './file-problem.js';

/** What a file is to hold; parts of a text are made as they are written. */
export type Content = Uint8Array | string | Iterable<Uint8Array>;

/** The parts of a content, in order. */
export function chunksOf(content: Content): Iterable<Uint8Array | string> {
  return typeof content === 'string' || ArrayBuffer.isView(content) ? [content] : content;
}

export interface FileToWrite {
  readonly path: string;
  readonly bytes: Content;
}

/** A file under its temporary name, and a second name of what it replaces, until all is done. */
interface Placing {
  readonly path: string;
  readonly temporary: string;
  readonly kept: string;
}

/** Temporary files that are being written now: what nobody may find after the program was stopped. */
const unfinished = new Set<string>();

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
  { overwrite }: { readonly overwrite?: boolean },
): Promise<readonly string[]> {
  const notes: string[] = [];
  const placings = files.map(
    ({ path }): Placing => ({ path, temporary: temporaryFor(path), kept: temporaryFor(path) }),
  );
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
    if (!overwrite) refuseAll(placings.filter((one) => fs.existsSync(one.path)).map((one) => fileExists(one.path)));
    placeAll(placings, (next) => {
      path = next;
    });
  } catch (error) {
    throw error instanceof InputError ? error : fileProblem(path, 'write', error);
  } finally {
    for (const { temporary, kept } of placings) for (const name of [temporary, kept]) forget(name);
    for (const release of releases) release();
  }
  return notes;
}

/** Renaming onto a folder fails with a word for each system, and onto a device it would put the device away. */
function refuseOddTarget(path: string): void {
  const found = fs.lstatSync(path, { throwIfNoEntry: false });
  if (!found || found.isFile() || found.isSymbolicLink()) return;
  throw Object.assign(new Error('no plain file'), { code: found.isDirectory() ? 'EISDIR' : 'ENXIO' });
}

/** Opened in one step, so that no signal can come between its making and its being known. */
async function writePart(temporary: string, content: Content): Promise<void> {
  unfinished.add(temporary);
  const file = fs.openSync(temporary, 'wx');
  try {
    for (const part of chunksOf(content)) await promisify(fs.writeFile)(file, part);
    await promisify(fs.fsync)(file);
  } finally {
    fs.closeSync(file);
  }
}

/** Synchronous, so that neither a signal nor another file of this process comes between. Undone when one fails. */
function placeAll(placings: readonly Placing[], at: (path: string) => void): void {
  const isRecord = ({ path }: Placing): boolean => path.endsWith('.job.json');
  const undo: (() => void)[] = [];
  try {
    for (const one of [...placings.filter(isRecord), ...placings.filter((other) => !isRecord(other))]) {
      const { path, temporary, kept } = one;
      at(path);
      const isKept = keep(one);
      fs.renameSync(temporary, path);
      undo.push(() => (isKept ? fs.renameSync(kept, path) : fs.unlinkSync(path)));
    }
  } catch (error) {
    for (const step of undo) step();
    throw error;
  }
}

/** Whether what is about to be replaced has its second name. Disks without links go without. */
function keep({ path, kept }: Placing): boolean {
  if (!fs.existsSync(path)) return false;
  try {
    unfinished.add(kept);
    fs.linkSync(path, kept);
    return true;
  } catch {
    return false;
  }
}

function forget(temporary: string): void {
  removed(temporary);
  unfinished.delete(temporary);
}

/**
 * Makes a folder and those above it, each once. Node's own recursive mkdir never comes back where the system says that
 * a folder is missing although the one above it is there (as under /proc).
 *
 * @throws the system's error
 */
async function makeFolder(path: string): Promise<void> {
  if ((await stat(path).catch(() => undefined))?.isDirectory()) return;
  if (dirname(path) !== path) await makeFolder(dirname(path));
  await mkdir(path).catch((error: NodeJS.ErrnoException) => {
    // Somebody else, such as the next file of the same batch, made it meanwhile; what is no folder is met when a file is made in it.
    if (error.code !== 'EEXIST') throw error;
  });
}

/** Exit codes of a process that was stopped: 128 and the signal's number, as shells count. */
const STOPPED_BY: Readonly<Partial<Record<NodeJS.Signals, number>>> = { SIGINT: 130, SIGTERM: 143, SIGHUP: 129 };

/** Ctrl-C and its like leave no half-written files and no hidden cursor, and end with the code that shells expect. */
export function stopOnSignals(): void {
  for (const [signal, code] of Object.entries(STOPPED_BY)) {
    process.once(signal, () => {
      // Synchronous: nothing else of this process may run between this and its end.
      for (const path of unfinished) forget(path);
      if (process.stderr.isTTY) process.stderr.write('\u001b[?25h\n');
      process.stderr.write('stopped: every file that was written is whole, no half ones are left.\n');
      process.exit(code);
    });
  }
}

/*
 * What runs of this program leave in a folder of results while they work: temporary files, which bear the computer and the
 * process, so that another run can tell a working one from one that was killed; and for the moment of putting them in
 * place a claim on the folder.
 */

const HOST = createHash('sha256').update(hostname()).digest('hex').slice(0, 8);
const CLAIM = '.apertrue-claim';
const PART = /\.([0-9a-f]{8})-(\d+)-\d+\.part$/;

/** Files are put in place within milliseconds; a claim as old as this has nobody behind it. */
const STALE_CLAIM_MS = 10_000;
const CLAIM_WAIT_MS = 60_000;
const CLAIM_LOOK_MS = 15;
/** A temporary file of another computer that was touched since is likely being written. */
const STALE_PART_MS = 600_000;

/** Counts temporary files, so that no two of this process share a name. */
let made = 0;

/** A name for a temporary file beside `path` that nobody else takes. */
export function temporaryFor(path: string): string {
  made += 1;
  return `${path}.${HOST}-${process.pid}-${made}.part`;
}

/** Whether a process of this computer is there. */
function isRunning(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}

/** Milliseconds since something was written; undefined when it is gone. */
function ageMs(path: string): number | undefined {
  try {
    return Date.now() - fs.statSync(path).mtimeMs;
  } catch {
    return undefined;
  }
}

/**
 * Removes half-written files of runs of this computer that were killed; what may be another computer's is only named.
 *
 * @returns a sentence for each
 */
function clearLeftovers(folder: string): string[] {
  const notes: string[] = [];
  for (const name of namesIn(folder)) {
    const [, host, pid] = PART.exec(name) ?? [];
    const path = join(folder, name);
    if (host === undefined || unfinished.has(path)) continue;
    const killed = host === HOST && (Number(pid) === process.pid || !isRunning(Number(pid)));
    if (killed && removed(path)) notes.push(`${path}: removed; a run that was killed had left it half written.`);
    else if ((ageMs(path) ?? 0) > STALE_PART_MS)
      notes.push(`${path}: half written by another run. Delete it if none is at work.`);
  }
  return notes;
}

function namesIn(folder: string): string[] {
  try {
    return fs.readdirSync(folder).filter((name) => name.endsWith('.part'));
  } catch {
    // A folder that can't be listed can still be written to.
    return [];
  }
}

/** False where it was renamed, or never made. */
function removed(path: string): boolean {
  try {
    fs.unlinkSync(path);
    return true;
  } catch {
    return false;
  }
}

/**
 * Claims a folder, so that files that belong together are put in place without another run's between them. A claim
 * whose run was killed is taken over.
 *
 * @returns gives the claim back; synchronous
 * @throws the system's error; code EBUSY when others hold it for a minute
 */
async function claimFolder(folder: string): Promise<() => void> {
  const claim = join(folder, CLAIM);
  const until = Date.now() + CLAIM_WAIT_MS;
  for (;;) {
    try {
      fs.closeSync(fs.openSync(claim, 'wx'));
      return () => void removed(claim);
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
    }
    if ((ageMs(claim) ?? 0) > STALE_CLAIM_MS) setAside(claim);
    else if (Date.now() > until) throw Object.assign(new Error('claimed'), { code: 'EBUSY' });
    else await wait(CLAIM_LOOK_MS);
  }
}

/** Renamed first and deleted then: of two runs that find the same old claim, only one moves it. */
function setAside(claim: string): void {
  const aside = temporaryFor(claim);
  try {
    fs.renameSync(claim, aside);
  } catch {
    return;
  }
  removed(aside);
}
