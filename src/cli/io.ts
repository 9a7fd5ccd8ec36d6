import { closeSync, fsync, openSync, writeFile } from 'node:fs';
import { access, open, readFile, rename, stat, unlink } from 'node:fs/promises';
import { dirname } from 'node:path';
import { promisify } from 'node:util';
import { InputError } from '../errors.js';
import { configFolder } from './config-folder.js';
import { fileExists } from './existing-files.js';
import { makeFolder } from './make-folder.js';
import { beginFile, endFile } from './unfinished.js';

/** Everything a command may touch outside its arguments. Tests hand in their own. */
export interface Io {
  /** Data for the next program. */
  out(text: string): void;
  /** Words for a person. */
  say(text: string): void;
  readFile(path: string): Promise<Uint8Array>;
  /** The first bytes of a file: at most `length`. */
  readStart(path: string, length: number): Promise<Uint8Array>;
  exists(path: string): Promise<boolean>;
  /** Writes the whole file or nothing; makes missing folders. Refuses an existing file unless `overwrite`. */
  writeFile(path: string, bytes: Uint8Array | string, options: { overwrite: boolean }): Promise<void>;
  /** Paths for a glob pattern, sorted; the pattern itself when it holds no wildcard. */
  expand(pattern: string): Promise<string[]>;
  now(): Date;
  readonly isTerminal: boolean;
  readonly columns: number;
  readonly cwd: string;
  /** Whether severities are coloured. */
  readonly colours?: boolean;
  /** Where this user keeps settings for all folders. */
  readonly configFolder?: string;
  /** What a person types or another program pipes in. */
  readonly input?: Input;
}

export interface Input {
  readonly isTerminal: boolean;
  /** Line by line, until the input ends. */
  lines(): AsyncIterableIterator<string>;
}

/** What the system's error codes mean; a raw code or text of the system is never shown alone. */
const FILE_REASONS: Readonly<Record<string, string>> = {
  ENOENT: 'there is no such file',
  EACCES: 'no permission',
  EPERM: 'no permission',
  EISDIR: 'it is a folder',
  EEXIST: 'something of that name is there already',
  ENOTDIR: 'a part of its path is a file, not a folder',
  ENAMETOOLONG: 'its name is too long for this disk',
  ENOSPC: 'the disk is full',
  EDQUOT: 'your share of the disk is used up',
  EFBIG: 'it would be larger than this disk allows',
  EROFS: 'the disk is read-only',
  EMFILE: 'too many files are open',
  ENFILE: 'too many files are open',
  EBUSY: 'another program holds it',
  ETXTBSY: 'another program holds it',
  ELOOP: 'its links lead in a circle',
  EINVAL: 'its name holds signs that this disk does not allow',
  EIO: 'the disk reports a fault',
  ENXIO: 'it is no file that can be read',
  ERR_FS_FILE_TOO_LARGE: 'it is larger than 2 GB',
  ERR_INVALID_ARG_VALUE: 'its name holds signs that no disk allows',
};
const READ_HINTS: Readonly<Record<string, string>> = {
  EISDIR: "Name a file in it; several at once with a pattern in quotes, such as 'folder/*.gbr'.",
  EACCES: 'Check who may read it.',
  EPERM: 'Check who may read it.',
  EIO: 'Copy it from another disk.',
  ERR_FS_FILE_TOO_LARGE: 'Export it smaller, or in parts.',
};
const WRITE_REASONS: Readonly<Record<string, string>> = {
  ENOENT: 'no folder can be made there',
};
const WRITE_HINTS: Readonly<Record<string, string>> = {
  ENOSPC: 'Make room on the disk, or choose another one with --out.',
  ENAMETOOLONG: 'Choose a shorter name, or a folder nearer to the top of the disk with --out.',
};

function fileProblem(path: string, doing: 'read' | 'write', error: unknown): InputError {
  const code = (error as NodeJS.ErrnoException).code ?? '';
  const known = (doing === 'write' ? WRITE_REASONS[code] : undefined) ?? FILE_REASONS[code];
  const reason = known ?? `the system says "${code || (error instanceof Error ? error.message : String(error))}"`;
  return new InputError(
    {
      code: doing === 'read' ? 'FILE_NOT_READ' : 'FILE_NOT_WRITTEN',
      place: { file: shortened(path) },
      message: `can't ${doing} it: ${reason}.`,
      hint:
        doing === 'read'
          ? (READ_HINTS[code] ?? 'Check the name and the folder.')
          : (WRITE_HINTS[code] ?? 'Choose another place with --out.'),
    },
    { cause: error },
  );
}

