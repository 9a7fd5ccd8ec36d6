/**
 * Folders in the order in which they may know each other: each only what stands before it. `src/index.ts`, the library,
 * knows them all.
 */
export const INWARD = [
  'geometry',
  'schema',
  'lettering',
  'dots',
  'export',
  'artwork',
  'coupon',
  'readings',
  'machine',
  'rules',
  'layout',
  'stencil',
  'project',
  'fit',
  'scan/picture',
  'scan/find',
  'scan/scanner',
  'scan/measure',
  'scan/inspect',
  'scan',
  'report',
  'cli',
];

/** Folders of more than 25 files. */
export const LARGE_FOLDERS: Readonly<Record<string, string>> = {
  'src/cli': 'what all commands share; one folder a command lies below it',
  'src/geometry': 'one small module a subject, none of which knows what it is used for',
  'src/artwork/gerber': 'one module a word of the standard; most are below 100 lines',
};

/** Functions of more than 60 lines, not counting functions inside them. */
export const LONG_FUNCTIONS: Readonly<Record<string, string>> = {
  'src/artwork/gerber/lex.ts lexGerber':
    'one walk over the bytes; its places in the file would have to be handed about',
  'src/artwork/gerber/macro-shape.ts macroRegions':
    'one walk over the lines of a macro; its variables and image would have to be handed about',
  'src/artwork/image/read-image.ts read': 'the steps from bytes to openings in their order, each one call',
  'src/artwork/pdf/content.ts operators':
    'one line an operator, in the order of the standard, and the state they share',
  'src/cli/fit/run.ts runFit': 'the steps of the command in their order',
  'src/cli/inspect/run.ts runInspect': 'the steps of the command in their order',
  'src/coupon/vernier.ts layVernier': 'one drawing from the left to the right; each place follows from the one before',
  'src/fit/calibration/fit-sessions.ts fitSessions': 'the steps of the fit in their order',
  'src/geometry/clip-work.ts sweepWork': 'one sweep whose tables its parts would share',
  'src/readings/parse-readings.ts readRow': 'one check a column',
};

/** Exports that nothing of the product takes. */
export const UNTAKEN: Readonly<Record<string, string>> = {};

/** Names of the environment outside of src/cli. */
export const ENVIRONMENT: Readonly<Record<string, string>> = {
  'src/artwork/pdf/open-pdf.ts console': 'pdf-lib talks to the console, which is silenced while it loads',
};

/** Packages that are built into dist/, as little of them as is used: d3-scale brings maps and times. */
export const TAKEN_IN = ['clipper2-ts', 'd3-scale', 'd3-shape', 'ml-matrix', 'svgpath'];

/**
 * Most lines of code in `src`, without blank ones and comments. Who adds a thing takes something away, or raises this with
 * the reason in the commit.
 */
export const MOST_LINES = 48_320;
