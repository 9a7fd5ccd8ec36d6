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
