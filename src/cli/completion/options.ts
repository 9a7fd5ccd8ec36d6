import { Argument } from 'commander';
import type { DefineCommand } from '../commands.js';

export const SHELLS = ['bash', 'zsh', 'fish', 'powershell'] as const;

const EXAMPLES = `
Examples:
  apertrue completion bash >> ~/.bashrc
  apertrue completion zsh >> ~/.zshrc
  apertrue completion fish > ~/.config/fish/completions/apertrue.fish
  apertrue completion powershell >> $PROFILE

Exit codes: 0 done; 2 unknown shell.`;

/** `apertrue completion`: a script that lets a shell complete commands and options. */
export const defineCompletion: DefineCommand = (program, io, finish) => {
  program
    .command('completion')
    .summary('print a script that lets your shell complete commands and options')
    .description('Prints a script that lets a shell complete commands and options.')
    .addArgument(new Argument('<shell>', 'which shell').choices(SHELLS))
    .addHelpText('after', EXAMPLES)
    .action(async (shell: (typeof SHELLS)[number]) => {
      const { completionScript } = await import('./run.js');
      io.out(await completionScript(shell, io));
      finish(0);
    });
};
