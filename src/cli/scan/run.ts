import { basename } from 'node:path';
import { readPattern } from '../../coupon/built-in.js';
import { type FeaturesFile, isForJaws } from '../../coupon/features.js';
import { InputError, type Problem, refuseAll, type Warning } from '../../errors.js';
import { present } from '../../kept.js';
import { decodeText } from '../../readings/csv-rows.js';
import type { PLACE_COLUMNS } from '../../readings/parse-places.js';
import { couponOpenings } from '../../scan/find/coupon-openings.js';
import { Openings } from '../../scan/find/places.js';
import { lengthsIn } from '../../scan/measure/measure-coupon.js';
import { otherFilmMm, readingsOfScans, type ScanReading } from '../../scan/readings-of-scans.js';
import { type KnownCoupon, type PictureResult, scanPicture } from '../../scan/scan-picture.js';
import { type FilmMarks, LEAST_MARKS, marksOnFilm, placeWarnings } from '../../scan/scanner/places-of-marks.js';
import { checkReferences } from '../../scan/scanner/references.js';
import {
  fitScanner,
  type Reference,
  type ScannedLength,
  type ScannerFit,
  scaleUncertainty,
} from '../../scan/scanner/scanner.js';
import { didYouMean } from '../../schema/nearest.js';
import { count, csvText, visible } from '../../text.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import { problemsOf } from '../file-problem.js';
import { loadFeatures } from '../fit/input.js';
import type { Io } from '../io.js';
import { afterScan } from '../next-step.js';
import type { ScanOptionValues } from '../options/calibration.js';
import {
  everyFile,
  notFromScan,
  type OutputFile,
  refuseFilledReadings,
  refuseResults,
  writeResults,
} from '../results.js';
import { printJson, progressOf, sayWarnings, sayWrote } from '../tell.js';
import { drawPages, type ReadPicture, readingsCsv, shownAs, stemsOf } from './files.js';
import { beginLoading, type Channel, type Loading, noSize } from './load-picture.js';

/** Common practice for a caliper that shows 0.01 mm, its limit of error, mm. */
const CALIPER_LIMIT_MM = 0.02;
/** Of a steel rule of class I, to one metre: 0.1 mm + 0.1 mm for each metre begun (UK SI 2016/1153, schedule 1I, table 1). */
const RULE_LIMIT_MM = 0.2;
/** `--reference rule=1mm`: not a feature but the pitch of a rule in the picture. */
const RULE = 'rule';

/** A sheet of A4 at 1200 dpi is 140 million pixels, at 2400 four times as much. */
const ROOM_FOR_TWO_PX = 2e8;

