import { type Command, InvalidArgumentError, Option } from 'commander';
import { addReportOption } from '../reports/report-option.js';
import {
  parseCount,
  parseDay,
  parsePositiveMm,
  parsePowerPercent,
  parseSpeedMmS,
  parseThicknessMm,
} from '../values.js';

export interface FitOptionValues {
  readonly out?: string;
  readonly features?: string;
  readonly name?: string;
  readonly machine?: string;
  readonly film?: string;
  readonly thicknessMm?: number;
  readonly powerPercent?: number;
  readonly speedMmS?: number;
  readonly passes?: number;
  readonly resolutionMm?: number;
  readonly gaugeLimitMm?: number;
  readonly drop?: readonly string[];
  readonly robust?: boolean;
  readonly keepAll?: boolean;
  readonly addTo?: string;
  readonly date?: string;
  readonly residuals?: boolean;
  readonly report?: boolean;
  readonly json?: boolean;
  readonly overwrite?: boolean;
}

function parseIds(text: string, before: readonly string[] | undefined): string[] {
  const ids = text.split(',').map((id) => id.trim());
  if (ids.some((id) => id === '')) {
    throw new InvalidArgumentError(`Expected feature ids parted by commas, for example RX1,LA7; found "${text}".`);
  }
  return [...(before ?? []), ...ids];
}

const EXAMPLES = `
Examples:
  apertrue fit 'bench/*.readings.csv' --film pet --thickness-mm 0.1 -o laser.profile.json
  apertrue fit 'bench/*.readings.csv' --resolution-mm 0.01 --report -o laser.profile.json
  apertrue fit witness.readings.csv --add-to old.json --date 2031-04-09 -o laser.profile.json

The features file is looked for beside each readings file: NAME.readings.csv goes with NAME.features.json.
Nothing is left out unless you say so. When readings that stand out decide the answer, no profile is written until they
are corrected, or --drop, --robust or --keep-all says what to do with them. Readings that no machine could give (a slip of
the decimal point, inches) are refused until they are corrected or dropped.
Two gauges in one file: name them in the column gauge. Without it the spans of a coupon are taken to be read with one
gauge and the widths with another; each has a scatter of its own, and a zero where openings and webs, or long and short
spans, tell it. A gauge called caliper has a limit of error of 0.02 mm, above 150 mm 0.03, unless --gauge-limit-mm says
another.
With --add-to the new readings, even one or two, are first held against the profile and the days before; when the
machine has changed, that is told with numbers and limits, and nothing is pooled without --keep-all: the profile keeps
the day as refused, and so every later one until it is left out (--drop DAY). What is dropped stays out, and so does
what --robust passed over.
Exit codes: 0 done; 2 the readings can't be worked with, nothing written; 3 done, but readings stand out, the machine has
a fault or a gauge a wrong zero (all listed), or the machine changed (--add-to).`;

/** `apertrue fit`: readings in, profile out. */
export const defineFit = (command: Command): void => {
  command
    .description('Fits scale, shear and kerf to all readings together, says how sure they are, and writes a profile.')
    .argument('<readings...>', 'filled-in readings files, CSV; globs in quotes')
    .addOption(new Option('-o, --out <file>', 'profile to write (default: only show the result)'))
    .addOption(new Option('--features <file>', 'features file of the coupon, if it does not lie beside the readings'))
    .addOption(new Option('--name <name>', 'name of the profile (default: from --out)'))
    .addOption(new Option('--machine <name>', 'which laser'))
    .addOption(new Option('--film <kind>', 'what the film is made of, for example pet or polyimide'))
    .addOption(new Option('--thickness-mm <mm>', 'thickness of the film, mm').argParser(parseThicknessMm))
    .addOption(new Option('--power-percent <n>', 'power the coupons were cut with, %').argParser(parsePowerPercent))
    .addOption(
      new Option('--speed-mm-s <n>', 'speed they were cut with, mm/s, or with a unit: 6000mm/min').argParser(
        parseSpeedMmS,
      ),
    )
    .addOption(new Option('--passes <n>', 'number of passes').argParser(parseCount))
    .addOption(
      new Option('--resolution-mm <mm>', 'one step of the gauge, for readings that state none, mm').argParser(
        parsePositiveMm,
      ),
    )
    .addOption(
      new Option(
        '--gauge-limit-mm <mm>',
        'limit of error by maker or standard, mm, of the gauges of these readings; kept with them in the profile',
      ).argParser(parsePositiveMm),
    )
    .addOption(
      new Option('--drop <ids>', 'leave out the readings of these features, or of these days (YYYY-MM-DD)').argParser(
        parseIds,
      ),
    )
    .option('--robust', 'take the answer that readings which stand out hardly move')
    .option('--keep-all', 'write the answer although readings that stand out decide it')
    .addOption(new Option('--add-to <profile>', 'fit again with the readings of this profile, and say what changed'))
    .addOption(new Option('--date <day>', 'when the readings were taken, YYYY-MM-DD').argParser(parseDay))
    .option('--residuals', 'list what is left of every reading');
  addReportOption(command, 'beside the profile')
    .option('--json', 'print the result as JSON')
    .option('--overwrite', 'replace files that exist already')
    .addHelpText('after', EXAMPLES);
};
