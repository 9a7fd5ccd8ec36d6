import { InputError, inFile, type Problem, refuseAll } from '../errors.js';

const MORE_FILES = 'Close other programs, or allow more open files (ulimit -n).';

/** What the system's error codes mean, and what helps reading and writing; a raw code or text of the system is never shown alone. */
const SYSTEM: Readonly<Record<string, readonly [reason: string, reading?: string, writing?: string]>> = {
  ENOENT: ['there is no such file'],
  EACCES: ['no permission', 'Check who may read it.'],
  EPERM: ['no permission', 'Check who may read it.'],
  EISDIR: ['it is a folder', "Name a file in it; several at once with a pattern in quotes, such as 'folder/*.gbr'."],
  EEXIST: ['something of that name is there already'],
  ENOTDIR: ['a part of its path is a file, not a folder'],
  ENAMETOOLONG: [
    'its name is too long for this disk',
    undefined,
    'Choose a shorter name, or a folder nearer to the top of the disk with --out.',
  ],
  ENOSPC: ['the disk is full', undefined, 'Make room on the disk, or choose another one with --out.'],
  EDQUOT: ['your share of the disk is used up'],
  EFBIG: ['it would be larger than this disk allows'],
  EROFS: ['the disk is read-only'],
  EMFILE: ['too many files are open', MORE_FILES, MORE_FILES],
  ENFILE: ['too many files are open', MORE_FILES, MORE_FILES],
  EBUSY: ['another program holds it', undefined, 'Close that program, or wait until it is done.'],
  ETXTBSY: ['another program holds it'],
  ELOOP: ['its links lead in a circle'],
  EINVAL: ['its name holds signs that this disk does not allow'],
  EIO: ['the disk reports a fault', 'Copy it from another disk.'],
  ENXIO: ['it is no file but a pipe or a device', 'Save what comes out of it to a file first.'],
  ERR_FS_FILE_TOO_LARGE: ['it is larger than 2 GB', 'Export it smaller, or in parts.'],
  ERR_INVALID_ARG_VALUE: ['its name holds signs that no disk allows'],
};

/** What went wrong with a file, in words. */
export function fileProblem(path: string, doing: 'read' | 'write', error: unknown): InputError {
  const code = (error as NodeJS.ErrnoException).code ?? '';
  const isRead = doing === 'read';
  const [known, reading = 'Check the name and the folder.', writing = 'Choose another place with --out.'] =
    SYSTEM[code] ?? [];
  const said = `the system says "${code || (error instanceof Error ? error.message : String(error))}"`;
  const reason = !isRead && code === 'ENOENT' ? 'no folder can be made there' : (known ?? said);
  return new InputError(
    {
      code: isRead ? 'FILE_NOT_READ' : 'FILE_NOT_WRITTEN',
      place: { file: shortened(path) },
      message: `can't ${doing} it: ${reason}.`,
      hint: isRead ? reading : writing,
    },
    { cause: error },
  );
}

const LONGEST_SHOWN = 200;

/** A name that is too long would hide what is wrong with it. */
function shortened(path: string): string {
  return path.length > LONGEST_SHOWN ? `${path.slice(0, 90)}…${path.slice(-60)}` : path;
}

/** A file that would be replaced and was not meant to be. */
export function fileExists(path: string): Problem {
  return {
    code: 'FILE_EXISTS',
    place: { file: path },
    message: 'the file exists already.',
    hint: 'Give --overwrite to replace it, or another --out.',
  };
}

/** A result that would take the place of what it is made from; `input` is the name under which that was read. */
export function wouldReplaceInput(path: string, input: string): Problem {
  return {
    code: 'WOULD_REPLACE_INPUT',
    place: { file: path },
    message:
      path === input
        ? 'the result would replace a file that it is made from.'
        : `the result would replace ${input}, which it is made from: both names are one file.`,
    hint: 'Choose another name or folder with --out.',
  };
}

/** The code of what is no fault of the user's data. */
export const BUG = 'BUG';

/** What the engine says when something is longer, larger or nested deeper than it can hold. */
const BEYOND_THE_ENGINE =
  /call stack|Invalid (?:string|array|typed array|array buffer) length|allocation failed|Cannot create a string longer|invalid size|out of memory/i;
const ENGINE_CODES = new Set([
  'ERR_STRING_TOO_LONG',
  'ERR_BUFFER_TOO_LARGE',
  'ERR_MEMORY_ALLOCATION_FAILED',
  'ERR_WORKER_OUT_OF_MEMORY',
]);

/**
 * Anything that was thrown as problems in words: what is wrong with the user's data; what is more than this computer or
 * the system gives; else a bug, code BUG, which ends one file of a batch and not the others.
 */
export function problemsOf(error: unknown, file?: string): readonly Problem[] {
  const place = file === undefined ? undefined : { file };
  if (error instanceof InputError) return (file === undefined ? error : inFile(error, file)).problems;
  const text = error instanceof Error ? error.message : String(error);
  const { code } = (error ?? {}) as NodeJS.ErrnoException;
  if (ENGINE_CODES.has(code ?? '') || (error instanceof RangeError && BEYOND_THE_ENGINE.test(text))) {
    return [
      {
        code: 'TOO_MUCH',
        place,
        message: 'it is larger, longer or nested deeper than this program can hold.',
        hint: 'Check that this is the right file; export it smaller or in parts.',
      },
    ];
  }
  // What the system refused, where it is not about one file.
  const [reason, hint] = code?.startsWith('ERR_') ? [] : (SYSTEM[code ?? ''] ?? []);
  if (reason) return [{ code: 'SYSTEM_REFUSED', place, message: `the system refused something: ${reason}.`, hint }];
  return [
    {
      code: BUG,
      place,
      message: `a bug in apertrue: ${text}.`.replace(/\.\.$/, '.'),
      hint: 'Please report it with the output of the same command and --debug.',
    },
  ];
}

/** Names the file where what is thrown by work on it names none. */
export async function about<T>(file: string, work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (error) {
    throw error instanceof InputError ? inFile(error, file) : error;
  }
}

/** What the work makes of each. @throws {InputError} the problems of all of them together */
export async function allOf<T, R>(items: readonly T[], work: (item: T) => Promise<R>): Promise<R[]> {
  const [done, problems]: [R[], Problem[]] = [[], []];
  for (const item of items) {
    try {
      done.push(await work(item));
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      problems.push(...error.problems);
    }
  }
  refuseAll(problems);
  return done;
}
