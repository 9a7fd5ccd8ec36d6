import { EXIT, type ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import { type CommandSpec, flagOf } from '../options/option.js';
import type { SHELLS } from '../options/stencils.js';

interface Entry extends CommandSpec {
  readonly name: string;
}

/** A command with its options. */
const completed = ({ name, summary, options }: Entry) => ({
  name,
  summary,
  options: Object.entries(options).map(([key, { words }]) => ({ flag: flagOf(key), words })),
});

const single = (text: string): string => text.replaceAll("'", '’');

type Shell = (typeof SHELLS)[number];

export async function runCompletion(shell: Shell, entries: readonly Entry[], io: Io): Promise<ExitCode> {
  io.out(completionScript(shell, entries));
  return EXIT.done;
}

/** A completion script; what follows a command and is no option is left to the shell: file names. */
function completionScript(shell: Shell, entries: readonly Entry[]): string {
  const commands = entries.map(completed);
  const names = commands.map(({ name }) => name).join(' ');
  const flags = ({ options }: ReturnType<typeof completed>): string => options.map(({ flag }) => flag).join(' ');
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
