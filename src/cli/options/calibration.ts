import { COUPON_FORMATS, EXPORT_FORMATS } from '../../export/export-formats.js';
import { type CommandSpec, choice, flag, insteadOf, option, required, type ValuesOf } from './option.js';
import { FILM, formatOption, jsonOption, OVERWRITE, reportOptions } from './shared.js';
import * as parse from './values.js';

/* Commands that bring a machine under control, in the order of the work: coupons, readings, profiles. */

/** What a power/speed grid tries. */
const GRID = {
  powerSteps: option('<list>', 'power-speed-grid: powers in percent', parse.eachOf(parse.powerPercent)),
  speeds: option(
    '<list>',
    'power-speed-grid: speeds in mm/s, or with a unit: 6000mm/min',
    parse.eachOf(parse.speedMmS),
  ),
};

export const start = {
  summary: 'begin with a new machine: a few questions, and a plan',
  about: 'Asks the few things that every command needs to know, writes them into apertrue.json, prints the plan.',
  options: {
    machine: option('<name>', 'which laser'),
    bedMm: option('<w x h>', 'the bed, or the film if it is smaller, mm', parse.size),
    pitchMm: option('<mm>', 'distance between two dots, mm; X and Y as 0.05x0.0254', parse.pitch),
    dpi: insteadOf(['pitchMm'], option('<n>', 'dots per inch; X and Y as 508x1000', parse.dpi)),
    format: formatOption(`what its program takes: ${EXPORT_FORMATS.join(', ')}`),
    ...FILM,
    gauge: option(
      '<name:step>',
      'what you measure with and one step of it, such as caliper:0.01 or caliper:0.0005in; once for each',
      parse.gauges,
    ),
    ...GRID,
    out: option('-o <folder>', 'folder for results (default: stencils)'),
    overwrite: flag('replace an apertrue.json that exists already'),
  },
  most: ['machine', 'bedMm', 'dpi', 'film', 'thicknessMm'],
  examples: `
  apertrue start
  apertrue start --film polyimide --thickness-mm 0.075
  apertrue start --bed-mm 150x100 --dpi 1000 --film pet --gauge loupe:0.05
  apertrue start --power-steps 20,40,60,80,100 --speeds 100

Asks what the options leave open, writes apertrue.json into this folder, and says what to do next. From then on no
command in this folder needs these answers; an option still wins over the file. The answers may come through a pipe, one
a line. A single power or speed says that the machine has no other: grids and \`window\` keep to it, \`enter\` does not ask.
Exit codes: 0 done; 2 something is missing or can't be read, nothing written.`,
} satisfies CommandSpec;
export type StartOptionValues = ValuesOf<typeof start.options>;

export const coupon = {
  summary: 'make a test piece to cut and read',
  about: 'Makes coupons: images to cut, and a worksheet that says what to measure on them.',
  argument: ['[pattern...]', 'built-in patterns (see --list) or pattern files of your own'],
  options: {
    list: flag('list the built-in patterns'),
    widthMm: option('<mm>', 'width of the bed or the film, mm', parse.positiveMm),
    heightMm: option('<mm>', 'height of the bed or the film, mm', parse.positiveMm),
    pitchMm: option('<mm>', 'distance between two dots, mm; X and Y as 0.05x0.0254', parse.pitch),
    dpi: insteadOf(['pitchMm'], option('<n>', 'pitch as dots per inch instead; X and Y as 508x1000', parse.dpi)),
    out: option('-o <folder>', 'folder for the results'),
    format: option(
      '-f <list>',
      `images to write: ${COUPON_FORMATS.join(', ')} or all (default: png,svg,pdf, and bmp too unless it is a grid)`,
      parse.formats(COUPON_FORMATS),
    ),
    paper: choice('<size>', 'paper of the worksheet (default: a4)', ['a4', 'letter']),
    kerfMm: option('<mm>', 'widest kerf to expect, mm: labels stay legible up to it (default: 0.2)', parse.positiveMm),
    ...GRID,
    powerBy: choice('<how>', 'power is set by a knob per job, or by grey levels (default: knob)', ['knob', 'grey']),
    ...OVERWRITE,
    ...jsonOption('what was made'),
  },
  most: ['widthMm', 'heightMm', 'pitchMm', 'dpi', 'out'],
  examples: `
  apertrue coupon scale-ruler --width-mm 150 --height-mm 100 --dpi 1000 -o cut/
  apertrue coupon power-speed-grid --width-mm 90 --height-mm 60 --dpi 1000 -o a/
  apertrue coupon vernier --width-mm 6in --height-mm 4in --dpi 508x1000 -o a/
  apertrue coupon mine.json --width-mm 90 --height-mm 60 --dpi 600 -f bmp -o a/

Order of work: power-speed-grid finds a setting that cuts (with one speed it tries up to ten powers); scale-ruler and aperture-ladder, cut with it, give the profile.
Each coupon gives images, <name>.worksheet.pdf to print, <name>.readings.csv to fill in, and <name>.features.json and
<name>.job.json for apertrue itself. A program that takes only BMP: --format bmp.
Exit codes: 0 done; 2 nothing could be done.`,
} satisfies CommandSpec;
export type CouponOptionValues = ValuesOf<typeof coupon.options>;

