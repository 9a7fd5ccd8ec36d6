import { type Command, Option } from 'commander';
import { parseDpi, parsePositive, parsePositiveMm } from '../values.js';

export interface InspectOptionValues {
  readonly job: string;
  readonly artwork?: string;
  readonly areaPercent: number;
  readonly sizeMm: number;
  readonly placeMm: number;
  readonly dpi?: { x: number; y: number };
  readonly out: string;
  readonly overwrite?: boolean;
  readonly json?: boolean;
}

const EXAMPLES = `
Examples:
  apertrue inspect stencil.png --job stencils/board.job.json --out look/
  apertrue inspect stencil.png --job board.job.json --artwork board.gbr --place-mm 0.08 --out look/
  apertrue inspect sheet.png --job sheets/board.sheet.job.json --out look/

The artwork that the job was made from is looked for beside the job's record and one folder above it; --artwork gives
its place. The stencil may lie turned or upside down. Scan it at 1200 dpi or more, as \`apertrue scan\` says. The size
of the whole stencil is told, and judged from 0.7 % and --place-mm on, together: a scanner's own scale is not known well
enough for less.
Widths and heights are along each opening's own sides, between its outermost walls. Holes from 0.17 mm that nobody asked
for are X1, X2 ..., within 5 mm of the openings; dust as large as that looks the same. Of a sheet of \`layout\` the paste is
judged, 2:14 being opening 14 of the second stencil; its marks, holes, letters and witness are known by the .sheet.png or
.sheet.svg beside the record, and what of them did not come out is told as M1, M2 ...
Writes <picture>.inspect.csv, .json, .html and .png. Where the job's own PNG or SVG still lies beside its record, also
<picture>.inspect.readings.csv and .features.json: the stencil as a coupon, for \`apertrue fit --add-to\` and \`control\`. Exit codes: 0 go; 3 no-go; 2 nothing could be done.`;

/** `apertrue inspect`: a finished stencil against what was asked. */
export const defineInspect = (command: Command): void => {
  command
    .description(
      'Finds missing, closed, torn, bridged and wrongly sized openings, and holes nobody asked for, in a scan of a stencil.',
    )
    .argument('<picture>', 'PNG, TIFF or JPEG of a flatbed scanner')
    .requiredOption('--job <file>', 'record that `correct` or `layout` wrote beside the stencil, .job.json')
    .addOption(new Option('--artwork <file>', 'the artwork that the job was made from'))
    .addOption(
      new Option('--area-percent <n>', 'by how much an area may differ, percent').argParser(parsePositive).default(15),
    )
    .addOption(
      new Option('--size-mm <mm>', 'by how much a width or height may differ').argParser(parsePositiveMm).default(0.04),
    )
    .addOption(
      new Option('--place-mm <mm>', 'by how much an opening may lie beside its place')
        .argParser(parsePositiveMm)
        .default(0.06),
    )
    .addOption(new Option('--dpi <n>', 'resolution of the picture, over what its file says').argParser(parseDpi))
    .requiredOption('-o, --out <folder>', 'folder for the results')
    .option('--overwrite', 'replace files that exist already')
    .option('--json', 'print the result as JSON')
    .addHelpText('after', EXAMPLES);
};
