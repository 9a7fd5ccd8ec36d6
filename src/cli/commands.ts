import type { Command } from 'commander';
import type { ExitCode } from './exit-codes.js';
import type { Io } from './io.js';

/** Puts one command on the program. Light: what a command needs to work is imported inside its action. */
export type DefineCommand = (program: Command, io: Io, finish: (code: ExitCode) => void) => void;

/** One command as the list of commands shows it; its options are loaded only when it is asked for. */
export interface CommandEntry {
  readonly name: string;
  readonly summary: string;
  readonly load: () => Promise<DefineCommand>;
}

/** In the order of the work at the bench. The summary is the command’s own; a test compares them. */
export const COMMANDS: readonly CommandEntry[] = [
  {
    name: 'start',
    summary: 'begin with a new machine: a few questions, and a plan',
    load: async () => (await import('./start/options.js')).defineStart,
  },
  {
    name: 'coupon',
    summary: 'make a test piece to cut and read',
    load: async () => (await import('./coupon/options.js')).defineCoupon,
  },
  {
    name: 'enter',
    summary: 'type in what you read on a coupon, one after the other',
    load: async () => (await import('./enter/options.js')).defineEnter,
  },
  {
    name: 'scan',
    summary: 'read coupons from pictures of a flatbed scanner',
    load: async () => (await import('./scan/options.js')).defineScan,
  },
  {
    name: 'window',
    summary: 'find the power and speed to cut with from a power/speed grid',
    load: async () => (await import('./window/options.js')).defineWindow,
  },
  {
    name: 'fit',
    summary: 'fit a machine and a film to what was read on the coupons',
    load: async () => (await import('./fit/options.js')).defineFit,
  },
  {
    name: 'spot',
    summary: 'size of the beam and threshold from kerfs cut at several settings',
    load: async () => (await import('./spot/options.js')).defineSpot,
  },
  {
    name: 'control',
    summary: 'follow scale and kerf over time and say whether they changed',
    load: async () => (await import('./control/options.js')).defineControl,
  },
  {
    name: 'number',
    summary: 'show every opening with its number',
    load: async () => (await import('./number/options.js')).defineNumber,
  },
  {
    name: 'check',
    summary: 'say which openings will not print, and why',
    load: async () => (await import('./check/options.js')).defineCheck,
  },
  {
    name: 'treat',
    summary: 'change openings by a rule set so that they print from film',
    load: async () => (await import('./treat/options.js')).defineTreat,
  },
  {
    name: 'correct',
    summary: 'correct paste layers for a machine and write what to cut',
    load: async () => (await import('./correct/options.js')).defineCorrect,
  },
  {
    name: 'layout',
    summary: 'a sheet to cut: stencils with marks, holes, margins; and a paper dry fit',
    load: async () => (await import('./layout/options.js')).defineLayout,
  },
  {
    name: 'predict',
    summary: 'show what will come out, before a film is cut',
    load: async () => (await import('./predict/options.js')).definePredict,
  },
  {
    name: 'inspect',
    summary: 'hold a scan of a finished stencil against what was asked',
    load: async () => (await import('./inspect/options.js')).defineInspect,
  },
  {
    name: 'doctor',
    summary: 'look whether everything that apertrue needs is here',
    load: async () => (await import('./doctor/options.js')).defineDoctor,
  },
  {
    name: 'completion',
    summary: 'print a script that lets your shell complete commands and options',
    load: async () => (await import('./completion/options.js')).defineCompletion,
  },
];
