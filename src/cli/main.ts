import { Command, CommanderError, Option } from 'commander';
import { packageJson } from '../package-file.js';
import { visible, visibleLines } from '../text.js';
import { watchWork } from '../work-watch.js';
import { EXIT, type ExitCode } from './exit-codes.js';
import { BUG, problemsOf } from './file-problem.js';
import { type Io, newRun, processIo } from './io.js';
import { nextStep, type Typed } from './next-step.js';
import * as calibration from './options/calibration.js';
import { type CommandSpec, defineCommand, mistypedOption, nearestOrHelp } from './options/option.js';
import * as stencils from './options/stencils.js';
import { answeredFor, answerFromProject, findProject, readProfile } from './project-file.js';
import { errorValue, fillParagraphs, sayProblems, watchOf, withWords } from './tell.js';
import { stopOnSignals } from './write-together.js';

/**
 * Runs one command line.
 *
 * @param argv - the arguments after the program's name
 * @param outside - what the command may touch
 * @returns an exit code of {@link EXIT}; never throws
 */
export async function run(argv: readonly string[], outside: Io): Promise<ExitCode> {
  const isData = argv.includes('--json') || argv[0] === 'completion';
  const quiet = argv.includes('--quiet');
  const worded = withWords(outside, { quiet, isData });
  const args = argv[0] === 'help' ? [...argv.slice(1), '--help'] : argv;
  const { io, printed, clear } = wayOut(worded, { json: argv.includes('--json'), quiet });
  if (outside.isTerminal && !quiet) watchWork(watchOf(io));
  const code = await runCommand(args, io);
  watchWork(undefined);
  clear();
  outside.out(printed());
  return io.run.problems.some((problem) => problem.code === BUG) ? EXIT.bug : code;
}

/** Ends a line that is drawn anew, as that of the progress is. */
const CLEAR_LINE = '\r\u001b[K';

/**
 * The way out for all that is said. Text of files reaches a terminal with everything visible. With --json stdout is one
 * value: what was told of before something failed is not half of another.
 */
function wayOut(
  outside: Io,
  { json, quiet }: { readonly json: boolean; readonly quiet: boolean },
): { io: Io; printed: () => string; clear: () => void } {
  let value = '';
  let named = 0;
  let drawn = false;
  const clear = (): void => {
    if (drawn) outside.say(CLEAR_LINE);
    drawn = false;
  };
  const say = (text: string): void => {
    clear();
    outside.say(visibleLines(text));
  };
  const io: Io = {
    ...outside,
    run: newRun(),
    say,
    progress: (words) => {
      if (quiet || !outside.isTerminal) return;
      outside.say(`${CLEAR_LINE}${visible(words)}`);
      drawn = true;
    },
    out: (text) => {
      clear();
      if (json) {
        value += visibleLines(text);
        named = io.run.problems.length;
      } else outside.out(visibleLines(text));
    },
    async writeFiles(files, options) {
      const notes = await outside.writeFiles(files, options);
      for (const note of notes) say(`note: ${note}\n`);
      return notes;
    },
  };
  const printed = (): string => {
    const problems = io.run.problems;
    // What was printed before the last problem came can't name it.
    return !json || problems.length === 0 || problems.length === named
      ? value
      : `${visibleLines(JSON.stringify(errorValue(problems), undefined, 2))}\n`;
  };
  return { io, printed, clear };
}

function newProgram(io: Io): Command {
  return new Command('apertrue')
    .description('Calibrates a cheap laser for cutting solder-paste stencils, and corrects every stencil after that.')
    .version(packageJson<{ version: string }>('package.json').version, '-V, --version', 'print the version')
    .helpOption('-h, --help', 'show help')
    .helpCommand(false)
    .showSuggestionAfterError(true)
    .addOption(new Option('--debug', 'show where in the code a bug was met'))
    .addOption(new Option('--quiet', 'leave out notes, next steps and the names of files written'))
    .exitOverride()
    .configureOutput({
      writeOut: (text) => io.out(fillParagraphs(text, widthOf(io))),
      writeErr: (text) => io.say(text),
      outputError: (text, write) => {
        // Said when it is known whether the files that are named are there.
        if (!text.includes(LACKING)) write(withHint(text));
      },
      getOutHelpWidth: () => widthOf(io),
      getErrHelpWidth: () => widthOf(io),
    })
    .addHelpText(
      'after',
      '\nA new machine begins with: apertrue start\nExit codes: 0 done, 1 a bug, 2 bad input (nothing written), 3 done with findings to look at, 4 some files of a batch failed, 130 stopped with Ctrl-C. Each command shows its options and examples with --help.',
    );
}

