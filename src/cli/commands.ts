import type { Command } from 'commander';
import type { ExitCode } from './exit-codes.js';
import type { Io } from './io.js';

/** What a command does with its arguments, the values of its options last, and with what it may touch. */
// biome-ignore lint/suspicious/noExplicitAny: the parser hands over what the options of the command say
type RunCommand = (...given: any[]) => Promise<ExitCode>;

/** One command as the list of commands shows it; the rest is loaded only when it is asked for. */
export interface CommandEntry {
  readonly name: string;
  readonly summary: string;
  /** Puts arguments, options and examples on the command. Light: help needs nothing else. */
  readonly define: () => Promise<(command: Command) => void>;
  /** The work. */
  readonly run: () => Promise<RunCommand>;
}

/** Puts a command on the program, whole; what it ended with goes to `finish`. */
export async function addCommand(
  program: Command,
  { name, summary, define, run }: CommandEntry,
  io: Io,
  finish: (code: ExitCode) => void,
): Promise<Command> {
  const command = program.command(name).summary(summary);
  (await define())(command);
  // The parser hands over the command too, last.
  return command.action(async (...given: unknown[]) => finish(await (await run())(...given.slice(0, -1), io)));
}

/** In the order of the work at the bench. */
export const COMMANDS: readonly CommandEntry[] = [
  {
    name: 'start',
    summary: 'begin with a new machine: a few questions, and a plan',
    define: async () => (await import('./start/options.js')).defineStart,
    run: async () => (await import('./start/run.js')).runStart,
  },
  {
    name: 'coupon',
    summary: 'make a test piece to cut and read',
    define: async () => (await import('./coupon/options.js')).defineCoupon,
    run: async () => (await import('./coupon/run.js')).runCoupon,
  },
  {
    name: 'enter',
    summary: 'type in what you read on a coupon, one after the other',
    define: async () => (await import('./enter/options.js')).defineEnter,
    run: async () => (await import('./enter/run.js')).runEnter,
  },
  {
    name: 'scan',
    summary: 'read coupons from pictures of a flatbed scanner',
    define: async () => (await import('./scan/options.js')).defineScan,
    run: async () => (await import('./scan/run.js')).runScan,
  },
  {
    name: 'window',
    summary: 'find the power and speed to cut with from a power/speed grid',
    define: async () => (await import('./window/options.js')).defineWindow,
    run: async () => (await import('./window/run.js')).runWindow,
  },
  {
    name: 'fit',
    summary: 'fit a machine and a film to what was read on the coupons',
    define: async () => (await import('./fit/options.js')).defineFit,
    run: async () => (await import('./fit/run.js')).runFit,
  },
  {
    name: 'spot',
    summary: 'size of the beam and threshold from kerfs cut at several settings',
    define: async () => (await import('./spot/options.js')).defineSpot,
    run: async () => (await import('./spot/run.js')).runSpot,
  },
  {
    name: 'control',
    summary: 'follow scale and kerf over time and say whether they changed',
    define: async () => (await import('./control/options.js')).defineControl,
    run: async () => (await import('./control/run.js')).runControl,
  },
  {
    name: 'number',
    summary: 'show every opening with its number',
    define: async () => (await import('./number/options.js')).defineNumber,
    run: async () => (await import('./number/run.js')).runNumber,
  },
  {
    name: 'check',
    summary: 'say which openings will not print, and why',
    define: async () => (await import('./check/options.js')).defineCheck,
    run: async () => (await import('./check/run.js')).runCheck,
  },
  {
    name: 'treat',
    summary: 'change openings by a rule set so that they print from film',
    define: async () => (await import('./treat/options.js')).defineTreat,
    run: async () => (await import('./treat/run.js')).runTreat,
  },
  {
    name: 'correct',
    summary: 'correct paste layers for a machine and write what to cut',
    define: async () => (await import('./correct/options.js')).defineCorrect,
    run: async () => (await import('./correct/run.js')).runCorrect,
  },
  {
    name: 'layout',
    summary: 'a sheet to cut: stencils with marks, holes, margins; and a paper dry fit',
    define: async () => (await import('./layout/options.js')).defineLayout,
    run: async () => (await import('./layout/run.js')).runLayout,
  },
  {
    name: 'predict',
    summary: 'show what will come out, before a film is cut',
    define: async () => (await import('./predict/options.js')).definePredict,
    run: async () => (await import('./predict/run.js')).runPredict,
  },
  {
    name: 'inspect',
    summary: 'hold a scan of a finished stencil against what was asked',
    define: async () => (await import('./inspect/options.js')).defineInspect,
    run: async () => (await import('./inspect/run.js')).runInspect,
  },
  {
    name: 'doctor',
    summary: 'look whether everything that apertrue needs is here',
    define: async () => (await import('./doctor/options.js')).defineDoctor,
    run: async () => (await import('./doctor/run.js')).runDoctor,
  },
  {
    name: 'completion',
    summary: 'print a script that lets your shell complete commands and options',
    define: async () => (await import('./completion/options.js')).defineCompletion,
    run: async () => {
      const { runCompletion } = await import('./completion/run.js');
      return (shell, _values, io) => runCompletion(shell, COMMANDS, io);
    },
  },
];
