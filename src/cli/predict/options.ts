import { type Command, Option } from 'commander';
import type { ExportFormat } from '../../export/export-formats.js';
import {
  type ArtworkOptionValues,
  addArtworkOptions,
  formatOption,
  mirrorOption,
  nthRowOption,
  pitchOption,
  sideOption,
  sweepOption,
} from '../artwork-options.js';

export interface PredictOptionValues extends ArtworkOptionValues {
  readonly profile: string;
  readonly out: string;
  readonly format?: readonly ExportFormat[];
  readonly pitchMm?: { x: number; y: number };
  readonly mirror?: 'auto' | 'yes' | 'no';
  readonly sweep?: 'x' | 'y';
  readonly burnEveryNthRow?: number;
  readonly overwrite?: boolean;
  readonly json?: boolean;
}

const EXAMPLES = `
Examples:
  apertrue predict board-paste.gbr --profile desk-laser.profile.json --out look/
  apertrue predict board-paste.gbr -p laser.profile.json --pitch-mm 0.05x0.0254 -o look/
  apertrue predict scan.png --dpi 1200 --profile desk-laser.profile.json --out look/ --json

Writes <name>.predict.svg (zoom in), .png and .csv. Exit codes: 0 done; 2 bad input; 3 done, but something of the
corrected stencil will not come out as asked (a web burnt away, a part narrower than the kerf, a size that is doubtful); 4 some files failed.`;

/** `apertrue predict`: a virtual cut of the artwork, as drawn and corrected. */
export const definePredict = (command: Command): void => {
  command
    .description(
      'Cuts artwork virtually with a profile, as drawn and corrected, and shows each against what was asked.',
    )
    .argument('<artwork...>', 'Gerber, PNG, BMP, TIFF, JPEG, WebP, GIF, SVG, PDF or a zip of them; globs in quotes')
    .addOption(new Option('-p, --profile <file>', 'profile of the laser and the film').makeOptionMandatory())
    .addOption(new Option('-o, --out <folder>', 'folder for the results').makeOptionMandatory())
    .addOption(formatOption('what the stencil is written as; paths alone have no dots (default: the profile’s dots)'))
    .addOption(pitchOption())
    .addOption(sideOption())
    .addOption(mirrorOption())
    .addOption(sweepOption())
    .addOption(nthRowOption());
  addArtworkOptions(command)
    .option('--overwrite', 'replace files that exist already')
    .option('--json', 'print the results as JSON')
    .addHelpText('after', EXAMPLES);
};
