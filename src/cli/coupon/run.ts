import { readFileSync } from 'node:fs';
import { basename, join } from 'node:path';
import { BUILT_IN_PATTERNS, builtInPattern, readPattern } from '../../coupon/built-in.js';
import { generateCoupon } from '../../coupon/generate.js';
import type { Coupon, CouponOptions } from '../../coupon/types.js';
import { InputError, refuseAll } from '../../errors.js';
import { type ExportFormat, isRaster } from '../../export/export-formats.js';
import { present } from '../../kept.js';
import { packageFile } from '../../package-file.js';
import type { ProjectGauge } from '../../project/project.js';
import { count, dpiWords, visible } from '../../text.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import { about } from '../file-problem.js';
import type { Io } from '../io.js';
import { pitchOfDpi } from '../machine-words.js';
import type { CouponOptionValues } from '../options/calibration.js';
import { flagOf, refuseUnusedOptions } from '../options/option.js';
import { type FoundProject, findProject } from '../project-file.js';
import { refuseFilledReadings, refuseResults, writeResults } from '../results.js';
import { printJson, progressOf, row, sayWarnings, sayWrote, shellQuoted } from '../tell.js';
import { couponFiles, couponFormats, imageEndingOf } from './files.js';

type Made = Awaited<ReturnType<typeof make>>;

export async function runCoupon(names: readonly string[], values: CouponOptionValues, io: Io): Promise<ExitCode> {
  if (values.list) {
    const { list: _, json: __, ...rest } = values;
    const typed = Object.keys(rest).filter((key) => !io.run.answered.has(key));
    const idle = [...names, ...typed.map(flagOf)];
    refuseUnusedOptions(
      idle.map((what) => [true, what, '--list only lists the built-in patterns', 'Leave it or --list out.']),
    );
    const patterns = BUILT_IN_PATTERNS.map((name) => ({ name, title: builtInPattern(name).title }));
    if (values.json) printJson(patterns, io);
    else for (const { name, title } of patterns) io.out(`${name.padEnd(18)}${title}\n`);
    return EXIT.done;
  }
  // A misspelt name is told before a bed is asked for.
  const patterns = await Promise.all(names.map((name) => loadPattern(name, io)));
  const { out, ...bed } = required(names, values);
  const found = await findProject(io);
  const gauges = found?.project.gauges;
  const made: Made[] = [];
  const step = progressOf(io, 'making coupon', names.length);
  for (const pattern of patterns) {
    made.push(await make(pattern, bed, values, gauges));
    step();
  }
  refuseIdleGridOptions(made, values, io.run.answered);
  await refuse(made, out, values, io);
  const written: string[] = [];
  for (const { files } of made) written.push(...(await writeResults(files, { ...values, out }, io)));
  if (values.json) printJson(made.map(summary), io);
  else io.out(made.map(({ coupon }) => couponText(coupon, values.format?.some(isRaster) ?? true)).join(''));
  for (const { coupon } of made) sayWarnings(coupon.warnings, io);
  sayWrote(written, io);
  for (const caution of new Set(made.flatMap(({ coupon }) => coupon.cautions)))
    io.say(`caution: ${visible(caution)}\n`);
  io.run.next = nextSteps(made, out, io.run.answered.has('out'), found);
  return EXIT.done;
}

function refuseIdleGridOptions(made: readonly Made[], values: CouponOptionValues, answered: ReadonlySet<string>): void {
  const { powerSteps, speeds, powerBy } = values;
  if (made.some(({ coupon }) => coupon.features.features.some(({ kind }) => kind === 'cell'))) return;
  const why = 'none of these patterns is a power/speed grid';
  // What the project file says of grids waits for one.
  refuseUnusedOptions([
    [powerSteps !== undefined && !answered.has('powerSteps'), '--power-steps', why],
    [speeds !== undefined && !answered.has('speeds'), '--speeds', why],
    [powerBy !== undefined, '--power-by', why],
  ]);
}

type Bed = Required<Pick<CouponOptions, 'widthMm' | 'heightMm' | 'pitchXMm' | 'pitchYMm'>>;

