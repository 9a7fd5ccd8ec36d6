import { Command, CommanderError } from 'commander';
import { addCommand, COMMANDS } from '../../src/cli/main.js';
import { mistypedOption } from '../../src/cli/options/option.js';

/** One command line as words, quotes taken off as a shell would; what is sent into a file, or remarked, is left out. */
export const wordsOf = (line: string): string[] =>
  [...line.replace(/ >>? .*| {2,}\(.*| +#.*/, '').matchAll(/'([^']*)'|"([^"]*)"|(\S+)/g)].map(
    ([, single, double, bare]) => single ?? double ?? bare,
  );

/** All `apertrue` commands in the fenced blocks of a Markdown page, each with its line, counting from 1. */
export function commandsOf(markdown: string): { readonly line: number; readonly args: readonly string[] }[] {
  let isFenced = false;
  return markdown.split('\n').flatMap((text, i) => {
    if (text.startsWith('```')) isFenced = !isFenced;
    const command = isFenced ? /^(?:\$ |npx )?apertrue (.*)$/.exec(text)?.[1] : undefined;
    return command === undefined ? [] : [{ line: i + 1, args: wordsOf(command) }];
  });
}

/** Parses a command line without doing it; what is wrong with it, if anything is. */
export async function wrongWith(args: readonly string[]): Promise<string | undefined> {
  const found = COMMANDS.find(({ name }) => name === args[0]);
  if (!found) return `there is no command ${args[0]}`;
  const program = new Command('apertrue').exitOverride().configureOutput({ writeErr: () => undefined });
  // What commands do is taken out below, so nothing is touched.
  const command = addCommand(program, found, {} as never);
  command
    .exitOverride()
    .configureOutput({ writeErr: () => undefined })
    .action(() => undefined);
  // What apertrue.json answers need not be typed.
  for (const option of command.options) option.makeOptionMandatory(false);
  const mistyped = mistypedOption(args, command, program);
  if (mistyped !== undefined) return mistyped;
  try {
    await program.parseAsync([...args], { from: 'user' });
    return undefined;
  } catch (error) {
    return error instanceof CommanderError || error instanceof Error ? error.message : String(error);
  }
}
