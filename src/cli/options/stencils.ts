import { EXPORT_FORMATS, type ExportFormat } from '../../export/export-formats.js';
import {
  type CommandSpec,
  choice,
  defaulting,
  flag,
  insteadOf,
  option,
  required,
  unless,
  type ValuesOf,
} from './option.js';
import * as shared from './shared.js';
import * as parse from './values.js';

/* Commands from artwork to a stencil, in the order of the work; then what helps with all of them. */

export const number = {
  summary: 'show every opening with its number',
  about: 'Shows every opening of a layer with the number by which reports name it.',
  argument: ['<artwork...>', `${shared.ARTWORK_KINDS}, or a zip of them`],
  options: {
    out: required(option('-o <folder>', 'folder for the pages and tables')),
    ...shared.ARTWORK,
    ...shared.OVERWRITE,
    ...shared.jsonOption('numbers, places and sizes'),
  },
  most: ['out', 'dpi', 'widthMm'],
  examples: `
  apertrue number board-paste.gbr --out look/
  apertrue number scan-of-artwork.png --out look/

Writes <name>.numbers.html, a page that shows every opening with its number, to be looked at closely and searched, and
<name>.numbers.csv with places and sizes. All commands count openings alike. Where the artwork does not say how large
it is, lengths are percent of its width, and the page says so.
Exit codes: 0 done; 3 done, but the size of the picture or something else is doubtful; 2 nothing could be done; 4 some
files failed.`,
} satisfies CommandSpec;
export type NumberOptionValues = ValuesOf<typeof number.options>;

export const check = {
  summary: 'say which openings will not print, and why',
  about: 'Holds every opening of a paste layer against the film, the paste and the laser, worst first.',
  argument: ['<artwork...>', `${shared.ARTWORK_KINDS}, or a zip of them`],
  options: {
    ...shared.PRINTED_FROM,
    paste: option('<type>', 'powder type: type3 to type7, or one of the limits file (default: type4)'),
    alloy: option('<name>', 'SAC305, Sn63Pb37, or one of the limits file (default: SAC305)'),
    metalPercent: option('<n>', 'metal by weight in the paste (default: 88.5)', parse.positive),
    limits: option(
      '<file>',
      'limits to hold the openings against (default: as in patterns/limits.json of the package)',
    ),
    boards: option('-n <n>', 'boards to print, for the paste they need (default: 1)', parse.wholeNumber),
    out: option('-o <folder>', 'folder for CSV, JSON and picture'),
    ...shared.ARTWORK,
    ...shared.DROP,
    all: flag('list every opening, not only the questionable ones'),
    ...shared.OVERWRITE,
    ...shared.jsonOption('the result'),
  },
  most: ['profile', 'thicknessMm', 'out'],
  examples: `
  apertrue check board-paste.gbr --thickness-mm 0.1 --paste type4
  apertrue check board-paste.gbr --profile laser.profile.json -n 25 --out check/
  apertrue check board-paste.gbr -t 4mil --limits my-limits.json --json

With --out it writes a CSV with every opening, the same as JSON, and a picture (SVG and PNG) with the questionable ones
numbered.
Exit codes: 0 all openings pass; 3 some fail, or the size of the picture is doubtful; 2 nothing could be done;
4 some files failed.`,
} satisfies CommandSpec;
export type CheckOptionValues = ValuesOf<typeof check.options>;