async function runCommand(args: readonly string[], io: Io): Promise<ExitCode> {
  const program = newProgram(io);
  const wanted = args.find((arg) => !arg.startsWith('-'));
  const entry = COMMANDS.find(({ name }) => name === wanted);
  let command: Command | undefined;
  for (const one of COMMANDS) {
    if (one === entry) command = addCommand(program, one, io);
    else program.command(one.name).summary(one.summary);
  }
  if (args.includes('--help') && wanted !== undefined && !command) {
    const names = COMMANDS.map(({ name }) => name);
    return refuseWords(`there is no command "${wanted}". ${nearestOrHelp(wanted, names)}`, io);
  }
  if (args.filter((arg) => /^(--[a-z-]+=)?-$/.test(arg)).length > 1) {
    return refuseWords('only one file can come through the pipe, and "-" is given twice. Name the other one.', io);
  }
  const helps = args.includes('--help') || args.includes('-h');
  let answered: ReadonlySet<string> = new Set();
  try {
    const found = command && wanted !== 'start' ? await findProject(io) : undefined;
    if (command && found) answered = answerFromProject(command, found, io);
  } catch (error) {
    // Help is shown all the same, and the doctor names it himself.
    if (!helps && wanted !== 'doctor') return report(error, args.includes('--debug'), io);
  }
  if (command) {
    groupOptions(command, entry?.most ?? [], answered);
    const mistyped = mistypedOption(args, command, program);
    if (mistyped !== undefined) return refuseWords(mistyped, io);
  }
  const typed = command ? listenTyped(command) : new Map();
  try {
    await program.parseAsync([...args], { from: 'user' });
    const { code, isDoubted = false } = io.run;
    const isFound = code === EXIT.findings || (code === EXIT.done && isDoubted);
    if (command && (code === EXIT.done || isFound)) await sayNext(command, typed, isFound, io);
    return isFound ? EXIT.findings : code;
  } catch (error) {
    return report(await worstOf(error, typed, io), args.includes('--debug'), io);
  }
}

const LACKING = 'required option';

/** A profile that is named and can't be read comes before an option that is lacking: whoever adds that would be stopped again. */
async function worstOf(error: unknown, typed: Typed, io: Io): Promise<unknown> {
  if (!(error instanceof CommanderError && error.message.includes(LACKING))) return error;
  const [profile] = typed.get('--profile') ?? [];
  const unread = profile && (await readProfile(profile, io).then(() => undefined, (reason: unknown) => reason)); // biome-ignore format: one line
  if (unread) return unread;
  io.say(withHint(`${error.message}\n`));
  return error;
}

/** The words of each option as the parser meets them: what it makes of them can't be typed again. */
function listenTyped(command: Command): Typed {
  const typed = new Map<string, (string | null)[]>();
  for (const option of command.options) {
    const flag = `--${option.name()}`;
    command.on(`option:${option.name()}`, (words?: string) =>
      typed.set(flag, [...(typed.get(flag) ?? []), words ?? null]),
    );
  }
  return typed;
}

/** Wider lines than this are hard to read. */
const MOST_COLUMNS = 100;
const widthOf = (io: Io): number => Math.min(io.columns, MOST_COLUMNS);

