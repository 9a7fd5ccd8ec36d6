import { type Command, Option } from 'commander';
import { type ArtworkOptionValues, addArtworkOptions, dropOption } from '../artwork-options.js';
import { parseCount, parsePositive, parseThicknessMm } from '../values.js';

export interface CheckOptionValues extends ArtworkOptionValues {
  readonly drop?: readonly number[];
  readonly profile?: string;
  readonly thicknessMm?: number;
  readonly paste?: string;
  readonly alloy?: string;
  readonly metalPercent?: number;
  readonly limits?: string;
  readonly boards?: number;
  readonly out?: string;
  readonly all?: boolean;
  readonly json?: boolean;
  readonly overwrite?: boolean;
}

const EXAMPLES = `
Examples:
  apertrue check board-paste.gbr --thickness-mm 0.1 --paste type4
  apertrue check board-paste.gbr --profile desk-laser.profile.json --boards 25 --out check/
  apertrue check board-paste.gbr --thickness-mm 4mil --limits my-limits.json --json

With --out it writes a CSV with every opening, the same as JSON, and a picture (SVG and PNG) with the questionable ones
numbered. Exit codes: 0 all openings pass; 3 some fail, or the size of the picture is doubtful; 2 nothing could be done;
4 some files failed.`;

/** `apertrue check`: will these openings print from this film? */
export const defineCheck = (command: Command): void => {
  command
    .description('Holds every opening of a paste layer against the film, the paste and the laser, worst first.')
    .argument('<artwork...>', 'Gerber, PNG, BMP, TIFF, JPEG, WebP, GIF, SVG, PDF, or a zip of them')
    .addOption(new Option('-p, --profile <file>', 'profile: film thickness, smallest opening and smallest web'))
    .addOption(
      new Option('-t, --thickness-mm <mm>', 'film thickness, mm (default: the profile’s)').argParser(parseThicknessMm),
    )
    .addOption(new Option('--paste <type>', 'powder type: type3 to type7, or one of the limits file (default: type4)'))
    .addOption(new Option('--alloy <name>', 'SAC305, Sn63Pb37, or one of the limits file (default: SAC305)'))
    .addOption(
      new Option('--metal-percent <n>', 'metal by weight in the paste (default: 88.5)').argParser(parsePositive),
    )
    .addOption(
      new Option(
        '--limits <file>',
        'limits to hold the openings against (default: as in patterns/limits.json of the package)',
      ),
    )
    .addOption(
      new Option('-n, --boards <n>', 'boards to print, for the paste they need (default: 1)').argParser(parseCount),
    )
    .addOption(new Option('-o, --out <folder>', 'folder for CSV, JSON and picture'));
  addArtworkOptions(command)
    .addOption(dropOption())
    .option('--all', 'list every opening, not only the questionable ones')
    .option('--overwrite', 'replace files that exist already')
    .option('--json', 'print the result as JSON')
    .addHelpText('after', EXAMPLES);
};