/** Reads pictures, one at a time in memory; nothing is written unless all of them could be read. */
export async function runScan(patterns: readonly string[], values: ScanOptionValues, io: Io): Promise<ExitCode> {
  const named = await everyFile(patterns, io);
  const known = await knownCoupons(values, io);
  const ofFeatures = referencesOf(values, known);
  const outputs = outputsOf(named, known);
  await refuseFilledReadings(outputs, values.out, io, notFromScan);
  await refuseResults(outputs, values, io);
  const pictures = await readPictures(named, known, ofFeatures, values, io);
  const rules = rulesOf(pictures, values);
  const references = [...ofFeatures, ...rules.map(({ reference }) => reference)];
  const coupons = pictures.flatMap((picture) => picture.coupons);
  const walls = coupons.some(({ recognised }) => recognised.look === 'walls');
  const unsized = pictures.some(({ sized }) => !sized);
  const uToneMm = Math.max(0, ...coupons.map(({ sharpness }) => sharpness.uToneMm));
  const read = coupons.flatMap(({ coupon, scanned }) => lengthsIn(coupon, scanned));
  const lengths = [...read, ...rules.map(({ length }) => length)];
  const seenBy = { walls, unsized, uToneMm };
  const checked = checkReferences(lengths, references, seenBy);
  const scanner = fitScanner(lengths, checked.believed, seenBy);
  const widthsKnown = !walls || references.some(({ feature }) => feature.kind !== 'span');
  const results = known.flatMap(({ features }) => {
    const seen = coupons.filter(({ coupon }) => coupon === features.coupon);
    if (seen.length === 0) return [];
    const scans = seen.map(({ scanned }) => scanned);
    const readings = readingsOfScans(features.features, scans, scanner, widthsKnown);
    const marks = seen.map((one) => one.marks);
    const film = marksOnFilm(marks, scanner);
    const places = film.marks.length < LEAST_MARKS ? undefined : film;
    return [{ features, readings, seen, places, otherMm: otherFilmMm(scans, scanner) }];
  });
  const warnings = [
    ...pictures.flatMap((one) => one.warnings),
    ...checked.warnings,
    ...toldOf(results, known, scanner, widthsKnown),
  ];
  const lines = [...summary(results, scanner), ...checked.unchecked];
  const files = results.flatMap(({ features, readings, places }): OutputFile[] => [
    { name: `${features.coupon}.readings.csv`, bytes: readingsCsv(readings) },
    { name: `${features.coupon}.features.json`, bytes: `${JSON.stringify(features, null, 2)}\n` },
    ...(places ? [{ name: `${features.coupon}.places.csv`, bytes: csvText(PLACES, places.marks) }] : []),
  ]);
  files.push(...(await drawPages(pictures, warnings, lines)));
  const written = await writeResults(files, values, io);
  if (values.json) {
    printJson(
      {
        format: 'apertrue-scan',
        version: 1,
        scanner,
        coupons: results.map(({ features, readings, seen, places }) => ({
          coupon: features.coupon,
          readings,
          places,
          unread: seen.flatMap(({ unread }) => unread),
        })),
        warnings,
      },
      io,
    );
  } else io.out(`${table(pictures)}\n${lines.join('\n')}\n`);
  sayWarnings(warnings, io);
  sayWrote(written, io);
  if (results.length > 0) io.run.next = [await afterScan(written, results, io)];
  const doubtful = results.some(({ readings }) => readings.some(({ note }) => note !== undefined));
  return warnings.length > 0 || doubtful ? EXIT.findings : EXIT.done;
}

async function knownCoupons({ features, pattern = [] }: ScanOptionValues, io: Io): Promise<KnownCoupon[]> {
  const patterns = await Promise.all(
    pattern.map(async (file) => readPattern(decodeText(await io.readFile(file)), file)),
  );
  const read: FeaturesFile[] = [];
  for (const file of await everyFile(features, io)) {
    const found = await loadFeatures(file, io);
    if (read.some(({ coupon }) => coupon === found.coupon)) {
      throw new InputError({
        code: 'REPEATED_FEATURE',
        place: { file },
        message: `another features file of ${found.coupon} was given too.`,
        hint: 'Read the two films in two runs.',
      });
    }
    read.push(found);
  }
  return Promise.all(
    read.map(async (one) => ({ features: one, openings: new Openings(await couponOpenings(one, patterns)) })),
  );
}

/** @throws {InputError} SCAN_REFERENCE */
function referencesOf(
  { reference = [], gaugeLimitMm = CALIPER_LIMIT_MM }: ScanOptionValues,
  known: readonly KnownCoupon[],
): Reference[] {
  const problems: Problem[] = [];
  const refused = (message: string, hint: string): [] => {
    problems.push({ code: 'SCAN_REFERENCE', place: { key: '--reference' }, message, hint });
    return [];
  };
  const all = known.flatMap(({ features: { coupon, features } }) => features.map((feature) => ({ coupon, feature })));
  const found = reference.flatMap(({ id, readingMm }): Reference[] => {
    if (id === RULE) return [];
    for (const { coupon, feature } of all) {
      if (feature.id !== id || !('nominalMm' in feature)) continue;
      const { nominalMm } = feature;
      if (readingMm > 0.8 * nominalMm - 0.1 && readingMm < 1.25 * nominalMm + 0.4)
        return [{ coupon, feature, readingMm, uMm: gaugeLimitMm / Math.sqrt(3) }];
      return refused(
        `${id} was designed ${nominalMm.toFixed(3)} mm and can't read ${readingMm} mm.`,
        'Check the name and the number; millimetres unless a unit stands behind it.',
      );
    }
    const ids = all.map(({ feature }) => feature.id);
    const hint = didYouMean(id, ids, 'Give the id that stands on the worksheet.');
    return refused(`no features file has a length "${id}".`, hint);
  });
  refuseAll(problems);
  return found;
}