async function sayNext(command: Command, typed: Typed, doubted: boolean, io: Io): Promise<void> {
  const values = command.opts();
  const [correct, check] = [await answeredFor('correct', io), await answeredFor('check', io)];
  const known = { run: io.run, correct, check };
  const usual = nextStep(command.name(), command.args, values, known, typed, doubted);
  const next = io.run.next ?? (usual === undefined ? [] : [usual]);
  for (const step of next) io.say(`next: ${visible(step)}\n`);
}

function refuseWords(message: string, io: Io): ExitCode {
  sayProblems([{ code: 'COMMAND_LINE', message }], io);
  return EXIT.badInput;
}

/** How to go on after a mistyped command line. */
function withHint(text: string): string {
  const dashed = /^error: unknown option '(-[^'-][^']*\.[^']*)'/.exec(text)?.[1];
  if (dashed) return `${text.trimEnd()}. A file whose name begins with a dash: ./${dashed}\n`;
  if (text.includes("'-p, --profile <file>'")) {
    return `${text.trimEnd()}. It says what the machine needs, and comes from apertrue fit; apertrue start shows the way. Add --help to see what there is.\n`;
  }
  // A nearest name, where there is one, says enough.
  return text.includes('Did you mean')
    ? text
    : `${text.trimEnd().replace(/\.$/, '')}. Add --help to see what there is.\n`;
}

function report(error: unknown, debug: boolean, io: Io): ExitCode {
  if (error instanceof CommanderError) {
    if (error.exitCode === 0) return EXIT.done;
    io.run.problems.push({ code: 'COMMAND_LINE', message: error.message.replace(/^error: /, '') });
    return EXIT.badInput;
  }
  const problems = problemsOf(error);
  sayProblems(problems, io);
  if (debug && error instanceof Error && error.stack) io.say(`${error.stack}\n`);
  return EXIT.badInput;
}

/** The program: this process's arguments and streams. */
export async function main(args: readonly string[]): Promise<number> {
  // A reader that has seen enough (head, a pager) closes the pipe; that is no bug.
  for (const stream of [process.stdout, process.stderr]) {
    stream.on('error', (error: NodeJS.ErrnoException) => {
      if (error.code === 'EPIPE') return;
      // Files are written whole before they are told of; what could not be told is the words alone.
      if (stream === process.stdout)
        process.stderr.write(`error: what there is to say can’t be written: ${error.message}.\n`);
      process.exit(EXIT.badInput);
    });
  }
  stopOnSignals();
  return run(args, processIo());
}

/** Headings of the options, in the order in which they are shown. */
const GROUPS = {
  most: 'Most jobs need:',
  what: 'What to make:',
  where: 'Where it goes:',
  read: 'What is read, and how:',
  machine: 'Machine and film:',
  rare: 'Rarely:',
  answered: 'Answered by apertrue.json; an option wins over it:',
} as const;
type Group = keyof typeof GROUPS;

const MEMBERS: Readonly<Record<Exclude<Group, 'most' | 'answered'>, readonly string[]>> = {
  what: ['format', 'negative', 'grey', 'rules', 'marks', 'ticks', 'witness', 'name', 'date', 'letteringMm', 'paper', 'report', 'residuals', 'kerfMm', 'list', 'drill', 'holeMm', 'hole', 'printedMm', 'drop', 'dryRun'],
  where: ['out', 'marginMm', 'canvasMm', 'atMm', 'mirror', 'side', 'rotate', 'outline', 'boardMm', 'boardAtMm', 'sheetMm', 'handle', 'copies', 'spacingMm'],
  read: ['dpi', 'widthMm', 'knownDistance', 'polarity', 'dropSpecksMm', 'page', 'anyLayer', 'features', 'addTo'],
  machine: ['machine', 'pitchMm', 'machineDpi', 'sweep', 'burnEveryNthRow', 'powerSteps', 'speeds', 'powerBy', 'film', 'thicknessMm', 'powerPercent', 'speedMmS', 'passes', 'resolutionMm', 'gaugeLimitMm', 'gauge', 'limits', 'paste', 'alloy', 'metalPercent', 'designThicknessMm'],
  rare: [],
}; // biome-ignore format: a table

