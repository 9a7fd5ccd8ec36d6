import { access, mkdir, open, readFile, rename, unlink } from 'node:fs/promises';
import { dirname } from 'node:path';
import { InputError } from '../errors.js';
import { fileExists } from './existing-files.js';

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
}

const FILE_REASONS: Record<string, string> = {
  ENOENT: 'there is no such file',
  EACCES: 'no permission',
  EPERM: 'no permission',
  EISDIR: 'it is a folder',
  ENOTDIR: 'a part of its path is not a folder',
  ENOSPC: 'the disk is full',
  EROFS: 'the disk is read-only',
  EMFILE: 'too many files are open',
};

function fileProblem(path: string, doing: 'read' | 'write', error: unknown): InputError {
  const code = (error as NodeJS.ErrnoException).code ?? '';
  const reason = FILE_REASONS[code] ?? (error instanceof Error ? error.message : String(error));
  return new InputError(
    {
      code: doing === 'read' ? 'FILE_NOT_READ' : 'FILE_NOT_WRITTEN',
      place: { file: path },
      message: `can't ${doing} it: ${reason}.`,
      hint: doing === 'read' ? 'Check the name and the folder.' : 'Choose another folder with --out.',
    },
    { cause: error },
  );
}

/** Counts temporary files, so that no two of this process share a name. */
let written = 0;

/** Temporary file, flush to disk, rename: readers see the old file or the new one, never half of it. */
async function writeWhole(path: string, bytes: Uint8Array | string): Promise<void> {
  await mkdir(dirname(path), { recursive: true });
  written += 1;
  const temporary = `${path}.${process.pid}-${written}.part`;
  try {
    const handle = await open(temporary, 'wx');
    try {
      await handle.writeFile(bytes);
      await handle.sync();
    } finally {
      await handle.close();
    }
    await rename(temporary, path);
  } catch (error) {
    await unlink(temporary).catch(() => undefined);
    throw error;
  }
}

async function pathExists(path: string): Promise<boolean> {
  return access(path).then(
    () => true,
    () => false,
  );
}

/** The real world: this process's streams, disk and clock. */
export function processIo(): Io {
  return {
    out: (text) => void process.stdout.write(text),
    say: (text) => void process.stderr.write(text),
    async readFile(path) {
      try {
        return await readFile(path);
      } catch (error) {
        throw fileProblem(path, 'read', error);
      }
    },
    async readStart(path, length) {
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
  };
}
