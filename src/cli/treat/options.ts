import { type Command, Option } from 'commander';
import { type ArtworkOptionValues, addArtworkOptions, sideOption } from '../artwork-options.js';
import { parseThicknessMm } from '../values.js';

export interface TreatOptionValues extends ArtworkOptionValues {
  readonly rules: string;
  readonly profile?: string;
  readonly thicknessMm?: number;
  readonly designThicknessMm?: number;
  readonly out?: string;
  readonly dryRun?: boolean;
  readonly json?: boolean;
  readonly overwrite?: boolean;
}

const EXAMPLES = `
Examples:
  apertrue treat board-paste.gbr --thickness-mm 0.1 --dry-run
  apertrue treat board-paste.gbr --rules fine-pitch-thin-film -p laser.profile.json -o treated/
  apertrue treat board.gbr --rules mine.json -t 4mil --design-thickness-mm 0.12 -o treated/

Writes the treated openings as <name>.treated.svg in mm (which correct reads), every change as CSV and JSON, a picture
of before and after, and <name>.treated.job.json. Treating the result with the same rules changes nothing.
Exit codes: 0 done; 3 done, but openings or webs are left that this laser may not make, or the size of the picture is
doubtful; 2 nothing could be done; 4 some files failed.`;

/** `apertrue treat`: better openings by rules that can be read. */
export const defineTreat = (command: Command): void => {
  command
    .description('Turns the openings of a paste layer into better ones by a rule set, and lists every change.')
    .argument('<artwork...>', 'Gerber, PNG, BMP, TIFF, JPEG, WebP, GIF, SVG, PDF, or a zip of them')
    .addOption(
      new Option('-r, --rules <name or file>', 'rule set: plain, fine-pitch-thin-film, or a JSON file').default(
        'plain',
      ),
    )
    .addOption(new Option('-p, --profile <file>', 'profile: film thickness, smallest opening and smallest web'))
    .addOption(
      new Option('-t, --thickness-mm <mm>', 'film thickness, mm (default: the profile’s)').argParser(parseThicknessMm),
    )
    .addOption(
      new Option(
        '--design-thickness-mm <mm>',
        'foil the pads were designed for, mm (default: the rule set’s)',
      ).argParser(parseThicknessMm),
    )
    .addOption(new Option('-o, --out <folder>', 'folder for the results'));
  addArtworkOptions(command)
    .addOption(sideOption())
    .option('--dry-run', 'list the changes and write nothing')
    .option('--overwrite', 'replace files that exist already')
    .option('--json', 'print the result as JSON')
    .addHelpText('after', EXAMPLES);
};
