import type { Command } from 'commander';
import { nearestName } from '../schema/nearest.js';

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
    const nearest = nearestName(flag, known);
    return `unknown option ${flag} of ${command.name()}. ${nearest ? `Did you mean ${nearest}?` : 'Add --help to see what there is.'}`;
  }
  return undefined;
}
