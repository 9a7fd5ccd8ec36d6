/** What a page is filled with. */
export interface Desk {
  /** Runs what follows `$ apertrue`, and returns all that a terminal would show. */
  run(command: string): Promise<string>;
  /** Does what the comment `<!-- do: … -->` asks for: what hands and machine do between two commands. */
  act(words: readonly string[]): Promise<string>;
}

const FIRST_LINES = 11;
const LAST_LINES = 5;
const MOST_COLUMNS = 100;

/**
 * Fills a Markdown page anew: `console` blocks get what their commands print, `text` blocks what was done before them.
 * `<!-- only: pattern -->` above a block keeps the lines that the regular expression finds.
 */
export async function fillPage(markdown: string, desk: Desk): Promise<string> {
  const filled: string[] = [];
  const lines = markdown.split('\n');
  let only: RegExp | undefined;
  let done = '';
  for (let i = 0; i < lines.length; i += 1) {
    const line = lines[i];
    filled.push(line);
    const [, what, words] = /^<!-- (do|only): (.*) -->$/.exec(line) ?? [];
    if (what === 'do') done = await desk.act(words.split(' '));
    if (what === 'only') only = new RegExp(words);
    if (!/^```(console|text)$/.test(line)) continue;
    const end = lines.indexOf('```', i + 1);
    const commands = lines.slice(i + 1, end).filter((one) => one.startsWith('$ '));
    if (line === '```text') filled.push(...shortened(done, only));
    for (const command of commands) {
      filled.push(command, ...shortened(await desk.run(command.replace('$ apertrue ', '')), only));
    }
    filled.push('```');
    only = undefined;
    i = end;
  }
  return filled.join('\n');
}

/** A line of dots stands for lines that are left out; without a choice the first and the last are kept. */
function shortened(text: string, only: RegExp | undefined): string[] {
  const lines = text.trimEnd().split('\n');
  const isKept = (line: string, i: number): boolean =>
    only ? only.test(line) : i < FIRST_LINES || i >= lines.length - LAST_LINES;
  const kept = lines.map(isKept);
  return lines.flatMap((line, i) => (kept[i] ? folded(line.trimEnd()) : i === 0 || kept[i - 1] ? ['…'] : []));
}

/** A line that is too wide goes on below, a little to the right of where it began. */
function folded(line: string): string[] {
  const further = `${/^ */.exec(line)?.[0] ?? ''}    `;
  const lines = [line];
  for (let last = line; last.length > MOST_COLUMNS; last = lines[lines.length - 1]) {
    const at = last.lastIndexOf(' ', MOST_COLUMNS);
    if (at <= further.length) break;
    lines.splice(-1, 1, last.slice(0, at), `${further}${last.slice(at + 1)}`);
  }
  return lines;
}
