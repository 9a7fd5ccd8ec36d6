import { type Command, Option } from 'commander';
import { parseCount } from '../values.js';

export interface ControlOptionValues {
  readonly out?: string;
  readonly baseline?: number;
  readonly overwrite?: boolean;
  readonly json?: boolean;
}

const EXAMPLES = `
Examples:
  apertrue control desk-laser.profile.json --out look/
  apertrue control january.profile.json june.profile.json
  apertrue control 'profiles/*.profile.json' --baseline 20 --out look/ --json

A profile keeps its readings by date (apertrue fit --add-to … --date …). Each date is fitted alone and becomes a
point with its uncertainty; how much the readings of a date scatter about that fit has a chart of its own.
With two profiles or more, the first and the last are also compared number by number. The first line is the verdict over
all of it; a day that was refused when it was added keeps it until it is settled (apertrue fit: --drop DAY, --keep-all).
Exit codes: 0 in control; 2 bad input; 3 something lies outside its limits or changed beyond noise, or there is no verdict
yet.`;

/** `apertrue control`: is the machine still what the profile says? */
export const defineControl = (command: Command): void => {
  command
    .description('Charts what the dated readings in profiles say about the machine over time, with control limits.')
    .argument('<profiles...>', 'profiles, oldest first; globs in quotes')
    .addOption(new Option('-o, --out <folder>', 'folder for the charts, SVG and PNG (default: words only)'))
    .addOption(
      new Option('--baseline <n>', 'take the limits from the first so many dates (default: 20)').argParser(parseCount),
    )
    .option('--json', 'print the result as JSON')
    .option('--overwrite', 'replace files that exist already')
    .addHelpText('after', EXAMPLES);
};
