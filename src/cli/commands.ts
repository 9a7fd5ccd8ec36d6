import type { Command } from 'commander';
import { defineCheck } from './check.js';
import { defineControl } from './control.js';
import { defineCorrect } from './correct.js';
import { defineCoupon } from './coupon.js';
import type { ExitCode } from './exit-codes.js';
import { defineFit } from './fit.js';
import type { Io } from './io.js';
import { defineLayout } from './layout.js';
import { definePredict } from './predict.js';
import { defineSpot } from './spot.js';
import { defineTreat } from './treat.js';
import { defineWindow } from './window.js';

/** Puts one command on the program. Light: what a command needs to work is imported inside its action. */
export type DefineCommand = (program: Command, io: Io, finish: (code: ExitCode) => void) => void;

/** In the order of the work at the bench. */
export const COMMANDS: readonly DefineCommand[] = [
  defineCoupon,
  defineWindow,
  defineFit,
  defineSpot,
  defineControl,
  defineCheck,
  defineTreat,
  defineCorrect,
  defineLayout,
  definePredict,
];