export const treat = {
  summary: 'change openings by a rule set so that they print from film',
  about: 'Turns the openings of a paste layer into better ones by a rule set, and lists every change.',
  argument: ['<artwork...>', `${shared.ARTWORK_KINDS}, or a zip of them`],
  options: {
    rules: defaulting(option('-r <name or file>', 'rule set: plain, fine-pitch-thin-film, or a JSON file'), 'plain'),
    ...shared.PRINTED_FROM,
    designThicknessMm: option(
      '<mm>',
      'foil the pads were designed for, mm (default: the rule set’s)',
      parse.thicknessMm,
    ),
    out: option('-o <folder>', 'folder for the results'),
    ...shared.ARTWORK,
    ...shared.SIDE,
    dryRun: flag('list the changes and write nothing'),
    ...shared.OVERWRITE,
    ...shared.jsonOption('the result'),
  },
  most: ['rules', 'profile', 'thicknessMm', 'out'],
  examples: `
  apertrue treat board-paste.gbr --thickness-mm 0.1 --dry-run
  apertrue treat board-paste.gbr --rules fine-pitch-thin-film -t 4mil -o out/
  apertrue treat a.gbr --rules mine.json -t 4mil --design-thickness-mm 0.12 -o a

Writes the treated openings as <name>.treated.svg in mm (which correct reads), every change as CSV and JSON, a picture
of before and after, and <name>.treated.job.json. Treating the result with the same rules changes nothing.
Exit codes: 0 done; 3 done, but openings or webs are left that this laser may not make, or the size of the picture is
doubtful; 2 nothing could be done; 4 some files failed.`,
} satisfies CommandSpec;
export type TreatOptionValues = ValuesOf<typeof treat.options>;

/** What decides which openings are cut and in which dots: the same for what is written and for what is foretold. */
export const CUT = {
  ...shared.PITCH,
  machineDpi: insteadOf(['pitchMm'], option('<n>', 'the same as dots per inch', parse.dpi)),
  marginMm: option('<mm>', 'free film around the openings, mm (default: 5)', parse.mm),
  canvasMm: option(
    '<w x h>',
    'fixed canvas, mm as told to the machine; the image is as many whole dots as it holds',
    parse.size,
  ),
  atMm: option('<x,y>', 'lower left corner of the openings on a fixed canvas, mm (default: centred)', parse.at),
  ...shared.SIDE,
  ...shared.MIRROR,
  rotate: choice('<degrees>', 'turn counter-clockwise before correcting', ['0', '90', '180', '270']),
  ...shared.RULES,
  ...shared.SWEEP,
  ...shared.ARTWORK,
  ...shared.DROP,
};
export type CutOptionValues = ValuesOf<typeof CUT> & { readonly format?: readonly ExportFormat[] };

export const correct = {
  summary: 'correct paste layers for a machine and write what to cut',
  about: 'Corrects paste layers with a profile and writes what to cut: same size on the film as on the board.',
  argument: ['<artwork...>', `${shared.ARTWORK_KINDS} or a zip of them; globs in quotes`],
  options: {
    ...shared.STENCIL,
    format: shared.formatOption(`what to write: ${EXPORT_FORMATS.join(', ')} or all (default: png)`),
    ...CUT,
    negative: flag('openings light on dark'),
    grey: option('<level>', 'grey level of openings in grey-png, 0 to 254 (default: 0)', parse.grey),
    strict: flag('write nothing that does not come out as asked'),
    ...shared.reportOptions('beside each result'),
    jobs: option(
      '<n>',
      'files worked on at the same time (default: one less than cores, at most 4)',
      parse.wholeNumber,
    ),
    ...shared.OVERWRITE,
    ...shared.jsonOption('the reports'),
  },
  most: ['profile', 'out', 'format', 'dpi', 'mirror'],
  examples: `
  apertrue correct board-paste.gbr --profile laser.profile.json --out stencils/
  apertrue correct 'jobs/*.gbr' fab.zip -p laser.json -f png,svg -o stencils/
  apertrue correct scan.png --dpi 1200 --polarity dark -p laser.json -o cut/

Each file gives <name>.png (or what --format says) and <name>.job.json, the record of what it was made from.
Exit codes: 0 done; 2 nothing could be done; 3 done, but look at the warnings and at the openings that do
not come out as asked; 4 some files failed.`,
} satisfies CommandSpec;
export type CorrectOptionValues = ValuesOf<typeof correct.options>;

