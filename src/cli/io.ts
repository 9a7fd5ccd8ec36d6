import { type BigIntStats, constants } from 'node:fs';
import { access, type FileHandle, open, stat } from 'node:fs/promises';
import { homedir } from 'node:os';
import { isAbsolute, join } from 'node:path';
import { type Problem, refuseAll } from '../errors.js';
import { EXIT, type ExitCode } from './exit-codes.js';
import { fileExists, fileProblem, wouldReplaceInput } from './file-problem.js';
import { type FileToWrite, writeTogether } from './write-together.js';

/** The folder of this user's own settings, by the convention of the platform. */
export function configFolder(
  platform: NodeJS.Platform = process.platform,
  env: NodeJS.ProcessEnv = process.env,
  home: string = homedir(),
): string {
  if (platform === 'win32') return join(env.APPDATA ?? join(home, 'AppData', 'Roaming'), 'apertrue');
  if (platform === 'darwin') return join(home, 'Library', 'Preferences', 'apertrue');
  // XDG Base Directory Specification: a relative path there is to be ignored.
  const xdg = env.XDG_CONFIG_HOME;
  return join(xdg !== undefined && isAbsolute(xdg) ? xdg : join(home, '.config'), 'apertrue');
}

export interface OverwriteOptions {
  readonly overwrite?: boolean;
  /** For a file that is brought up to date. */
  readonly ontoInput?: boolean;
}

/** What a run has come to so far, besides what its command finds out itself. */
export interface RunState {
  /** What was told of as having ended the work on something. */
  readonly problems: Problem[];
  /** Options that the project file has answered, by the names of their values; none that was typed is among them. */
  answered: ReadonlySet<string>;
  /** Of the options of its command. */
  values: object;
  /** What its command ended with. */
  code: ExitCode;
  /** Something was told of that the exit code must say. */
  isDoubted?: boolean;
  /** The artwork does not say how large it is, or says what nobody may have meant. */
  isUnsized?: boolean;
  /** What helps where the bed can't hold it: nobody is told to cut that. */
  beyondBed?: string;
  /** Its stencil lies where it would be written, which `correct` would refuse to do once more. */
  isMade?: boolean;
  /** Artwork that was written, to go on with. */
  readonly treated: string[];
  /** What to do next, a command or a sentence each, where the command says so itself; none: its result is none to go on with. */
  next?: readonly string[];
}

export const newRun = (): RunState => ({ problems: [], answered: new Set(), values: {}, code: EXIT.done, treated: [] });

/** Everything a command may touch outside its arguments. Tests hand in their own. */
export interface Io {
  readonly run: RunState;
  /** Data for the next program. */
  out(text: string): void;
  /** Words for a person. */
  say(text: string): void;
  /** A line on how far the work is, on a terminal; whatever is said next takes its place. */
  progress?(words: string): void;
  readFile(path: string): Promise<Uint8Array>;
  /** The first bytes of a file: at most `length`. */
  readStart(path: string, length: number): Promise<Uint8Array>;
  /** Reads a file that no result is made from, such as one that is in a result's way. */
  lookAt(path: string): Promise<Uint8Array>;
  exists(path: string): Promise<boolean>;
  /**
   * A problem for each of the paths that may not be written: what this run has read, whatever its name there, and unless
   * `overwrite` what exists.
   */
  inTheWay(paths: readonly string[], options: OverwriteOptions): Promise<Problem[]>;
  /**
   * Writes all of the files or none; makes missing folders. Two runs at once never leave one's file beside the other's.
   * Refuses what is {@link Io.inTheWay}, all of it together.
   *
   * @returns what is to be told of other runs' half-written files
   */
  writeFiles(files: readonly FileToWrite[], options: OverwriteOptions): Promise<readonly string[]>;
  /** Paths for a glob pattern, sorted; the pattern itself when it holds no wildcard. */
  expand(pattern: string): Promise<string[]>;
  now(): Date;
  readonly isTerminal: boolean;
  readonly columns: number;
  /** Columns of the terminal that the report goes to; undefined where it goes elsewhere. */
  readonly outColumns?: number;
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

/**
 * Runs something on an open file that stands for itself: no folder, and no pipe or device, which may have no end. What the
 * system says is said in words.
 */
async function reading<T>(path: string, work: (file: FileHandle, facts: BigIntStats) => Promise<T>): Promise<T> {
  try {
    // Without waiting: opening a pipe would otherwise stop until somebody writes into it.
    const file = await open(path, constants.O_RDONLY | (constants.O_NONBLOCK ?? 0));
    try {
      const facts = await file.stat({ bigint: true });
      if (facts.isDirectory()) throw Object.assign(new Error('folder'), { code: 'EISDIR' });
      if (!facts.isFile()) throw Object.assign(new Error('no plain file'), { code: 'ENXIO' });
      return await work(file, facts);
    } finally {
      await file.close();
    }
  } catch (error) {
    throw fileProblem(path, 'read', error);
  }
}

/** A file itself, whatever its names: links, and letters that a disk takes for the same. */
const identity = ({ dev, ino }: { dev: bigint; ino: bigint }): string => `${dev}:${ino}`;

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

/** Of a plain terminal. */
const USUAL_COLUMNS = 80;

/** The real world: this process's streams, disk and clock. */
export function processIo(): Io {
  /** What was read, by the file itself: no result may replace it. */
  const inputs = new Map<string, string>();
  const readingInput = <T>(path: string, work: (file: FileHandle) => Promise<T>): Promise<T> =>
    reading(path, (file, facts) => {
      inputs.set(identity(facts), path);
      return work(file);
    });
  const inTheWay: Io['inTheWay'] = async (paths, { overwrite, ontoInput }) => {
    const problems = paths.map(async (path) => {
      const facts = await stat(path, { bigint: true }).catch(() => undefined);
      const input = ontoInput || !facts ? undefined : inputs.get(identity(facts));
      if (input !== undefined) return wouldReplaceInput(path, input);
      return !overwrite && (await pathExists(path)) ? fileExists(path) : [];
    });
    return (await Promise.all(problems)).flat();
  };
  const writeFiles: Io['writeFiles'] = async (files, options) => {
    const paths = files.map(({ path }) => path);
    refuseAll(await inTheWay(paths, options));
    return writeTogether(files, options);
  };
  return {
    run: newRun(),
    out: (text) => void process.stdout.write(text),
    say: (text) => void process.stderr.write(text),
    readFile: async (path) => (path === '-' ? pipedBytes() : readingInput(path, (file) => file.readFile())),
    readStart: async (path, length) => {
      if (path === '-') return (await pipedBytes()).subarray(0, length);
      const { buffer, bytesRead } = await readingInput(path, (file) => file.read(Buffer.alloc(length), 0, length, 0));
      return buffer.subarray(0, bytesRead);
    },
    lookAt: (path) => reading(path, (file) => file.readFile()),
    exists: pathExists,
    inTheWay,
    writeFiles,
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
    // Some terminals say 0 where they don't know.
    columns: process.stderr.columns || USUAL_COLUMNS,
    ...(process.stdout.isTTY ? { outColumns: process.stdout.columns || USUAL_COLUMNS } : {}),
    cwd: process.cwd(),
    // no-color.org: NO_COLOR set to anything but an empty text.
    colours: process.stderr.isTTY === true && !process.env.NO_COLOR && process.env.TERM !== 'dumb',
    configFolder: configFolder(),
    input: { isTerminal: process.stdin.isTTY === true, lines: stdinLines },
  };
}