export const enter = {
  summary: 'type in what you read on a coupon, one after the other',
  about: 'Asks for one reading after the other, questions what can’t be right, and says when it is enough.',
  argument: ['<coupon>', 'readings file, or name of a coupon in the folder for results'],
  options: {
    out: option('-o <folder>', 'folder in which the coupon lies (default: this one)'),
    features: option('<file>', 'features file of the coupon, if it does not lie beside the readings'),
    powerPercent: option('<n>', 'power it was cut with, %', parse.powerPercent),
    speedMmS: option('<n>', 'speed it was cut with, mm/s, or 6000mm/min', parse.speedMmS),
  },
  most: ['out', 'powerPercent', 'speedMmS'],
  examples: `
  apertrue enter aperture-ladder
  apertrue enter scale-ruler --power-percent 45 --speed-mm-s 3000mm/min

Says what to read next, where it is and from where to where. Type a number as the gauge shows it: 0.31, 0,31, 310um,
12.2mil, 0.0122in. Cells of a grid: u uncut, p partial, t through, m marked. A web that burnt away: g; an opening that
is not through: c. Also: b back, s skip, n TEXT a note, ? help, q quit. Everything is saved at once; the next call goes
on where this one ended. Lines may come through a pipe, too: what a terminal would be told after power and
speed. Nobody is asked for these there: what the coupons beside say is taken, and told.
Exit codes: 0 done or quit; 2 the coupon can't be found or read; 130 stopped with Ctrl-C (what was typed is kept).`,
} satisfies CommandSpec;
export type EnterOptionValues = ValuesOf<typeof enter.options>;

export const scan = {
  summary: 'read coupons from pictures of a flatbed scanner',
  about: 'Finds coupons in scans, measures every feature, and writes readings with their uncertainty.',
  argument: ['<pictures...>', 'PNG, TIFF or JPEG, 8 or 16 bit, grey or colour'],
  options: {
    features: required(option<readonly string[]>('<files...>', 'features files of the coupons')),
    reference: option(
      '<ID=mm>',
      'what a feature reads with a caliper or a loupe: a long span for the scale, an opening for the widths; rule=1mm: the distance of the lines of a rule in the picture; repeatable',
      parse.reference,
    ),
    gaugeLimitMm: option(
      '<mm>',
      'limit of error of that caliper or loupe, mm (default: 0.02), or of that rule (default: 0.2, class I)',
      parse.positiveMm,
    ),
    dpi: option('<n>', 'resolution of the pictures, over what their files say: one number, or 1200x1200', parse.dpi),
    pattern: option<readonly string[]>('<files...>', 'patterns of coupons that are not built in'),
    out: required(option('-o <folder>', 'folder for the readings and pictures')),
    ...OVERWRITE,
    ...jsonOption('the readings'),
  },
  most: ['features', 'reference', 'out'],
  examples: `
  apertrue scan '*.png' --features bench/*.json --reference RA0-6=139.92 -o a/
  apertrue scan sheet.tif --features bench/*.features.json --out read/
  apertrue scan a.png b.png --features bench/*.json --reference rule=1mm -o a/
  apertrue scan clear.png --features bench/*.json --reference LA9=2.11 -o read/

Scan at 1200 dpi or more, without sharpening or automatic levels, the film flat under the lid. Pictures and coupons in
any order: each coupon is found by its own openings, turned or upside down. Scan each film twice, the second time
turned by 90 degrees, the same side down: that tells the film from the scanner. One long span read with a caliper
(--reference) gives the scale, and a second one checks it; without it there is kerf and shear, and no scale. Of clear
film, where only the walls show, the widths need one opening read with a loupe (--reference). A steel rule laid flat
beside the film gives the scale too (rule=1mm), to its own limit of error: a caliper is ten times finer.
Writes <coupon>.readings.csv and <coupon>.features.json, which \`apertrue fit\` takes as they are, and scan.html and
<picture>.scan.png, which show what was recognised. Look at them: doubtful ones are dashed.
Exit codes: 0 done; 3 done, with something to look at; 2 nothing could be done.`,
} satisfies CommandSpec;
export type ScanOptionValues = ValuesOf<typeof scan.options>;

