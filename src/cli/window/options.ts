import { type Command, Option } from 'commander';
import { parseCount, parseThicknessMm } from '../values.js';

export interface WindowOptionValues {
  readonly out?: string;
  readonly features?: string;
  readonly profile?: string;
  readonly film?: string;
  readonly thicknessMm?: number;
  readonly passes?: number;
  readonly drop?: readonly string[];
  readonly overwrite?: boolean;
  readonly json?: boolean;
}

const EXAMPLES = `
Examples:
  apertrue window bench/power-speed-grid.readings.csv --out look/
  apertrue window grid.readings.csv --film pet --thickness-mm 0.1 --profile laser.json --overwrite
  apertrue window 'bench/grid-*.readings.csv' --drop GP60S100 --json

Each cell reads uncut, partial, through (clean) or marked (through, with damage). The result is the setting that stays
furthest from both edges. --out writes <name>.window.svg and .png, a map; --profile writes the window into the profile.
Exit codes: 0 done; 2 bad input, nothing written; 3 done, but cells contradict each other or there is no clean setting.`;

/** `apertrue window`: from a power/speed grid to the setting to cut with. */
export const defineWindow = (command: Command): void => {
  command
    .description('Finds the process window in the cells of a power/speed grid, and the setting with the widest margin.')
    .argument('<readings...>', 'filled-in readings of one or more grids, CSV; globs in quotes')
    .addOption(new Option('-o, --out <folder>', 'folder for the map (default: only show the result)'))
    .addOption(new Option('--features <file>', 'features file of the grid, if it does not lie beside the readings'))
    .addOption(new Option('--profile <file>', 'profile to write the window into'))
    .addOption(new Option('--film <kind>', 'what the film is made of, for example pet or polyimide'))
    .addOption(new Option('--thickness-mm <mm>', 'thickness of the film, mm').argParser(parseThicknessMm))
    .addOption(new Option('--passes <n>', 'number of passes the grid was cut with').argParser(parseCount))
    .addOption(
      new Option('--drop <ids>', 'leave out these cells').argParser((text: string, before?: string[]) => [
        ...(before ?? []),
        ...text.split(',').map((id) => id.trim()),
      ]),
    )
    .option('--json', 'print the result as JSON')
    .option('--overwrite', 'replace files that exist already')
    .addHelpText('after', EXAMPLES);
};
