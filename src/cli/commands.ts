import type { Command } from 'commander';
import type { ExitCode } from './exit-codes.js';
import type { Io } from './io.js';

/** Puts one command on the program. Light: what a command needs to work is imported inside its action. */
export type DefineCommand = (program: Command, io: Io, finish: (code: ExitCode) => void) => void;

/** In the order of the work at the bench. */
export const COMMANDS: readonly DefineCommand[] = [];
