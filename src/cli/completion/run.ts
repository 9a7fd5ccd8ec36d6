import { Command } from 'commander';
import { COMMANDS } from '../commands.js';
import type { Io } from '../io.js';
import type { SHELLS } from './options.js';

interface Completed {
  readonly name: string;
  readonly summary: string;
  readonly options: readonly { readonly flag: string; readonly words: string }[];
}

async function everything(io: Io): Promise<Completed[]> {
  return Promise.all(
    COMMANDS.map(async ({ name, summary, load }) => {
      const program = new Command();
      (await load())(program, io, () => undefined);
      const { options } = program.commands[0];
      return {
        name,
        summary,
        options: options.flatMap(({ long, description }) => (long ? [{ flag: long, words: description }] : [])),
      };
    }),
  );
}

const single = (text: string): string => text.replaceAll("'", '’');

/** A completion script; what follows a command and is no option is left to the shell: file names. */
export async function completionScript(shell: (typeof SHELLS)[number], io: Io): Promise<string> {
  const commands = await everything(io);
  const names = commands.map(({ name }) => name).join(' ');
  const flags = ({ options }: Completed): string => options.map(({ flag }) => flag).join(' ');
  if (shell === 'bash') {
    const cases = commands.map((command) => `    ${command.name}) words="${flags(command)} --help" ;;\n`).join('');
    return `_apertrue() {
  local word="\${COMP_WORDS[COMP_CWORD]}" words=""
  case "\${COMP_WORDS[1]}" in
${cases}  esac
  if [ "$COMP_CWORD" -eq 1 ]; then words="${names} help"; fi
  case "$word" in
    -*) COMPREPLY=($(compgen -W "$words" -- "$word")) ;;
    *) if [ "$COMP_CWORD" -eq 1 ]; then COMPREPLY=($(compgen -W "$words" -- "$word")); else COMPREPLY=($(compgen -f -- "$word")); fi ;;
  esac
}
complete -o filenames -F _apertrue apertrue
`;
  }
  if (shell === 'zsh') {
    const cases = commands.map((command) => `    ${command.name}) compadd -- ${flags(command)} --help ;;\n`).join('');
    return `_apertrue() {
  if (( CURRENT == 2 )); then compadd -- ${names} help; return; fi
  if [[ "\${words[CURRENT]}" != -* ]]; then _files; return; fi
  case "\${words[2]}" in
${cases}  esac
}
compdef _apertrue apertrue
`;
  }
  if (shell === 'fish') {
    return commands
      .flatMap(({ name, summary, options }) => [
        `complete -c apertrue -n __fish_use_subcommand -f -a ${name} -d '${single(summary)}'`,
        ...options.map(
          ({ flag, words }) =>
            `complete -c apertrue -n '__fish_seen_subcommand_from ${name}' -l ${flag.slice(2)} -d '${single(words)}'`,
        ),
      ])
      .join('\n')
      .concat('\n');
  }
  const table = commands.map((command) => `    '${command.name}' = '${flags(command)} --help'\n`).join('');
  return `Register-ArgumentCompleter -Native -CommandName apertrue -ScriptBlock {
  param($word, $line, $position)
  $options = @{
${table}  }
  $typed = @($line.CommandElements | ForEach-Object { $_.ToString() })
  $first = $typed.Count -lt 2 -or ($typed.Count -eq 2 -and $word -ne '')
  $words = if ($first) { '${names} help' } elseif ($word -like '-*') { $options[$typed[1]] } else { '' }
  $words -split ' ' | Where-Object { $_ -and $_ -like "$word*" } | ForEach-Object { $_ }
}
`;
}