export const window = {
  summary: 'find the power and speed to cut with from a power/speed grid',
  about: 'Finds the process window in the cells of a power/speed grid, and the setting with the widest margin.',
  argument: [
    '<readings...>',
    'filled-in readings of one or more grids, CSV, or their names in the folder for results; globs in quotes',
  ],
  options: {
    out: option('-o <folder>', 'folder for the map (default: only show the result)'),
    features: option('<file>', 'features file of the grid, if it does not lie beside the readings'),
    profile: option('<file>', 'profile to write the window into'),
    ...FILM,
    passes: option('<n>', 'number of passes the grid was cut with', parse.wholeNumber),
    drop: option('<ids>', 'leave out these cells', parse.names),
    ...jsonOption('the result'),
    ...OVERWRITE,
  },
  most: ['film', 'thicknessMm', 'out', 'profile'],
  examples: `
  apertrue window bench/power-speed-grid.readings.csv --out look/
  apertrue window grid.readings.csv --profile laser.json --overwrite
  apertrue window 'bench/grid-*.readings.csv' --drop GP60S100 --json

Each cell reads uncut, partial, through (clean) or marked (through, with damage). The result is the setting that stays
furthest from both edges. --out writes <name>.window.svg and .png, a map; --profile writes the window into the profile.
Exit codes: 0 done; 2 bad input, nothing written; 3 done, but cells contradict each other or there is no clean setting.`,
} satisfies CommandSpec;
export type WindowOptionValues = ValuesOf<typeof window.options>;