/**
 * The rules that lie in the pictures, as lengths that are known.
 *
 * @throws {InputError} SCAN_NO_RULE
 */
function rulesOf(
  pictures: readonly ReadPicture[],
  { reference = [], gaugeLimitMm = RULE_LIMIT_MM }: ScanOptionValues,
): { readonly length: ScannedLength; readonly reference: Reference }[] {
  const pitch = reference.find(({ id }) => id === RULE);
  if (!pitch) return [];
  const seen = pictures.flatMap(({ rule, file }) => (rule ? [{ rule, file }] : []));
  if (seen.length === 0) {
    throw new InputError({
      code: 'SCAN_NO_RULE',
      place: { key: '--reference' },
      message: `no rule is in the pictures: at least 20 lines of one length in a row, one every ${pitch.readingMm} mm but for longer ones between them, were looked for.`,
      hint: 'Lay it flat beside the film, its lines away from the film’s edge and some 30 mm of them in the picture, and give the distance between its short lines.',
    });
  }
  // One rule in several pictures has one error.
  const uMm = (gaugeLimitMm / Math.sqrt(3)) * Math.sqrt(seen.length);
  return seen.map(({ rule: { length }, file }) => {
    const feature = { ...length.feature, id: `${RULE} in ${file}` };
    return {
      length: { ...length, feature },
      reference: { coupon: length.coupon, feature, readingMm: feature.nominalMm, uMm },
    };
  });
}

function outputsOf(files: readonly string[], known: readonly KnownCoupon[]): string[] {
  const endings = ['readings.csv', 'features.json', 'places.csv'];
  return [
    ...known.flatMap(({ features: { coupon } }) => endings.map((ending) => `${coupon}.${ending}`)),
    'scan.html',
    ...stemsOf(files).map((stem) => `${stem}.scan.png`),
  ];
}

async function readPictures(
  files: readonly string[],
  known: readonly KnownCoupon[],
  references: readonly Reference[],
  values: ScanOptionValues,
  io: Io,
): Promise<ReadPicture[]> {
  const pictures: ReadPicture[] = [];
  const problems: Problem[] = [];
  const step = progressOf(io, 'reading picture', files.length);
  const rulePitch = values.reference?.find(({ id }) => id === RULE)?.readingMm;
  let usual: Channel | undefined;
  let next: Promise<Loading> | undefined;
  const begin = (i: number, channel?: Channel) => beginLoading(files[i], values.dpi, io, channel);
  const read = async (i: number, loading: Promise<Loading>): Promise<ReadPicture> => {
    const { picture, channel } = await (await loading).loaded;
    usual ??= channel;
    // The next one is decoded meanwhile, as long as two of them have room. The decoder must be at work before this thread is.
    if (i + 1 < files.length && next === undefined && picture.levels.length < ROOM_FOR_TWO_PX) {
      next = begin(i + 1, usual);
      // What is wrong with it is told when its turn comes.
      await next.catch(() => undefined);
    }
    const sized = rulePitch !== undefined || references.some(({ feature }) => feature.kind === 'span');
    if (!picture.dotsPerMm && !sized)
      throw noSize(files[i], 'Give --dpi, or the reading of a long span with --reference.');
    const { overview, ...found } = scanPicture(picture, known, files[i], rulePitch);
    const shown = await shownAs(picture, overview);
    return { ...found, file: files[i], shown, sized: picture.dotsPerMm !== undefined };
  };
  for (const [i, file] of files.entries()) {
    const loading = next ?? begin(i, usual);
    next = undefined;
    try {
      // Films of another colour may show in another channel only.
      pictures.push(await read(i, loading).catch((error) => (i > 0 ? read(i, begin(i)) : Promise.reject(error))));
    } catch (error) {
      problems.push(...problemsOf(error, file));
    }
    step();
  }
  refuseAll(problems);
  return pictures;
}