export const layout = {
  summary: 'a sheet to cut: stencils with marks, holes, margins; and a paper dry fit',
  about:
    'Lays stencils on a sheet with marks, holes, tape margins and lettering, corrects everything, and writes what to cut.',
  argument: [
    '<artwork...>',
    'paste layers, one stencil each, or a zip of them with the outline of the board; globs in quotes',
  ],
  options: {
    ...shared.STENCIL,
    outline: option('<file>', 'outline of the board, a Gerber profile layer'),
    boardMm: insteadOf(['outline'], option('<w x h>', 'size of the board, mm, instead of an outline', parse.size)),
    boardAtMm: option('<x,y>', 'its lower left corner in the artwork’s coordinates, mm (default: 0,0)', parse.place),
    drill: option('<file>', 'drill file, for holes to cut into the film'),
    holeMm: option('<list>', 'diameters to take from the drill file, mm (default: 2.5 and more)', parse.diameters),
    hole: option('<x,y,d>', 'a hole by centre and diameter, mm; may be repeated', parse.hole),
    marginMm: option('<mm>', 'film around the board for tape and tension, mm (default: 15)', parse.mm),
    handle: option('<side:mm>', 'more film on one side to hold it by, for example top:25', parse.handle),
    ...shared.RULES,
    noMarks: unless('no corner marks around the board'),
    ticks: flag('narrow ticks at the middle of each side of the board'),
    noWitness: unless('no witness coupon in the corner'),
    name: option('<text>', 'name to cut into the margin (default: the file’s)'),
    date: option('<text>', 'date to cut into the margin'),
    letteringMm: option('<mm>', 'height of the lettering, mm (default: 2.5)', parse.positiveMm),
    copies: option('<n>', 'stencils of each artwork (default: 1)', parse.wholeNumber),
    sheetMm: option('<w x h>', 'size of the sheet or bed, mm on the film (default: as large as needed)', parse.size),
    spacingMm: option('<mm>', 'film between two stencils, mm (default: 5)', parse.mm),
    rotate: choice('<degrees>', 'turn each stencil counter-clockwise', ['0', '90', '180', '270']),
    ...shared.SIDE,
    ...shared.MIRROR,
    ...shared.PITCH,
    format: shared.formatOption(`what to write: ${EXPORT_FORMATS.join(', ')} or all (default: png)`),
    paper: choice('<size>', 'paper of the dry fit (default: a4)', ['a4', 'letter']),
    printedMm: option('<w x h>', 'what the two 100 mm bars of an earlier dry fit measured, mm', parse.size),
    ...shared.reportOptions('on the sheet'),
    ...shared.ARTWORK,
    ...shared.DROP,
    strict: flag('write nothing that does not come out as asked'),
    ...shared.OVERWRITE,
    ...shared.jsonOption('the report'),
  },
  most: ['profile', 'out', 'format', 'outline', 'copies'],
  examples: `
  apertrue layout a.gbr --outline edge.gbr --drill board.drl -p laser.json -o a/
  apertrue layout a.gbr b.gbr --board-mm 62x44 --copies 2 -p laser.json -o cut/
  apertrue layout a.gbr --printed-mm 99.6x99.8 -p laser.json -o sheets/

Writes <name>.sheet.png (or what --format says), <name>.dry-fit.pdf to print on paper first, <name>.sheet.job.json, and
with the witness coupon <name>.witness.worksheet.pdf, .readings.csv and .features.json to read it with. The film says
which job it is: JOB and six letters or digits that the record has too.
Exit codes: 0 done; 2 bad input, or it does not fit; 3 done, but something is not as
asked, or nobody can vouch for it: narrow parts, holes on paste, marks left out.`,
} satisfies CommandSpec;
export type LayoutOptionValues = ValuesOf<typeof layout.options>;

export const predict = {
  summary: 'show what will come out, before a film is cut',
  about: 'Cuts artwork virtually with a profile, as drawn and corrected, and shows each against what was asked.',
  argument: ['<artwork...>', `${shared.ARTWORK_KINDS} or a zip of them; globs in quotes`],
  options: {
    ...shared.STENCIL,
    format: shared.formatOption(
      'what the stencil is written as; paths alone have no dots (default: the profile’s dots)',
    ),
    ...CUT,
    ...shared.OVERWRITE,
    ...shared.jsonOption('the results'),
  },
  most: ['profile', 'out'],
  examples: `
  apertrue predict board-paste.gbr --profile desk-laser.profile.json --out look/
  apertrue predict board-paste.gbr -p laser.json --pitch-mm 0.05x0.0254 -o look/
  apertrue predict scan.png --dpi 1200 --profile laser.json --out look/ --json

Writes <name>.predict.svg (zoom in), .png and .csv.
Exit codes: 0 done; 2 bad input; 3 done, but something of the
corrected stencil will not come out as asked (a web burnt away, a part narrower than the kerf, a size that is doubtful); 4 some files failed.`,
} satisfies CommandSpec;
export type PredictOptionValues = ValuesOf<typeof predict.options>;

