import { type Command, InvalidArgumentError, Option } from 'commander';
import type { DrilledHole } from '../../artwork/drill/drilled-hole.js';
import { EXPORT_FORMATS, type ExportFormat } from '../../export/export-formats.js';
import type { FilmSide } from '../../layout/types.js';
import {
  type ArtworkOptionValues,
  addArtworkOptions,
  dropOption,
  formatOption,
  mirrorOption,
  pitchOption,
  sideOption,
} from '../artwork-options.js';
import { addReportOption } from '../reports/report-option.js';
import { lengthMm, parseCount, parseMm, parsePositiveMm, parseSize, parseThicknessMm } from '../values.js';

export interface LayoutOptionValues extends ArtworkOptionValues {
  readonly drop?: readonly number[];
  readonly profile: string;
  readonly out: string;
  readonly outline?: string;
  readonly boardMm?: { widthMm: number; heightMm: number };
  readonly boardAtMm?: { x: number; y: number };
  readonly drill?: string;
  readonly holeMm?: readonly number[];
  readonly hole?: readonly DrilledHole[];
  readonly marginMm?: number;
  readonly handle?: { side: FilmSide; widthMm: number };
  readonly ticks?: boolean;
  readonly marks: boolean;
  readonly witness: boolean;
  readonly name?: string;
  readonly date?: string;
  readonly letteringMm?: number;
  readonly copies?: number;
  readonly sheetMm?: { widthMm: number; heightMm: number };
  readonly spacingMm?: number;
  readonly rotate?: '0' | '90' | '180' | '270';
  readonly mirror?: 'auto' | 'yes' | 'no';
  readonly pitchMm?: { x: number; y: number };
  readonly format?: readonly ExportFormat[];
  readonly paper?: 'a4' | 'letter';
  readonly printedMm?: { widthMm: number; heightMm: number };
  readonly rules?: string;
  readonly thicknessMm?: number;
  readonly strict?: boolean;
  readonly report?: boolean;
  readonly overwrite?: boolean;
  readonly json?: boolean;
}

function parseHole(text: string, before: readonly DrilledHole[] | undefined): DrilledHole[] {
  const [x, y, d, more] = text.split(',').map((part) => lengthMm(part));
  if (x === undefined || y === undefined || d === undefined || more !== undefined || d <= 0) {
    throw new InvalidArgumentError(
      `Expected centre and diameter in mm as x,y,d, for example 3.5,3.5,3.2; found "${text}".`,
    );
  }
  return [...(before ?? []), { x, y, diameterMm: d }];
}

function parseDiameters(text: string): number[] {
  return text.split(',').map((part) => parsePositiveMm(part));
}

function parseHandle(text: string): { side: FilmSide; widthMm: number } {
  const [side, width] = text.split(/[:,]/);
  const widthMm = lengthMm(width ?? '25');
  if (!['left', 'right', 'top', 'bottom'].includes(side) || widthMm === undefined || widthMm < 0) {
    throw new InvalidArgumentError(`Expected a side and a width in mm, for example top:25; found "${text}".`);
  }
  return { side: side as FilmSide, widthMm };
}

const parseSignedMm = (text: string): number => {
  const value = lengthMm(text);
  if (value === undefined) throw new InvalidArgumentError(`Expected a length in mm; found "${text}".`);
  return value;
};

function parsePlace(text: string): { x: number; y: number } {
  const [x, y, more] = text.split(',').map(parseSignedMm);
  if (x === undefined || y === undefined || more !== undefined) {
    throw new InvalidArgumentError(`Expected two lengths as x,y, for example 0,0; found "${text}".`);
  }
  return { x, y };
}

const EXAMPLES = `
Examples:
  apertrue layout board.gbr --outline edge.gbr --drill board.drl --hole-mm 3.2 -p laser.json -o cut/
  apertrue layout a.gbr b.gbr --board-mm 62x44 --copies 2 --sheet-mm 297x210 -p laser.json -o cut/
  apertrue layout board.gbr --outline edge.gbr --printed-mm 99.6x99.8 -p laser.json -o cut/

Writes <name>.sheet.png (or what --format says), <name>.dry-fit.pdf to print on paper first, <name>.sheet.job.json, and
with the witness coupon <name>.witness.worksheet.pdf, .readings.csv and .features.json to read it with. The film says
which job it is: JOB and six letters or digits that the record has too.
Exit codes: 0 done; 2 bad input, or it does not fit; 3 done, but something is not as
asked, or nobody can vouch for it: narrow parts, holes on paste, marks left out.`;