/**
 * Puts the options of a command under headings, those that most jobs need first.
 *
 * @param most - the values of the latter
 * @param answered - options that the project file answers: nobody needs to learn them
 */
function groupOptions(command: Command, most: readonly string[], answered: ReadonlySet<string>): void {
  const order = Object.keys(GROUPS) as Group[];
  const groups = new Map<Option, Group>();
  for (const option of command.options) {
    const group = groupOf(option.attributeName(), most, answered);
    groups.set(option, group);
    option.helpGroup(GROUPS[group]);
  }
  const rank = (option: Option): number => order.indexOf(groups.get(option) ?? 'rare');
  (command.options as Option[]).sort((a, b) => rank(a) - rank(b));
  command.addHelpOption(new Option('-h, --help', 'show help').helpGroup(GROUPS.rare));
}

function groupOf(key: string, most: readonly string[], answered: ReadonlySet<string>): Group {
  if (answered.has(key)) return 'answered';
  if (most.includes(key)) return 'most';
  const found = (Object.keys(MEMBERS) as (keyof typeof MEMBERS)[]).find((group) => MEMBERS[group].includes(key));
  return found ?? 'rare';
}

/** What a command does with its arguments, the values of its options last, and with what it may touch. */
// biome-ignore lint/suspicious/noExplicitAny: the parser hands over what the options of the command say
type RunCommand = (...given: any[]) => Promise<ExitCode>;

/** A command; its work is loaded only when it is asked for. */
export interface CommandEntry extends CommandSpec {
  readonly name: string;
  readonly run: () => Promise<RunCommand>;
}

/** Puts a command on the program, whole. */
export function addCommand(program: Command, entry: CommandEntry, io: Io): Command {
  const command = program.command(entry.name).summary(entry.summary);
  defineCommand(command, entry);
  // The parser hands over the command too, last.
  return command.action(async (...given: unknown[]) => {
    io.run.values = command.opts();
    io.run.code = await (await entry.run())(...given.slice(0, -1), io);
  });
}

/** In the order of the work at the bench. */
export const COMMANDS: readonly CommandEntry[] = [
  { name: 'start', ...calibration.start, run: async () => (await import('./start/run.js')).runStart },
  { name: 'coupon', ...calibration.coupon, run: async () => (await import('./coupon/run.js')).runCoupon },
  { name: 'enter', ...calibration.enter, run: async () => (await import('./enter/run.js')).runEnter },
  { name: 'scan', ...calibration.scan, run: async () => (await import('./scan/run.js')).runScan },
  { name: 'window', ...calibration.window, run: async () => (await import('./window/run.js')).runWindow },
  { name: 'fit', ...calibration.fit, run: async () => (await import('./fit/run.js')).runFit },
  { name: 'spot', ...calibration.spot, run: async () => (await import('./spot/run.js')).runSpot },
  { name: 'control', ...calibration.control, run: async () => (await import('./control/run.js')).runControl },
  { name: 'number', ...stencils.number, run: async () => (await import('./number/run.js')).runNumber },
  { name: 'check', ...stencils.check, run: async () => (await import('./check/run.js')).runCheck },
  { name: 'treat', ...stencils.treat, run: async () => (await import('./treat/run.js')).runTreat },
  { name: 'correct', ...stencils.correct, run: async () => (await import('./correct/run.js')).runCorrect },
  { name: 'layout', ...stencils.layout, run: async () => (await import('./layout/run.js')).runLayout },
  { name: 'predict', ...stencils.predict, run: async () => (await import('./predict/run.js')).runPredict },
  { name: 'inspect', ...stencils.inspect, run: async () => (await import('./inspect/run.js')).runInspect },
  { name: 'doctor', ...stencils.doctor, run: async () => (await import('./doctor/run.js')).runDoctor },
  {
    name: 'completion',
    ...stencils.completion,
    run: async () => {
      const { runCompletion } = await import('./completion/run.js');
      return (shell, _values, io) => runCompletion(shell, COMMANDS, io);
    },
  },
];