export const inspect = {
  summary: 'hold a scan of a finished stencil against what was asked',
  about:
    'Finds missing, closed, torn, bridged and wrongly sized openings, and holes nobody asked for, in a scan of a stencil.',
  argument: ['<picture>', 'PNG, TIFF or JPEG of a flatbed scanner'],
  options: {
    job: required(option('<file>', 'record that `correct` or `layout` wrote beside the stencil, .job.json')),
    artwork: option('<file>', 'the artwork that the job was made from'),
    areaPercent: defaulting(option('<n>', 'by how much an area may differ, percent', parse.positive), 15),
    sizeMm: defaulting(option('<mm>', 'by how much a width or height may differ', parse.positiveMm), 0.04),
    placeMm: defaulting(option('<mm>', 'by how much an opening may lie beside its place', parse.positiveMm), 0.06),
    dpi: option('<n>', 'resolution of the picture, over what its file says', parse.dpi),
    out: required(option('-o <folder>', 'folder for the results')),
    ...shared.OVERWRITE,
    ...shared.jsonOption('the result'),
  },
  most: ['job', 'artwork', 'out'],
  examples: `
  apertrue inspect stencil.png --job stencils/board.job.json --out look/
  apertrue inspect stencil.png --job board.job.json --artwork a.gbr --out look/
  apertrue inspect sheet.png --job sheets/board.sheet.job.json --out look/

The artwork that the job was made from is looked for beside the job's record and one folder above it; --artwork gives
its place. The stencil may lie turned or upside down. Scan it at 1200 dpi or more, as \`apertrue scan\` says. The size
of the whole stencil is told, and judged from 0.7 % and --place-mm on, together: a scanner's own scale is not known well
enough for less.
Widths and heights are along each opening's own sides, between its outermost walls; what the beam takes of tips sharper
than itself is no fault. Holes from 0.2 mm that nobody asked
for are X1, X2 ..., within 5 mm of the openings; dust as large as that looks the same, and so do slits into the film shorter
than 0.25 mm, or than two fifths of a narrow web: these are not told. Of a sheet of \`layout\` the paste is
judged, 2:14 being opening 14 of the second stencil; its marks, holes, letters and witness are known by the .sheet.png or
.sheet.svg beside the record, and what of them did not come out is told as M1, M2 ...
Writes <picture>.inspect.csv, .json, .html and .png. Where the job's own PNG or SVG still lies beside its record, also
<picture>.inspect.readings.csv and .features.json: the stencil as a coupon, for \`apertrue fit --add-to\` and \`control\`.
Exit codes: 0 go; 3 no-go; 2 nothing could be done.`,
} satisfies CommandSpec;
export type InspectOptionValues = ValuesOf<typeof inspect.options>;

export const doctor = {
  summary: 'look whether everything that apertrue needs is here',
  about: 'Looks at Node.js, the libraries that decode pictures, apertrue.json, the profile, and where results go.',
  options: { out: option('-o <folder>', 'folder for results to look at (default: the project’s, else this one)') },
  most: [],
  examples: `
  apertrue doctor
  apertrue doctor --out stencils/

Exit codes: 0 all is well; 3 something is not, and is named.`,
} satisfies CommandSpec;
export type DoctorOptionValues = ValuesOf<typeof doctor.options>;

export const SHELLS = ['bash', 'zsh', 'fish', 'powershell'] as const;
export const completion = {
  summary: 'print a script that lets your shell complete commands and options',
  about: 'Prints a script that lets a shell complete commands and options.',
  argument: ['<shell>', 'which shell', SHELLS],
  options: {},
  most: [],
  examples: `
  apertrue completion bash >> ~/.bashrc
  apertrue completion zsh >> ~/.zshrc
  apertrue completion fish > ~/.config/fish/completions/apertrue.fish
  apertrue completion powershell >> $PROFILE

Exit codes: 0 done; 2 unknown shell.`,
} satisfies CommandSpec;
