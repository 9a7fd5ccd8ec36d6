import { Argument, type Command } from 'commander';

export const SHELLS = ['bash', 'zsh', 'fish', 'powershell'] as const;

const EXAMPLES = `
Examples:
  apertrue completion bash >> ~/.bashrc
  apertrue completion zsh >> ~/.zshrc
  apertrue completion fish > ~/.config/fish/completions/apertrue.fish
  apertrue completion powershell >> $PROFILE

Exit codes: 0 done; 2 unknown shell.`;

/** `apertrue completion`: a script that lets a shell complete commands and options. */
export const defineCompletion = (command: Command): void => {
  command
    .description('Prints a script that lets a shell complete commands and options.')
    .addArgument(new Argument('<shell>', 'which shell').choices(SHELLS))
    .addHelpText('after', EXAMPLES);
};