interface CouponResult {
  readonly features: FeaturesFile;
  readonly readings: readonly ScanReading[];
  readonly seen: PictureResult['coupons'];
  readonly places: FilmMarks | undefined;
  /** By how much openings are wider in one picture than in another that does not show the same film. */
  readonly otherMm: number | undefined;
}

/** What can't be told from these pictures, and what is missing. */
function toldOf(
  results: readonly CouponResult[],
  known: readonly KnownCoupon[],
  scanner: ScannerFit,
  widthsKnown: boolean,
): Warning[] {
  const missing = known.filter(({ features }) => !results.some((one) => one.features === features));
  const spans = results.some(({ readings }) => readings.some(({ gauge }) => gauge?.includes('spans')));
  return present<Warning>(
    ...missing.map(({ features }) => ({
      code: 'SCAN_COUPON_MISSING',
      message: `${features.coupon} is in none of the pictures.`,
      hint: 'Scan it too, or leave its features file out.',
    })),
    spans &&
      !scanner.scaled && {
        code: 'SCAN_NO_SCALE',
        message:
          'no span that the pictures show was measured otherwise: kerf and shear can be told, the scale only to half a percent.',
        hint: 'Read one long span with a caliper and give it: --reference RA0-6=139.92.',
      },
    spans && notTurned(scanner),
    ...results.flatMap((one) => toldOfCoupon(one, scanner)),
    !widthsKnown && {
      code: 'SCAN_WALLS',
      message:
        'only the walls show, as lines, and where a wall lies within its line is not known: spans were read, widths were not.',
      hint: 'Read one opening with a loupe and give it (--reference LA9=2.11), or scan with a contrast between film and openings.',
    },
  );
}

/** What of the films can't be told from the scanner's own, as they lay. */
function notTurned({ reversed, open }: ScannerFit): Warning | false {
  if (reversed) return false;
  const own = present(
    open.includes('shear') && 'their shear',
    open.includes('ratio') && 'the ratio of their two scales',
  ).join(' and ');
  return {
    code: 'SCAN_NOT_TURNED',
    message: open.includes('bends')
      ? 'each film lies in one direction only, so its shear, the ratio of its two scales and its bends can’t be told from the scanner’s.'
      : `as the films lie in these pictures, ${own} can’t be told from the scanner’s own, which is taken as usual.`,
    hint: 'Scan the same film once more, turned by 90 degrees, the same side down and all of it in both, and give both pictures.',
  };
}

function toldOfCoupon({ features, seen, places, otherMm }: CouponResult, { open }: ScannerFit): Warning[] {
  const unread = seen[0].unread.filter(({ id }) => seen.every((one) => one.unread.some((other) => other.id === id)));
  const lost = unread.filter(({ id }) => features.features.find((one) => one.id === id)?.kind !== 'vernier');
  return present<Warning>(
    lost.length > 0 && {
      code: 'SCAN_UNREAD',
      message: `${count(lost.length, 'feature')} of ${features.coupon} could not be read, ${lost[0].id} because ${lost[0].why}.`,
      hint: 'scan.html says why for each of them.',
    },
    otherMm !== undefined && {
      code: 'SCAN_OTHER_FILM',
      message: `one picture of ${features.coupon} shows all openings across an axis ${(1000 * otherMm).toFixed(0)} µm wider than another does: these are two films, or the two sides of one.`,
      hint: 'Give pictures of one film in one run; the readings of another are another day’s, in a folder of their own.',
    },
    ...(places ? placeWarnings(features.coupon, places, { reversed: !open.includes('bends') }) : []),
  );
}