/** Everything that nobody can guess, told together when it is missing. */
function required(names: readonly string[], values: CouponOptionValues): Bed & { out: string } {
  const { widthMm = 0, heightMm = 0, dpi, pitchMm: { x, y } = pitchOfDpi(dpi ?? { x: 0, y: 0 }), out = '' } = values;
  const needed: readonly (readonly [given: unknown, key: string, hint: string])[] = [
    [names.length, 'pattern', 'Name one or more patterns; --list shows the built-in ones.'],
    [widthMm, '--width-mm', 'Give the width of the bed or the film, for example 150.'],
    [heightMm, '--height-mm', 'Give the height of the bed or the film, for example 100.'],
    [
      values.pitchMm ?? dpi,
      '--pitch-mm',
      'Give the distance between two dots, for example 0.0254, or --dpi, for example 1000.',
    ],
    [values.out !== undefined, '--out', 'Give a folder for the results, for example bench/.'],
  ];
  const missing = needed.filter(([given]) => !given);
  const message = 'this is needed.';
  refuseAll(missing.map(([, key, hint]) => ({ code: 'OPTION_MISSING', place: { key }, message, hint })));
  return { widthMm, heightMm, pitchXMm: x, pitchYMm: y, out };
}

/** A built-in pattern by its name, else a file by its path. */
async function loadPattern(name: string, io: Io) {
  if ((BUILT_IN_PATTERNS as readonly string[]).includes(name)) {
    const text = readFileSync(packageFile(`patterns/${name}.json`), 'utf8');
    return { pattern: builtInPattern(name), file: `${name}.json`, text };
  }
  if (!/[./\\]/.test(name) && !(await io.exists(name))) builtInPattern(name);
  const text = new TextDecoder().decode(await io.readFile(name));
  return { pattern: await readPattern(text, name), file: name, text };
}

/** What to do with a grid as paths: no image is named. */
const PATHS_ONLY = 'Give each cell its power and speed in your program; the labels of rows and columns name them.';

function refuseWithoutGrey(formats: readonly ExportFormat[]): void {
  if (formats.includes('png')) return;
  throw new InputError({
    code: 'GREY_NEEDS_PNG',
    place: { key: '--format' },
    message: `${formats.join(', ')} holds no grey levels, which are to set the power.`,
    hint: 'Give --format png, or set the power by the knob.',
  });
}

async function make(
  { pattern, file, text }: Awaited<ReturnType<typeof loadPattern>>,
  bed: Bed,
  values: CouponOptionValues,
  gauges?: readonly ProjectGauge[],
) {
  const isGrid = pattern.elements.some(({ kind }) => kind === 'power-grid');
  const formats = values.format ?? couponFormats(isGrid);
  const ending = imageEndingOf(formats);
  if (isGrid && values.powerBy === 'grey') refuseWithoutGrey(formats);
  const parameters = {
    ...bed,
    ...(values.kerfMm === undefined ? {} : { kerfAllowanceMm: values.kerfMm }),
    ...(isGrid && values.powerSteps ? { powersPercent: values.powerSteps } : {}),
    ...(isGrid && values.speeds ? { speedsMmS: values.speeds } : {}),
    ...(values.powerBy ? { powerBy: values.powerBy } : {}),
    ...(ending && ending !== 'png' ? { imageEnding: ending } : {}),
  };
  return about(file, async () => {
    const made = await generateCoupon(pattern, parameters);
    const coupon = ending === undefined && isGrid ? { ...made, jobs: [PATHS_ONLY] } : made;
    const source = { file: basename(file), text };
    const paper = values.paper ?? 'a4';
    const isScanned = pattern.elements.some(({ kind }) => kind === 'marks');
    return { coupon, files: await couponFiles(coupon, { paper, formats, source, parameters, gauges }), isScanned };
  });
}

/** Nothing is written when two coupons share a name, or when a file is there already. */
async function refuse(made: readonly Made[], out: string, values: CouponOptionValues, io: Io): Promise<void> {
  const names = made.map(({ coupon }) => coupon.name);
  const twice = names.find((name, i) => names.indexOf(name) !== i);
  if (twice !== undefined) {
    throw new InputError({
      code: 'COUPON_TWICE',
      message: `two coupons are called "${twice}"; their files would replace each other.`,
      hint: 'Name each pattern once, or make them into different folders.',
    });
  }
  const results = made.flatMap(({ files }) => files.map(({ name }) => name));
  await refuseFilledReadings(results, out, io);
  await refuseResults(results, { ...values, out }, io);
}

