import { Argument, type Command, Option } from 'commander';
import { type Problem, refuseAll } from '../../errors.js';
import { nearestName } from '../../schema/nearest.js';

/** An option as a command declares it, under the name of its value. */
interface OptionSpec {
  /** A short flag where there is one, and what stands behind the flags: `-p <file>`; empty where nothing does. */
  readonly takes: string;
  readonly words: string;
  readonly read?: (text: string, before: never) => unknown;
  readonly choices?: readonly string[];
  /** Options that say the same thing in another way. */
  readonly rivals?: readonly string[];
  readonly isNeeded?: boolean;
  readonly otherwise?: unknown;
}

/** What an option gives when it is given; `gives` is never set. */
export interface Free<T> extends OptionSpec {
  readonly gives?: T;
}

/** One that always has a value. */
export interface Always<T> extends Free<T> {
  readonly always: true;
}

/** An option with a value: its text, or what is read of it. */
export function option<T = string>(takes: string, words: string, read?: (text: string, before: T) => T): Free<T> {
  return { takes, words, read };
}

export function choice<const T extends string>(takes: string, words: string, choices: readonly T[]): Free<T> {
  return { takes, words, choices };
}

export const flag = (words: string): Free<boolean> => ({ takes: '', words });
/** `--no-…`: true unless it is given. */
export const unless = (words: string): Always<boolean> => ({ takes: '', words, always: true });
export const required = <T>(spec: Free<T>): Always<T> => ({ ...spec, isNeeded: true, always: true });
export const defaulting = <T>(spec: Free<T>, otherwise: T): Always<T> => ({ ...spec, otherwise, always: true });
export const insteadOf = <T>(rivals: readonly string[], spec: Free<T>): Free<T> => ({ ...spec, rivals });

type Given<O> = O extends { readonly gives?: infer T } ? T : never;
type NameOf<K> = K extends `no${infer Name extends Capitalize<string>}` ? Uncapitalize<Name> : K;

/** The values that the options of a table give. */
export type ValuesOf<S> = {
  readonly [K in keyof S as S[K] extends Always<unknown> ? NameOf<K> : never]: Given<S[K]>;
} & {
  readonly [K in keyof S as S[K] extends Always<unknown> ? never : NameOf<K>]?: Given<S[K]>;
};

/** All that is to be known of a command before it does anything; light, so that help needs nothing else. */
export interface CommandSpec {
  /** In the list of commands. */
  readonly summary: string;
  /** At the head of its own help. */
  readonly about: string;
  /** What stands behind its name: how it is called, what it is, and which words it may be. */
  readonly argument?: readonly [name: string, words: string, choices?: readonly string[]];
  readonly options: Readonly<Record<string, OptionSpec>>;
  /** The five options at most that a job needs. */
  readonly most: readonly string[];
  /** Examples, what it writes, its exit codes. */
  readonly examples: string;
}

/** The long flag of an option, made of the name of its value: `atMm` is `--at-mm`. */
export const flagOf = (name: string): string => `--${name.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)}`;

/** Puts argument, options and examples on a command. */
export function defineCommand(command: Command, { about, argument, options, examples }: CommandSpec): void {
  command.description(about).addHelpText('after', `\nExamples:${examples}`);
  if (argument) {
    const made = new Argument(argument[0], argument[1]);
    command.addArgument(argument[2] ? made.choices(argument[2]) : made);
  }
  for (const [name, spec] of Object.entries(options)) command.addOption(optionOf(name, spec));
}

function optionOf(name: string, { takes, words, read, choices, rivals, isNeeded, otherwise }: OptionSpec): Option {
  const [, short = '', placeholder = ''] = /^(-\w )?(.*)$/.exec(takes) ?? [];
  const made = new Option(`${short.replace(' ', ', ')}${flagOf(name)} ${placeholder}`.trimEnd(), words);
  if (choices) made.choices(choices);
  if (read) made.argParser(read as (text: string, before: unknown) => unknown);
  if (otherwise !== undefined) made.default(otherwise);
  if (rivals) made.conflicts([...rivals]);
  return made.makeOptionMandatory(isNeeded === true);
}

/**
 * The sentence for an option that a command does not know, with the nearest it does; undefined when all are known.
 * Looked for before anything else: that an option is missing says nothing to somebody who has just mistyped it.
 */
export function mistypedOption(args: readonly string[], command: Command, program: Command): string | undefined {
  const options = [...command.options, ...program.options];
  const known = [...options.flatMap(({ long }) => (long ? [long] : [])), '--help'];
  const takesValue = new Set(options.filter(({ required }) => required).flatMap(({ long, short }) => [long, short]));
  for (const [i, arg] of args.entries()) {
    if (arg === '--') return undefined;
    const flag = /^(--[a-z][a-z-]*)(=|$)/i.exec(arg)?.[1];
    if (flag === undefined || known.includes(flag) || takesValue.has(args[i - 1])) continue;
    return `unknown option ${flag} of ${command.name()}. ${nearestOrHelp(flag, known)}`;
  }
  return undefined;
}

/** How to go on after a mistyped word of the command line. */
export function nearestOrHelp(typed: string, known: readonly string[]): string {
  const nearest = nearestName(typed, known);
  return nearest ? `Did you mean ${nearest}?` : 'Add --help to see what there is.';
}

/** An option that was given but would change nothing: the user expects something that would not come. */
export function idleOption(flag: string, why: string, hint = 'Leave it out.'): Problem {
  return { code: 'OPTION_WITHOUT_EFFECT', place: { key: flag }, message: `this has no effect: ${why}.`, hint };
}

/**
 * Refuses options that would change nothing.
 *
 * @param cases - whether the option was given and is idle; the option; why; how to fix it
 * @throws {InputError} OPTION_WITHOUT_EFFECT, all together
 */
export function refuseUnusedOptions(cases: readonly (readonly [boolean, string, string, string?])[]): void {
  refuseAll(cases.filter(([idle]) => idle).map(([, flag, why, hint]) => idleOption(flag, why, hint)));
}
