import { Option } from 'commander';
import type { DefineCommand } from '../commands.js';

export interface DoctorOptionValues {
  readonly out?: string;
}

const EXAMPLES = `
Examples:
  apertrue doctor
  apertrue doctor --out stencils/

Exit codes: 0 all is well; 3 something is not, and is named.`;

/** `apertrue doctor`: what is here, and whether it works. */
export const defineDoctor: DefineCommand = (program, io, finish) => {
  program
    .command('doctor')
    .summary('look whether everything that apertrue needs is here')
    .description(
      'Looks at Node.js, the libraries that decode pictures, apertrue.json, the profile, and where results go.',
    )
    .addOption(
      new Option('-o, --out <folder>', 'folder for results to look at (default: the project’s, else this one)'),
    )
    .addHelpText('after', EXAMPLES)
    .action(async (values: DoctorOptionValues) => {
      const { runDoctor } = await import('./run.js');
      finish(await runDoctor(values, io));
    });
};