export const fit = {
  summary: 'fit a machine and a film to what was read on the coupons',
  about: 'Fits scale, shear and kerf to all readings together, says how sure they are, and writes a profile.',
  argument: [
    '<readings...>',
    'filled-in readings files, CSV, or names of coupons in the folder for results; globs in quotes',
  ],
  options: {
    out: option('-o <file>', 'profile to write (default: only show the result)'),
    features: option('<file>', 'features file of the coupon, if it does not lie beside the readings'),
    name: option('<name>', 'name of the profile (default: from --out)'),
    machine: option('<name>', 'which laser'),
    ...FILM,
    powerPercent: option('<n>', 'power the coupons were cut with, %', parse.powerPercent),
    speedMmS: option('<n>', 'speed they were cut with, mm/s, or with a unit: 6000mm/min', parse.speedMmS),
    passes: option('<n>', 'number of passes', parse.wholeNumber),
    resolutionMm: option('<mm>', 'one step of the gauge, for readings that state none, mm', parse.positiveMm),
    gaugeLimitMm: option(
      '<mm>',
      'limit of error by maker or standard, mm, of the gauges of these readings; kept with them in the profile',
      parse.positiveMm,
    ),
    drop: option('<ids>', 'leave out the readings of these features, or of these days (YYYY-MM-DD)', parse.ids),
    robust: flag('take the answer that readings which stand out hardly move'),
    keepAll: flag('write the answer although readings that stand out decide it'),
    addTo: option('<profile>', 'fit again with the readings of this profile, and say what changed'),
    date: option('<day>', 'when the readings were taken, YYYY-MM-DD', parse.day),
    residuals: flag('list what is left of every reading'),
    ...reportOptions('beside the profile'),
    ...jsonOption('the result'),
    ...OVERWRITE,
  },
  most: ['out', 'film', 'thicknessMm', 'powerPercent', 'speedMmS'],
  examples: `
  apertrue fit 'bench/*.readings.csv' --film pet -o laser.profile.json
  apertrue fit 'bench/*.readings.csv' --report -o laser.profile.json
  apertrue fit witness.readings.csv --add-to old.json -o laser.profile.json

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
the day as refused, and so every later one until it is left out (--drop DAY). What may be a change or chance is pooled as
doubtful, with wider uncertainties, and said by all that goes by the profile until later readings settle it. What is
dropped stays out, and so does what --robust passed over.
Exit codes: 0 done; 2 the readings can't be worked with, nothing written; 3 done, but readings stand out, the machine has
a fault or a gauge a zero that may be the machine's (all listed), or the machine changed, or may have (--add-to).`,
} satisfies CommandSpec;
export type FitOptionValues = ValuesOf<typeof fit.options>;

export const spot = {
  summary: 'size of the beam and threshold from kerfs cut at several settings',
  about: 'Fits kerf² = 2 w² ln[(P/v) / threshold] to the kerfs of several profiles: radius w and threshold per axis.',
  argument: ['<profiles...>', 'profiles of one laser and film at different settings; globs in quotes'],
  options: {
    out: option('-o <folder>', 'folder for the plots, SVG and PNG (default: words only)'),
    fullPowerW: option('<W>', 'beam power at 100 %, W: gives the threshold in J/mm too', parse.positive),
    ...jsonOption('the result'),
    ...OVERWRITE,
  },
  most: ['out', 'fullPowerW'],
  examples: `
  apertrue spot slow.profile.json middle.profile.json fast.profile.json
  apertrue spot 'ladders/*.profile.json' --full-power-w 5 --out look/
  apertrue spot 'ladders/*.profile.json' --json

Each profile is one ladder, fitted with its own --power-percent and --speed-mm-s; three or more settings are needed.
Exit codes: 0 done; 2 bad input; 3 done, but kerfs were left out or do not follow the law of a Gaussian beam.`,
} satisfies CommandSpec;
export type SpotOptionValues = ValuesOf<typeof spot.options>;

export const control = {
  summary: 'follow scale and kerf over time and say whether they changed',
  about: 'Charts what the dated readings in profiles say about the machine over time, with control limits.',
  argument: ['[profiles...]', 'profiles, oldest first; globs in quotes (default: the one of apertrue.json)'],
  options: {
    out: option('-o <folder>', 'folder for the charts, SVG and PNG (default: words only)'),
    baseline: option('<n>', 'take the limits from the first so many dates (default: 20)', parse.wholeNumber),
    ...jsonOption('the result'),
    ...OVERWRITE,
  },
  most: ['out', 'baseline'],
  examples: `
  apertrue control desk-laser.profile.json --out look/
  apertrue control january.profile.json june.profile.json
  apertrue control 'profiles/*.profile.json' --baseline 20 --out look/ --json

A profile keeps its readings by date (apertrue fit --add-to … --date …). Each date is fitted alone and becomes a
point with its uncertainty.
Several profiles are one history: what two of them hold counts once, and the days of one are held against those of the
others. The first line is the verdict over all of it; a day that was refused or doubtful when it was added keeps it until it is settled (apertrue fit: more readings
where it is doubtful; --drop DAY, --keep-all). Limits come from the dates before the newest, the refused and the doubtful.
Exit codes: 0 in control; 2 bad input; 3 something lies outside its limits or changed beyond noise, or there is no verdict
yet.`,
} satisfies CommandSpec;
export type ControlOptionValues = ValuesOf<typeof control.options>;