const PLACES: Readonly<Record<(typeof PLACE_COLUMNS)[number], (mark: FilmMarks['marks'][number]) => string>> = {
  x_mm: ({ at }) => at[0].toFixed(5),
  y_mm: ({ at }) => at[1].toFixed(5),
  seen_x_mm: ({ seen }) => seen[0].toFixed(5),
  seen_y_mm: ({ seen }) => seen[1].toFixed(5),
  uncertainty_mm: ({ uMm }) => uMm.toFixed(5),
};

/** Within 80 columns, whatever the names: words to the left, numbers to the right. */
const WIDTHS = [22, 18, 9, 9, 5, 7, 8];

function table(pictures: readonly ReadPicture[]): string {
  const line = (cells: readonly string[]): string =>
    cells
      .map((cell, i) => (i < 4 ? cell.padEnd(WIDTHS[i]) : cell.padStart(WIDTHS[i])))
      .join('')
      .trimEnd();
  const cut = (text: string, width: number): string => (text.length > width ? `${text.slice(0, width - 1)}…` : text);
  const rows = pictures.flatMap(({ file, coupons }) =>
    coupons.map(({ coupon, recognised: { look, mirrored }, scanned, unread }) =>
      line([
        cut(visible(basename(file)), 21),
        cut(visible(coupon), 17),
        look,
        mirrored ? 'mirrored' : 'upright',
        `${scanned.length}`,
        `${unread.length}`,
        `${scanned.filter(({ doubt }) => doubt !== undefined).length}`,
      ]),
    ),
  );
  return `${[line(['picture', 'coupon', 'openings', 'film', 'read', 'unread', 'doubt']), ...rows].join('\n')}\n`;
}

function summary(results: readonly CouponResult[], scanner: ScannerFit): string[] {
  const percent = (value: number): string => (100 * value).toFixed(3);
  const shown = (axis: 'X' | 'Y', strain: number, direction: readonly [number, number]): string =>
    `${axis} ${percent(Math.abs(strain))} % ${strain < 0 ? 'large' : 'small'} (± ${percent(scaleUncertainty(direction, scanner))})`;
  const [x, y, skew] = scanner.strain;
  return [
    ...results.map(({ features, readings, seen, places }) => {
      // What only a caliper can read does not count.
      const all = features.features.filter((feature) => !isForJaws(feature)).length;
      const agree =
        places?.betweenMm === undefined ? '' : ` (pictures agree to ${(1000 * places.betweenMm).toFixed(1)} µm)`;
      const more = places ? `, ${count(places.marks.length, 'place')}${agree}` : '';
      return `${visible(features.coupon)}: ${readings.length} of ${count(all, 'feature')} in ${count(seen.length, 'picture')}${more}`;
    }),
    ...results.flatMap(({ features: { coupon }, places: { scannerBendsMm } = {} }) =>
      present(
        scannerBendsMm !== undefined &&
          `scanner: bends the places of ${visible(coupon)} by up to ${(1000 * scannerBendsMm).toFixed(0)} µm, taken out`,
      ),
    ),
    scanner.scaled || scanner.reversed
      ? `scanner: ${shown('X', x, [1, 0])}, ${shown('Y', y, [0, 1])}, skew ${scanner.open.includes('shear') ? 'not told' : `${percent(-skew)} %`}`
      : `scanner: its own scale is not known (± ${percent(scaleUncertainty([1, 0], scanner))} %)`,
    `widths: ${(1000 * scanner.offsetMm).toFixed(1)} µm added (± ${(1000 * scanner.uOffsetMm).toFixed(1)})`,
  ];
}