function summary({ coupon, files }: Made): Record<string, unknown> {
  return {
    name: coupon.name,
    canvas: coupon.canvas,
    openings: coupon.openings.length,
    features: coupon.features.features.length,
    images: coupon.images.map(({ name, powerPercent, speedMmS }) => ({ name, powerPercent, speedMmS })),
    files: files.map(({ name }) => name),
    warnings: coupon.warnings,
  };
}

/** Micrometres are as fine as any program takes a size. */
const mm = (value: number): string => `${Number(value.toFixed(3))}`;

/** What was made, what to type in, and how to cut it; files of paths alone have no dots to speak of. */
function couponText({ name, title, canvas, openings, features, steps, jobs }: Coupon, inDots: boolean): string {
  const resolution = [...new Set([canvas.pitchXMm, canvas.pitchYMm].map(dpiWords))].join(' x ');
  const width = mm(canvas.widthMm);
  const dots = `, or ${resolution} dots per inch, or one dot for each of the ${canvas.widthPx} px`;
  return [
    `${visible(`${name}: ${title}`)}\n`,
    row('holds', `${count(openings.length, 'opening')}, ${features.features.length} things to read`),
    row(
      'canvas',
      `${inDots ? `${canvas.widthPx} x ${canvas.heightPx} px = ` : ''}${width} x ${mm(canvas.heightMm)} mm`,
    ),
    ...(inDots ? [row('resolution', `${resolution} dpi`)] : []),
    row('type in', `what your program asks for: a width of ${width} mm${inDots ? dots : ''}`),
    row('', 'never resample it or fit it to the bed; put its lower left corner at the origin'),
    ...(inDots ? [row('', 'black is burnt, as in every stencil')] : []),
    row('', 'note what you typed: every stencil needs the same'),
    ...steps.map((step, i) => `  ${`${i + 1}.`.padEnd(4)}${visible(step)}\n`),
    ...jobs.map((job) => `  ${visible(job)}\n`),
  ].join('');
}

/** What comes next, ready to be pasted, a line for each command; what the project file answers is left out. */
function nextSteps(made: readonly Made[], out: string, hasProject: boolean, found?: FoundProject): string[] {
  const file = (name: string, ending = 'readings.csv'): string => shellQuoted(join(out, `${name}.${ending}`));
  const named = (which: (one: Made) => boolean): string[] => made.filter(which).map(({ coupon }) => coupon.name);
  const isGrid = ({ coupon }: Made): boolean => coupon.features.features.some(({ kind }) => kind === 'cell');
  const scanned = named(({ isScanned }) => isScanned);
  const grids = named((one) => !one.isScanned && isGrid(one));
  const lengths = named((one) => !one.isScanned && !isGrid(one));
  const byHand = [...grids, ...lengths];
  const fit = `apertrue fit ${lengths.map((name) => file(name)).join(' ')}`;
  const features = scanned.map((name) => file(name, 'features.json')).join(' ');
  return present(
    scanned.length > 0 &&
      `cut ${namesOf(scanned)}, scan ${each(scanned)} twice, the second time turned by about 90 degrees, then: apertrue scan "scans/*.png" --features ${features} --out read`,
    ...byHand.map((name, i) => {
      const enter = `apertrue enter ${hasProject ? shellQuoted(name) : file(name)}`;
      return i === 0 ? `cut ${namesOf(byHand)} and read ${each(byHand)}, then type in what you read: ${enter}` : enter;
    }),
    grids.length > 0 &&
      `apertrue window ${grids.map((name) => file(name)).join(' ')}${hasProject ? '' : ` --out ${shellQuoted(out)}`}`,
    lengths.length > 0 && (hasProject ? fit : fitBeside(fit, out, found)),
  );
}

/** A fit of coupons in a folder of their own; the profile that the project file names is not replaced without a word. */
function fitBeside(fit: string, out: string, found?: FoundProject): string {
  const profile = found?.project.profile;
  if (profile === undefined) return `${fit} --out my-laser.profile.json`;
  if (!found?.hasProfile) return fit;
  return `let apertrue.json name the profile that this writes: ${fit} --out ${shellQuoted(join(out, basename(profile)))}`;
}

const namesOf = (names: readonly string[]): string =>
  [...(names.length > 1 ? [names.slice(0, -1).join(', ')] : []), names[names.length - 1]].join(' and ');
const each = (names: readonly string[]): string => (names.length > 1 ? 'each' : 'it');
