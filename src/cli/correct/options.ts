import { type Command, InvalidArgumentError, Option } from 'commander';
import { EXPORT_FORMATS, type ExportFormat } from '../../export/export-formats.js';
import {
  type ArtworkOptionValues,
  addArtworkOptions,
  dropOption,
  formatOption,
  mirrorOption,
  nthRowOption,
  pitchOption,
  sideOption,
  sweepOption,
} from '../artwork-options.js';
import { addReportOption } from '../reports/report-option.js';
import { lengthMm, parseCount, parseDpi, parseMm, parseSize, parseThicknessMm } from '../values.js';

export interface CorrectOptionValues extends ArtworkOptionValues {
  readonly drop?: readonly number[];
  readonly profile: string;
  readonly out: string;
  readonly format?: readonly ExportFormat[];
  readonly pitchMm?: { x: number; y: number };
  readonly machineDpi?: { x: number; y: number };
  readonly marginMm?: number;
  readonly canvasMm?: { widthMm: number; heightMm: number };
  readonly atMm?: { x: number; y: number };
  readonly mirror?: 'auto' | 'yes' | 'no';
  readonly rotate?: '0' | '90' | '180' | '270';
  readonly negative?: boolean;
  readonly grey?: number;
  readonly sweep?: 'x' | 'y';
  readonly burnEveryNthRow?: number;
  readonly strict?: boolean;
  readonly report?: boolean;
  readonly jobs?: number;
  readonly rules?: string;
  readonly thicknessMm?: number;
  readonly overwrite?: boolean;
  readonly json?: boolean;
}

function parseAt(text: string): { x: number; y: number } {
  const [x, y, more] = text.split(/\s*[,x]\s*/).map(lengthMm);
  if (x === undefined || y === undefined || more !== undefined || x < 0 || y < 0) {
    throw new InvalidArgumentError(`Expected two lengths >= 0, for example 20,15; found "${text}".`);
  }
  return { x, y };
}

function parseGrey(text: string): number {
  const value = Number(text);
  if (!Number.isInteger(value) || value < 0 || value > 254) {
    throw new InvalidArgumentError(`Expected a whole number from 0 (full power) to 254; found "${text}".`);
  }
  return value;
}

const EXAMPLES = `
Examples:
  apertrue correct board-paste.gbr --profile desk-laser.profile.json --out stencils/
  apertrue correct 'jobs/*.gbr' fab.zip -p laser.profile.json -f png,svg -o stencils/
  apertrue correct scan.png --dpi 1200 --polarity dark --canvas-mm 100x80 -p laser.json -o cut/

Each file gives <name>.png (or what --format says) and <name>.job.json, the record of what it was made from.
Exit codes: 0 done; 2 nothing could be done; 3 done, but look at the warnings and at the openings that do
not come out as asked; 4 some files failed.`;

/** `apertrue correct`: artwork in, corrected stencils out. */
export const defineCorrect = (command: Command): void => {
  command
    .description('Corrects paste layers with a profile and writes what to cut: same size on the film as on the board.')
    .argument('<artwork...>', 'Gerber, PNG, BMP, TIFF, JPEG, WebP, GIF, SVG, PDF or a zip of them; globs in quotes')
    .addOption(new Option('-p, --profile <file>', 'profile of the laser and the film').makeOptionMandatory())
    .addOption(new Option('-o, --out <folder>', 'folder for the results').makeOptionMandatory())
    .addOption(formatOption(`what to write: ${EXPORT_FORMATS.join(', ')} or all (default: png)`))
    .addOption(pitchOption())
    .addOption(new Option('--machine-dpi <n>', 'the same as dots per inch').argParser(parseDpi).conflicts('pitchMm'))
    .addOption(new Option('--margin-mm <mm>', 'free film around the openings, mm (default: 5)').argParser(parseMm))
    .addOption(
      new Option(
        '--canvas-mm <w x h>',
        'fixed canvas, mm as told to the machine; the image is as many whole dots as it holds',
      ).argParser(parseSize),
    )
    .addOption(
      new Option(
        '--at-mm <x,y>',
        'lower left corner of the openings on a fixed canvas, mm (default: centred)',
      ).argParser(parseAt),
    )
    .addOption(sideOption())
    .addOption(mirrorOption())
    .addOption(
      new Option('--rotate <degrees>', 'turn counter-clockwise before correcting').choices(['0', '90', '180', '270']),
    )
    .addOption(new Option('-r, --rules <name or file>', 'treat the openings by a rule set first (see treat)'))
    .addOption(
      new Option('--thickness-mm <mm>', 'film thickness for the rules (default: the profile’s)').argParser(
        parseThicknessMm,
      ),
    )
    .option('--negative', 'openings light on dark')
    .addOption(
      new Option('--grey <level>', 'grey level of openings in grey-png, 0 to 254 (default: 0)').argParser(parseGrey),
    )
    .addOption(sweepOption())
    .addOption(nthRowOption())
    .option('--strict', 'write nothing that does not come out as asked');
  addReportOption(command, 'beside each result');
  addArtworkOptions(command)
    .addOption(dropOption())
    .addOption(
      new Option('--jobs <n>', 'files worked on at the same time (default: one less than cores, at most 4)').argParser(
        parseCount,
      ),
    )
    .option('--overwrite', 'replace files that exist already')
    .option('--json', 'print the reports as JSON')
    .addHelpText('after', EXAMPLES);
};