/** `apertrue layout`: corrected stencils with marks, holes and margins on a sheet to cut. */
export const defineLayout = (command: Command): void => {
  command
    .description(
      'Lays stencils on a sheet with marks, holes, tape margins and lettering, corrects everything, and writes what to cut.',
    )
    .argument('<artwork...>', 'paste layers; one stencil each')
    .addOption(new Option('-p, --profile <file>', 'profile of the laser and the film').makeOptionMandatory())
    .addOption(new Option('-o, --out <folder>', 'folder for the results').makeOptionMandatory())
    .addOption(new Option('--outline <file>', 'outline of the board, a Gerber profile layer'))
    .addOption(
      new Option('--board-mm <w x h>', 'size of the board, mm, instead of an outline')
        .argParser(parseSize)
        .conflicts('outline'),
    )
    .addOption(
      new Option(
        '--board-at-mm <x,y>',
        'its lower left corner in the artwork’s coordinates, mm (default: 0,0)',
      ).argParser(parsePlace),
    )
    .addOption(new Option('--drill <file>', 'drill file, for holes to cut into the film'))
    .addOption(
      new Option('--hole-mm <list>', 'diameters to take from the drill file, mm (default: 2.5 and more)').argParser(
        parseDiameters,
      ),
    )
    .addOption(new Option('--hole <x,y,d>', 'a hole by centre and diameter, mm; may be repeated').argParser(parseHole))
    .addOption(
      new Option('--margin-mm <mm>', 'film around the board for tape and tension, mm (default: 15)').argParser(parseMm),
    )
    .addOption(
      new Option('--handle <side:mm>', 'more film on one side to hold it by, for example top:25').argParser(
        parseHandle,
      ),
    )
    .addOption(new Option('-r, --rules <name or file>', 'treat the openings by a rule set first (see treat)'))
    .addOption(
      new Option('--thickness-mm <mm>', 'film thickness for the rules (default: the profile’s)').argParser(
        parseThicknessMm,
      ),
    )
    .option('--no-marks', 'no corner marks around the board')
    .option('--ticks', 'narrow ticks at the middle of each side of the board')
    .option('--no-witness', 'no witness coupon in the corner')
    .addOption(new Option('--name <text>', 'name to cut into the margin (default: the file’s)'))
    .addOption(new Option('--date <text>', 'date to cut into the margin'))
    .addOption(
      new Option('--lettering-mm <mm>', 'height of the lettering, mm (default: 2.5)').argParser(parsePositiveMm),
    )
    .addOption(new Option('--copies <n>', 'stencils of each artwork (default: 1)').argParser(parseCount))
    .addOption(
      new Option(
        '--sheet-mm <w x h>',
        'size of the sheet or bed, mm on the film (default: as large as needed)',
      ).argParser(parseSize),
    )
    .addOption(new Option('--spacing-mm <mm>', 'film between two stencils, mm (default: 5)').argParser(parseMm))
    .addOption(
      new Option('--rotate <degrees>', 'turn each stencil counter-clockwise').choices(['0', '90', '180', '270']),
    )
    .addOption(sideOption())
    .addOption(mirrorOption())
    .addOption(pitchOption())
    .addOption(formatOption(`what to write: ${EXPORT_FORMATS.join(', ')} or all (default: png)`))
    .addOption(new Option('--paper <size>', 'paper of the dry fit (default: a4)').choices(['a4', 'letter']))
    .addOption(
      new Option('--printed-mm <x x y>', 'what the two 100 mm bars of an earlier dry fit measured, mm').argParser(
        parseSize,
      ),
    );
  addReportOption(command, 'on the sheet');
  addArtworkOptions(command)
    .addOption(dropOption())
    .option('--strict', 'write nothing that does not come out as asked')
    .option('--overwrite', 'replace files that exist already')
    .option('--json', 'print the report as JSON')
    .addHelpText('after', EXAMPLES);
};
