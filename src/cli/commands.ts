import type { Command } from 'commander';
import { defineCorrect } from './correct.js';
import { defineCoupon } from './coupon.js';
import type { ExitCode } from './exit-codes.js';
import { defineFit } from './fit.js';
import type { Io } from './io.js';
import { definePredict } from './predict.js';

/** Puts one command on the program. Light: what a command needs to work is imported inside its action. */
export type DefineCommand = (program: Command, io: Io, finish: (code: ExitCode) => void) => void;

/** In the order of the work at the bench. */
export const COMMANDS: readonly DefineCommand[] = [defineCoupon, defineFit, defineCorrect, definePredict];
