import { createHash } from 'node:crypto';
import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { basename, dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { sniff } from '../artwork/sniff.js';
import { formatProblem, InputError, inFile } from '../errors.js';
import { readOptionsOf } from './artwork-options.js';
import type { CorrectOptionValues } from './correct.js';
import { type CorrectInput, type CorrectOutcome, type CorrectSettings, correctJob, type Turn } from './correct-job.js';
import { sayReport, saySummary } from './correct-words.js';
import type { WorkerAnswer } from './correct-worker.js';
import { EXIT, type ExitCode } from './exit-codes.js';
import type { Io } from './io.js';
import { loadProfile } from './load-profile.js';
import { rulesText } from './load-rules.js';

const MM_PER_INCH = 25.4;

/** A file to be worked on, not yet read: a batch of large images must not lie in memory together. */
interface Pending {
  readonly file: string;
  readonly stem: string;
  readonly load: () => Promise<{ bytes: Uint8Array; side?: 'top' | 'bottom' }>;
}

export async function runCorrect(patterns: readonly string[], values: CorrectOptionValues, io: Io): Promise<ExitCode> {
  const settings = await settingsOf(values, io);
  const { pending, failed } = await collect(patterns, io);
  const outcomes: CorrectOutcome[] = [];
  let failures = failed;
  const inputs = new Set(pending.map(({ file }) => resolve(io.cwd, file)));
  const total = pending.length + failed;
  const progress = await progressOf(io, pending.length);
  const workers = await workersFor(values.jobs ?? Math.min(availableParallelism(), 4), pending.length);
  const handle = async (item: Pending): Promise<void> => {
    try {
      const { bytes, side } = await item.load();
      const input: CorrectInput = {
        file: item.file,
        stem: item.stem,
        bytes,
        read: readOptionsOf(values, item.file),
        side,
      };
      await refuseExisting(item, settings, values, inputs, io);
      const outcome = await workers.run(input, settings);
      for (const { name, bytes: content } of outcome.files) {
        await io.writeFile(join(values.out, name), content, { overwrite: values.overwrite === true });
      }
      outcomes.push(outcome);
      progress.step();
      if (!values.json) sayReport(outcome, settings, values.out, io);
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      failures += 1;
      progress.step();
      for (const problem of inFile(error, item.file).problems) io.say(`error: ${formatProblem(problem)}\n`);
    }
  };
  try {
    await eachOf(pending, workers.width, handle);
  } finally {
    progress.stop();
    await workers.close();
  }
  const order = new Map(pending.map((item, i) => [item.file, i]));
  outcomes.sort((p, q) => (order.get(p.report.file) ?? 0) - (order.get(q.report.file) ?? 0));
  if (values.json)
    io.out(
      `${JSON.stringify(
        outcomes.map(({ report, files }) => ({ ...report, outputs: files.map((f) => f.name) })),
        null,
        2,
      )}\n`,
    );
  if (total > 1) saySummary(outcomes, failures, values.out, io);
  if (outcomes.length === 0) return EXIT.badInput;
  if (failures > 0) return EXIT.someFailed;
  return outcomes.some(({ report }) => report.narrow.length > 0) ? EXIT.findings : EXIT.done;
}

async function settingsOf(values: CorrectOptionValues, io: Io): Promise<CorrectSettings> {
  const { profile, bytes } = await loadProfile(values.profile, io);
  const dpi = values.machineDpi;
  const pitchMm = values.pitchMm ?? (dpi ? { x: MM_PER_INCH / dpi.x, y: MM_PER_INCH / dpi.y } : profile.pitchMm);
  const formats = values.format ?? (['png'] as const);
  if (!pitchMm) {
    throw new InputError({
      code: 'PITCH_UNKNOWN',
      place: { file: values.profile },
      message: 'neither the profile nor the options say the pitch of the dots.',
      hint: 'Give --pitch-mm (for example 0.0254) or --machine-dpi (for example 1000), the same as for the coupon.',
    });
  }
  return {
    profile,
    profileSha256: createHash('sha256').update(bytes).digest('hex'),
    formats,
    pitchMm: { x: pitchMm.x, y: pitchMm.y },
    marginMm: values.marginMm ?? 5,
    ...(values.canvasMm ? { canvas: values.canvasMm } : {}),
    ...(values.atMm ? { atMm: values.atMm } : {}),
    mirror: values.mirror ?? 'auto',
    rotateDeg: Number(values.rotate ?? 0) as Turn,
    negative: values.negative === true,
    ...(values.sweep ? { scanDirection: values.sweep } : {}),
    ...(values.lineIntervalMm === undefined ? {} : { lineIntervalMm: values.lineIntervalMm }),
    ...(values.burnEveryNthRow === undefined ? {} : { burnEveryNthRow: values.burnEveryNthRow }),
    strict: values.strict === true,
    ...(values.grey === undefined ? {} : { grey: values.grey }),
    ...(values.rules === undefined
      ? {}
      : { rules: { ...(await rulesText(values.rules, io)), thicknessMm: values.thicknessMm } }),
  };
}

/** Expands globs and archives. A pattern that finds nothing and an archive that can't be read count as failed files. */
async function collect(patterns: readonly string[], io: Io): Promise<{ pending: Pending[]; failed: number }> {
  const files: string[] = [];
  let failed = 0;
  for (const pattern of patterns) {
    const found = await io.expand(pattern);
    if (found.length === 0) {
      failed += 1;
      io.say(`error: ${pattern}: no file matches it. Check the folder; put globs in quotes.\n`);
    }
    for (const file of found) if (!files.includes(file)) files.push(file);
  }
  const items: (Pending & { name: string })[] = [];
  for (const file of files) {
    if (/\.zip$/i.test(file)) {
      try {
        items.push(...(await fromArchive(file, io)));
      } catch (error) {
        if (!(error instanceof InputError)) throw error;
        failed += 1;
        for (const problem of inFile(error, file).problems) io.say(`error: ${formatProblem(problem)}\n`);
      }
    } else {
      items.push({ file, name: basename(file), stem: '', load: async () => ({ bytes: await io.readFile(file) }) });
    }
  }
  return { pending: withStems(items), failed };
}

async function fromArchive(file: string, io: Io): Promise<(Pending & { name: string })[]> {
  const bytes = await io.readFile(file);
  if (sniff(bytes) !== 'zip') return [{ file, name: basename(file), stem: '', load: async () => ({ bytes }) }];
  const { listArchive } = await import('../artwork/archive/list-archive.js');
  const archive = await listArchive(bytes, { name: file });
  io.say(`${file}: ${archive.entries.length} files\n`);
  for (const entry of archive.entries)
    io.say(`  ${entry.name}: ${entry.kind}${entry.side ? ` ${entry.side}` : ''} (${entry.reason})\n`);
  for (const warning of archive.warnings) io.say(`warning: ${formatProblem(warning)}\n`);
  if (archive.paste.length === 0) {
    throw new InputError({
      code: 'NO_PASTE_LAYER',
      place: { file },
      message: `no paste layer was found among its ${archive.entries.length} files.`,
      hint: 'Unpack it and name the paste layer yourself.',
    });
  }
  const stem = basename(file).replace(/\.zip$/i, '');
  return archive.paste.map((entry) => ({
    file: `${file}:${entry.name}`,
    name: `${stem}-${basename(entry.name)}`,
    stem: '',
    load: async () => ({ bytes: entry.bytes, ...(entry.side ? { side: entry.side } : {}) }),
  }));
}

/** The plain name without its ending; with its ending, then with its folder, where two results would share a name. */
function withStems(items: readonly (Pending & { name: string })[]): Pending[] {
  const levels = [
    (item: { name: string }) => item.name.replace(/\.[^.]+$/, '') || item.name,
    (item: { name: string }) => item.name.replace(/\./g, '-'),
    (item: { name: string; file: string }) => `${basename(dirname(item.file))}-${item.name.replace(/\./g, '-')}`,
  ];
  const stems = items.map((item) => levels[0](item));
  for (const level of levels.slice(1)) {
    const counts = new Map<string, number>();
    for (const stem of stems) counts.set(stem.toLowerCase(), (counts.get(stem.toLowerCase()) ?? 0) + 1);
    items.forEach((item, i) => {
      if ((counts.get(stems[i].toLowerCase()) ?? 0) > 1) stems[i] = level(item);
    });
  }
  const used = new Map<string, number>();
  return items.map((item, i) => {
    const count = (used.get(stems[i].toLowerCase()) ?? 0) + 1;
    used.set(stems[i].toLowerCase(), count);
    return { file: item.file, load: item.load, stem: count > 1 ? `${stems[i]}-${count}` : stems[i] };
  });
}

/** All results of a file are refused before the first is written, and no result may ever replace an input. */
async function refuseExisting(
  item: Pending,
  settings: CorrectSettings,
  values: CorrectOptionValues,
  inputs: ReadonlySet<string>,
  io: Io,
): Promise<void> {
  const { ENDINGS } = await import('./correct-job.js');
  const names = [...settings.formats.map((format) => `${item.stem}${ENDINGS[format]}`), `${item.stem}.job.json`];
  for (const name of names) {
    const path = join(values.out, name);
    if (inputs.has(resolve(io.cwd, path))) {
      throw new InputError({
        code: 'WOULD_REPLACE_INPUT',
        place: { file: path },
        message: 'the result would replace the artwork it is made from.',
        hint: 'Choose another folder with --out.',
      });
    }
    if (values.overwrite !== true && (await io.exists(path))) {
      throw new InputError({
        code: 'FILE_EXISTS',
        place: { file: path },
        message: 'the file exists already.',
        hint: 'Give --overwrite to replace it, or another --out.',
      });
    }
  }
}

interface Workers {
  readonly width: number;
  run(input: CorrectInput, settings: CorrectSettings): Promise<CorrectOutcome>;
  close(): Promise<void>;
}

/** A pool of threads where there are several files and the compiled worker is there; else this thread. */
async function workersFor(jobs: number, files: number): Promise<Workers> {
  const worker = fileURLToPath(new URL('./correct-worker.js', import.meta.url));
  const width = Math.min(jobs, files);
  if (width < 2 || !existsSync(worker)) {
    return { width: 1, run: correctJob, close: async () => undefined };
  }
  const { Tinypool } = await import('tinypool');
  const pool = new Tinypool({ filename: worker, minThreads: width, maxThreads: width });
  return {
    width,
    async run(input, settings) {
      const answer = (await pool.run({ input, settings })) as WorkerAnswer;
      if ('problems' in answer) throw new InputError(answer.problems);
      return answer.outcome;
    },
    close: () => pool.destroy(),
  };
}

/** Takes the items in order, at most `width` at a time. */
async function eachOf<T>(items: readonly T[], width: number, handle: (item: T) => Promise<void>): Promise<void> {
  let next = 0;
  const lane = async (): Promise<void> => {
    while (next < items.length) {
      const item = items[next];
      next += 1;
      await handle(item);
    }
  };
  await Promise.all(Array.from({ length: Math.max(1, width) }, lane));
}

async function progressOf(io: Io, count: number): Promise<{ step(): void; stop(): void }> {
  if (!io.isTerminal || count < 2) return { step: () => undefined, stop: () => undefined };
  const { default: cliProgress } = await import('cli-progress');
  const bar = new cliProgress.SingleBar({
    format: 'correcting {value} of {total} files, {duration} s',
    clearOnComplete: true,
    hideCursor: true,
  });
  bar.start(count, 0);
  return { step: () => bar.increment(), stop: () => bar.stop() };
}