const LONGEST_SHOWN = 200;

/** A name that is too long would hide what is wrong with it. */
function shortened(path: string): string {
  return path.length > LONGEST_SHOWN ? `${path.slice(0, 90)}…${path.slice(-60)}` : path;
}

/** Counts temporary files, so that no two of this process share a name. */
let written = 0;

/**
 * Temporary file, flush to disk, rename: readers see the old file or the new one, never half of it. It is opened in one
 * step, so that no signal can come between its making and its being known.
 */
async function writeWhole(path: string, bytes: Uint8Array | string): Promise<void> {
  await makeFolder(dirname(path));
  // Renaming onto a folder fails with a word for each system; this asks first.
  if ((await stat(path).catch(() => undefined))?.isDirectory())
    throw Object.assign(new Error('folder'), { code: 'EISDIR' });
  written += 1;
  const temporary = `${path}.${process.pid}-${written}.part`;
  beginFile(temporary);
  try {
    const file = openSync(temporary, 'wx');
    try {
      await promisify(writeFile)(file, bytes);
      await promisify(fsync)(file);
    } finally {
      closeSync(file);
    }
    await rename(temporary, path);
  } catch (error) {
    await unlink(temporary).catch(() => undefined);
    throw error;
  } finally {
    endFile(temporary);
  }
}

async function pathExists(path: string): Promise<boolean> {
  return access(path).then(
    () => true,
    () => false,
  );
}

async function* stdinLines(): AsyncIterableIterator<string> {
  const { createInterface } = await import('node:readline');
  const reader = createInterface({ input: process.stdin, crlfDelay: Number.POSITIVE_INFINITY });
  try {
    yield* reader;
  } finally {
    reader.close();
    process.stdin.unref?.();
  }
}

let piped: Promise<Uint8Array> | undefined;

/** All of what is piped in, for the file name "-"; kept, since it can't be read twice. */
function pipedBytes(): Promise<Uint8Array> {
  piped ??= (async () => {
    const parts: Uint8Array[] = [];
    for await (const part of process.stdin) parts.push(part as Uint8Array);
    return Buffer.concat(parts);
  })();
  return piped;
}

/** The real world: this process's streams, disk and clock. */
export function processIo(): Io {
  return {
    out: (text) => void process.stdout.write(text),
    say: (text) => void process.stderr.write(text),
    async readFile(path) {
      try {
        return path === '-' ? await pipedBytes() : await readFile(path);
      } catch (error) {
        throw fileProblem(path, 'read', error);
      }
    },
    async readStart(path, length) {
      if (path === '-') return (await pipedBytes()).subarray(0, length);
      try {
        const handle = await open(path, 'r');
        try {
          const { buffer, bytesRead } = await handle.read(Buffer.alloc(length), 0, length, 0);
          return buffer.subarray(0, bytesRead);
        } finally {
          await handle.close();
        }
      } catch (error) {
        throw fileProblem(path, 'read', error);
      }
    },
    exists: pathExists,
    async writeFile(path, bytes, { overwrite }) {
      if (!overwrite && (await pathExists(path))) {
        throw new InputError(fileExists(path));
      }
      try {
        await writeWhole(path, bytes);
      } catch (error) {
        throw fileProblem(path, 'write', error);
      }
    },
    async expand(pattern) {
      if (!/[*?[\]{}]/.test(pattern) || (await pathExists(pattern))) return [pattern];
      const { glob } = await import('tinyglobby');
      const found = await glob(pattern.replaceAll('\\', '/'), {
        absolute: false,
        dot: false,
        expandDirectories: false,
      });
      return found.sort();
    },
    now: () => new Date(),
    isTerminal: process.stderr.isTTY === true,
    columns: process.stderr.columns ?? 100,
    cwd: process.cwd(),
    // no-color.org: NO_COLOR set to anything but an empty text.
    colours: process.stderr.isTTY === true && !process.env.NO_COLOR && process.env.TERM !== 'dumb',
    configFolder: configFolder(),
    input: { isTerminal: process.stdin.isTTY === true, lines: stdinLines },
  };
}
