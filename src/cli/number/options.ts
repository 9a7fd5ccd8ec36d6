import type { Command } from 'commander';
import { type ArtworkOptionValues, addArtworkOptions } from '../artwork-options.js';

export interface NumberOptionValues extends ArtworkOptionValues {
  readonly out: string;
  readonly overwrite?: boolean;
  readonly json?: boolean;
}

const EXAMPLES = `
Examples:
  apertrue number board-paste.gbr --out look/
  apertrue number scan-of-artwork.png --out look/

Writes <name>.numbers.html, a page that shows every opening with its number, to be looked at closely and searched, and
<name>.numbers.csv with places and sizes. All commands count openings alike. Where the artwork does not say how large
it is, lengths are percent of its width, and the page says so.
Exit codes: 0 done; 3 done, but the size of the picture or something else is doubtful; 2 nothing could be done; 4 some
files failed.`;

/** `apertrue number`: which opening is number 17? */
export const defineNumber = (command: Command): void => {
  command
    .description('Shows every opening of a layer with the number by which reports name it.')
    .argument('<artwork...>', 'Gerber, PNG, BMP, TIFF, JPEG, WebP, GIF, SVG, PDF, or a zip of them')
    .requiredOption('-o, --out <folder>', 'folder for the pages and tables');
  addArtworkOptions(command)
    .option('--overwrite', 'replace files that exist already')
    .option('--json', 'print numbers, places and sizes as JSON')
    .addHelpText('after', EXAMPLES);
};
