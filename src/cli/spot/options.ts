import { type Command, Option } from 'commander';
import { parsePositive } from '../values.js';

export interface SpotOptionValues {
  readonly out?: string;
  readonly fullPowerW?: number;
  readonly overwrite?: boolean;
  readonly json?: boolean;
}

const EXAMPLES = `
Examples:
  apertrue spot slow.profile.json middle.profile.json fast.profile.json
  apertrue spot 'ladders/*.profile.json' --full-power-w 5 --out look/
  apertrue spot 'ladders/*.profile.json' --json

Each profile is one ladder, fitted with its own --power-percent and --speed-mm-s; three or more settings are needed.
Exit codes: 0 done; 2 bad input; 3 done, but kerfs were left out or do not follow the law of a Gaussian beam.`;

/** `apertrue spot`: how wide is the beam, and from which power and speed on does it cut? */
export const defineSpot = (command: Command): void => {
  command
    .description(
      'Fits kerf² = 2 w² ln[(P/v) / threshold] to the kerfs of several profiles: radius w and threshold per axis.',
    )
    .argument('<profiles...>', 'profiles of one laser and film at different settings; globs in quotes')
    .addOption(new Option('-o, --out <folder>', 'folder for the plots, SVG and PNG (default: words only)'))
    .addOption(
      new Option('--full-power-w <W>', 'beam power at 100 %, W: gives the threshold in J/mm too').argParser(
        parsePositive,
      ),
    )
    .option('--json', 'print the result as JSON')
    .option('--overwrite', 'replace files that exist already')
    .addHelpText('after', EXAMPLES);
};
