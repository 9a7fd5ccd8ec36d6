import { type Command, Option } from 'commander';

export interface DoctorOptionValues {
  readonly out?: string;
}

const EXAMPLES = `
Examples:
  apertrue doctor
  apertrue doctor --out stencils/

Exit codes: 0 all is well; 3 something is not, and is named.`;

/** `apertrue doctor`: what is here, and whether it works. */
export const defineDoctor = (command: Command): void => {
  command
    .description(
      'Looks at Node.js, the libraries that decode pictures, apertrue.json, the profile, and where results go.',
    )
    .addOption(
      new Option('-o, --out <folder>', 'folder for results to look at (default: the project’s, else this one)'),
    )
    .addHelpText('after', EXAMPLES);
};
