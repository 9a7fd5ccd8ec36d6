import { createHash } from 'node:crypto';
import { closeSync, openSync, readdirSync, readFileSync, renameSync, statSync, unlinkSync, writeSync } from 'node:fs';
import { hostname } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';

/** Exit codes of a process that was stopped: 128 and the signal's number, as shells count. */
const STOPPED_BY: Readonly<Partial<Record<NodeJS.Signals, number>>> = { SIGINT: 130, SIGTERM: 143, SIGHUP: 129 };

/** Temporary files that are being written now: what nobody may find after the program was stopped. */
const unfinished = new Set<string>();

export function beginFile(temporary: string): void {
  unfinished.add(temporary);
}

export function endFile(temporary: string): void {
  unfinished.delete(temporary);
}

/** Whether this process is writing the file. */
const isUnfinished = (path: string): boolean => unfinished.has(path);

/** Removes what is half written. Synchronous: nothing else of this process may run between this and its end. */
function removeUnfinished(): void {
  for (const path of unfinished) {
    try {
      unlinkSync(path);
    } catch {
      // It was renamed or never made; both are as they should be.
    }
  }
  unfinished.clear();
}

/** Ctrl-C and its like leave no half-written files and no hidden cursor, and end with the code that shells expect. */
export function stopOnSignals(): void {
  for (const [signal, code] of Object.entries(STOPPED_BY)) {
    process.once(signal, () => {
      removeUnfinished();
      if (process.stderr.isTTY) process.stderr.write('\u001b[?25h\n');
      process.stderr.write('stopped: every file that was written is whole, no half ones are left.\n');
      process.exit(code);
    });
  }
}

/*
 * What runs of this program leave in a folder of results while they work: temporary files, and for the moment of putting
 * them in place a claim on the folder. Both bear the computer and the process, so that another run can tell a working
 * one from one that was killed.
 */

const HOST = createHash('sha256').update(hostname()).digest('hex').slice(0, 8);
const OWNER = `${HOST}-${process.pid}`;
const CLAIM = '.apertrue-claim';
const PART = /\.([0-9a-f]{8})-(\d+)-\d+\.part$/;

/** Files are put in place within milliseconds; a claim as old as this has nobody behind it. */
const STALE_CLAIM_MS = 30_000;
const CLAIM_WAIT_MS = 60_000;
const CLAIM_LOOK_MS = 15;
/** A temporary file of another computer that was touched since is likely being written. */
const STALE_PART_MS = 600_000;

/** Counts temporary files, so that no two of this process share a name. */
let made = 0;

/** A name for a temporary file beside `path` that nobody else takes. */
export function temporaryFor(path: string): string {
  made += 1;
  return `${path}.${OWNER}-${made}.part`;
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
    return Date.now() - statSync(path).mtimeMs;
  } catch {
    return undefined;
  }
}

/**
 * Removes half-written files of runs of this computer that were killed; what may be another computer's is only named.
 *
 * @returns a sentence for each
 */
export function clearLeftovers(folder: string): string[] {
  const notes: string[] = [];
  for (const name of namesIn(folder)) {
    const [, host, pid] = PART.exec(name) ?? [];
    const path = join(folder, name);
    if (host === undefined || isUnfinished(path)) continue;
    const killed = host === HOST && (Number(pid) === process.pid || !isRunning(Number(pid)));
    if (killed && removed(path)) notes.push(`${path}: removed; a run that was killed had left it half written.`);
    else if ((ageMs(path) ?? 0) > STALE_PART_MS)
      notes.push(`${path}: half written by another run. Delete it if none is at work.`);
  }
  return notes;
}

function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder).filter((name) => name.endsWith('.part'));
  } catch {
    // A folder that can't be listed can still be written to.
    return [];
  }
}

function removed(path: string): boolean {
  try {
    unlinkSync(path);
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
 * @throws the system's error; code EBUSY when another run holds it for a minute
 */
export async function claimFolder(folder: string): Promise<() => void> {
  const claim = join(folder, CLAIM);
  const until = Date.now() + CLAIM_WAIT_MS;
  while (!taken(claim)) {
    if (isStale(claim)) setAside(claim);
    else if (Date.now() > until) throw Object.assign(new Error('claimed'), { code: 'EBUSY' });
    else await wait(CLAIM_LOOK_MS);
  }
  return () => void removed(claim);
}

function taken(claim: string): boolean {
  let file: number;
  try {
    file = openSync(claim, 'wx');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EEXIST') return false;
    throw error;
  }
  try {
    writeSync(file, OWNER);
  } catch {
    // On a full disk the claim stands without a name; it is given back all the same.
  } finally {
    closeSync(file);
  }
  return true;
}

function isStale(claim: string): boolean {
  const age = ageMs(claim);
  if (age === undefined) return false;
  const [host, pid] = ownerOf(claim).split('-');
  return age > STALE_CLAIM_MS || (host === HOST && !isRunning(Number(pid)));
}

function ownerOf(claim: string): string {
  try {
    return readFileSync(claim, 'utf8');
  } catch {
    return '';
  }
}

/** Renamed first and deleted then: of two runs that find the same old claim, only one moves it. */
function setAside(claim: string): void {
  const aside = temporaryFor(claim);
  try {
    renameSync(claim, aside);
  } catch {
    return;
  }
  removed(aside);
}
