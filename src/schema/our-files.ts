import { InputError } from '../errors.js';

/** What the files of this project are, by their key `format`, and where one goes, so that a mix-up is mended at once. */
const KINDS: Readonly<Record<string, readonly [name: string, use?: string]>> = {
  'apertrue-profile': ['a profile', 'It goes with --profile.'],
  'apertrue-features': [
    'a features file of a coupon',
    'It goes with --features, or beside the readings file; a profile is made by `fit`.',
  ],
  'apertrue-pattern': ['a coupon pattern', 'It is for `coupon`.'],
  'apertrue-rules': ['a rule set', 'It goes with --rules.'],
  'apertrue-limits': ['a limits file', 'It goes with --limits of `check`.'],
  'apertrue-project': ['a project file', 'It is found by itself, as apertrue.json in the folder or one above.'],
  'apertrue-job': ['a job file, the record of something made before'],
  'apertrue-check': ['a result of `check`'],
  'apertrue-treated': ['a result of `treat`'],
  'apertrue-window': ['a result of `window`'],
  'apertrue-fit': ['a result of `fit`'],
  'apertrue-spot': ['a result of `spot`'],
  'apertrue-control': ['a result of `control`'],
};
const READINGS = 'a readings file';
/** The key stands near the start of files that programs write; a hand-written one may hold it anywhere. */
const LOOKED_AT = 1_000_000;

/** The name of a file's kind by its key `format`; undefined for others. */
export function nameOfFormat(format: unknown): string | undefined {
  return typeof format === 'string' ? KINDS[format]?.[0] : undefined;
}

/** What a text is, if it is a file of this project's own, or a spreadsheet; for messages about mix-ups. */
function nameOfOurFile(
  text: string,
): { readonly name: string; readonly use?: string; readonly line?: number } | undefined {
  // A byte order mark is white space, too.
  const head = text.slice(0, LOOKED_AT).trimStart();
  // Zip archives (Office Open XML, OpenDocument), and the older compound files.
  if (/^(?:PK\u0003\u0004|\u00d0\u00cf\u0011\u00e0)/.test(head)) {
    return { name: 'the workbook of a spreadsheet program, or another archive', use: 'Save its sheet as CSV.' };
  }
  if (head.startsWith('{')) {
    const found = /"format"\s*:\s*"(apertrue-[a-z]+)"/.exec(head);
    const [name, use] = KINDS[found?.[1] ?? ''] ?? [];
    return name ? { name, use, line: head.slice(0, found?.index).split('\n').length } : undefined;
  }
  const header = head.split(/\r?\n/).find((line) => line.trim() !== '' && !line.startsWith('#')) ?? '';
  const columns = header
    .toLowerCase()
    .split(/[,;\t]/)
    .map((cell) => cell.trim().replace(/"/g, ''));
  const isReadings = columns.includes('feature') && (columns.includes('reading_mm') || columns.includes('outcome'));
  return isReadings ? { name: READINGS, use: 'It is for `fit` or `window`.' } : undefined;
}

/** The error for a file of this project's own in the wrong place; undefined for any other file. */
export function wrongFile(
  file: string | undefined,
  wanted: string,
  text: string,
  code: 'WRONG_FILE' | 'BAD_VALUE' = 'WRONG_FILE',
): InputError | undefined {
  const ours = nameOfOurFile(text);
  if (!ours) return undefined;
  return new InputError({
    code,
    place: { file, ...(ours.line === undefined ? {} : { line: ours.line, key: 'format' }) },
    message: `expected ${wanted}, found ${ours.name}.`,
    hint: ours.use,
  });
}
