import { type Command, Option } from 'commander';
import { COUPON_FORMATS, type ExportFormat } from '../../export/export-formats.js';
import {
  parseDpi,
  parseFormats,
  parseListOf,
  parsePitch,
  parsePositiveMm,
  parsePowerPercent,
  parseSpeedMmS,
} from '../values.js';

export interface CouponOptionValues {
  readonly list?: boolean;
  readonly widthMm?: number;
  readonly heightMm?: number;
  readonly pitchMm?: { x: number; y: number };
  readonly dpi?: { x: number; y: number };
  readonly out?: string;
  readonly format?: readonly ExportFormat[];
  readonly paper?: 'a4' | 'letter';
  readonly kerfMm?: number;
  readonly powerSteps?: readonly number[];
  readonly speeds?: readonly number[];
  readonly powerBy?: 'knob' | 'grey';
  readonly overwrite?: boolean;
  readonly json?: boolean;
}

const EXAMPLES = `
Examples:
  apertrue coupon scale-ruler aperture-ladder --width-mm 150 --height-mm 100 --dpi 1000 -o bench/
  apertrue coupon power-speed-grid --width-mm 100 --height-mm 80 --dpi 1000 --speeds 100 -o bench/
  apertrue coupon power-speed-grid --width-mm 200 --height-mm 200 --dpi 600 -f bmp -o bench/
  apertrue coupon vernier mine.json --width-mm 6in --height-mm 4in --dpi 508x1000 -o bench/

Order of work: power-speed-grid finds a setting that cuts; scale-ruler and aperture-ladder, cut with it, give the profile.
Each coupon gives images, <name>.worksheet.pdf to print, <name>.readings.csv to fill in, and <name>.features.json and
<name>.job.json for apertrue itself. A program that takes only BMP: --format bmp.
Exit codes: 0 done; 2 nothing could be done.`;

/** `apertrue coupon`: test pieces to cut and read. */
export const defineCoupon = (command: Command): void => {
  command
    .description('Makes coupons: images to cut, and a worksheet that says what to measure on them.')
    .argument('[pattern...]', 'built-in patterns (see --list) or pattern files of your own')
    .option('--list', 'list the built-in patterns')
    .addOption(new Option('--width-mm <mm>', 'width of the bed or the film, mm').argParser(parsePositiveMm))
    .addOption(new Option('--height-mm <mm>', 'height of the bed or the film, mm').argParser(parsePositiveMm))
    .addOption(
      new Option('--pitch-mm <mm>', 'distance between two dots, mm; X and Y as 0.05x0.0254').argParser(parsePitch),
    )
    .addOption(
      new Option('--dpi <n>', 'pitch as dots per inch instead; X and Y as 508x1000')
        .argParser(parseDpi)
        .conflicts('pitchMm'),
    )
    .addOption(new Option('-o, --out <folder>', 'folder for the results'))
    .addOption(
      new Option(
        '-f, --format <list>',
        `images to write: ${COUPON_FORMATS.join(', ')} or all (default: png,svg,pdf, and bmp too unless it is a grid)`,
      ).argParser(parseFormats(COUPON_FORMATS)),
    )
    .addOption(new Option('--paper <size>', 'paper of the worksheet (default: a4)').choices(['a4', 'letter']))
    .addOption(
      new Option('--kerf-mm <mm>', 'widest kerf to expect, mm: labels stay legible up to it (default: 0.2)').argParser(
        parsePositiveMm,
      ),
    )
    .addOption(
      new Option('--power-steps <list>', 'power-speed-grid: powers in percent').argParser((text: string) =>
        parseListOf(text, parsePowerPercent),
      ),
    )
    .addOption(
      new Option('--speeds <list>', 'power-speed-grid: speeds in mm/s, or with a unit: 6000mm/min').argParser(
        (text: string) => parseListOf(text, parseSpeedMmS),
      ),
    )
    .addOption(
      new Option('--power-by <how>', 'power is set by a knob per job, or by grey levels (default: knob)').choices([
        'knob',
        'grey',
      ]),
    )
    .option('--overwrite', 'replace files that exist already')
    .option('--json', 'print what was made as JSON')
    .addHelpText('after', EXAMPLES);
};
