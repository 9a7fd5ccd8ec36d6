import type { Command } from 'commander';
import type { ExitCode } from './exit-codes.js';
import type { Io } from './io.js';
import * as calibration from './options/calibration.js';
import { type CommandSpec, defineCommand } from './options/option.js';
import * as stencils from './options/stencils.js';

/** What a command does with its arguments, the values of its options last, and with what it may touch. */
// biome-ignore lint/suspicious/noExplicitAny: the parser hands over what the options of the command say
type RunCommand = (...given: any[]) => Promise<ExitCode>;

/** A command; its work is loaded only when it is asked for. */
export interface CommandEntry extends CommandSpec {
  readonly name: string;
  readonly run: () => Promise<RunCommand>;
}

/** Puts a command on the program, whole; what it ended with goes to `finish`. */
export async function addCommand(
  program: Command,
  entry: CommandEntry,
  io: Io,
  finish: (code: ExitCode) => void,
): Promise<Command> {
  const command = program.command(entry.name).summary(entry.summary);
  defineCommand(command, entry);
  // The parser hands over the command too, last.
  return command.action(async (...given: unknown[]) => finish(await (await entry.run())(...given.slice(0, -1), io)));
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
