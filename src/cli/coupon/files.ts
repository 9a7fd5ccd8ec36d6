import type { Coupon, CouponImage } from '../../coupon/types.js';
import { type ExportFormat, isRaster, markedTitle } from '../../export/export-formats.js';
import { writeArtwork } from '../../export/write.js';
import { couponOrder } from '../../fit/plan/plan-words.js';
import { type ProjectGauge, takenWith } from '../../project/project.js';
import { blankReadings } from '../../readings/blank-readings.js';
import { readingsPage } from '../../report/readings-page/readings-page.js';
import { writeWorksheet } from '../../report/worksheet/worksheet.js';
import { jobRecord, type OutputFile, sha256 } from '../results.js';

export interface CouponFilesOptions {
  readonly paper: 'a4' | 'letter';
  readonly formats: readonly ExportFormat[];
  /** The pattern's text as read, and the parameters, for the sidecar. */
  readonly source: { readonly file: string; readonly text: string };
  readonly parameters: Readonly<Record<string, unknown>>;
  /** What lengths are read with, from the project file. */
  readonly gauges?: readonly ProjectGauge[];
}

/** A machine that takes grey levels gets them as grey PNG: its one image of the kind has the plain name. */
const ENDINGS: Readonly<Record<string, string>> = { 'grey-png': 'png', tiff: 'tif' };
/** What is written when nobody says otherwise: BMP of every step of a grid would be hundreds of megabytes. */
export function couponFormats(isGrid: boolean): readonly ExportFormat[] {
  return isGrid ? ['png', 'svg', 'pdf'] : ['png', 'bmp', 'svg', 'pdf'];
}

/** Ending of the images that the steps name: of the first format made of dots; undefined when there is none. */
export function imageEndingOf(formats: readonly ExportFormat[]): string | undefined {
  const first = formats.find(isRaster);
  return first && (ENDINGS[first] ?? first);
}

async function writeImage(coupon: Coupon, image: CouponImage, format: ExportFormat): Promise<OutputFile> {
  const { canvas } = coupon;
  const grey = image.greyLevels?.flatMap((level) => level.openings.map(() => level.grey));
  const openings = image.greyLevels ? image.greyLevels.flatMap((level) => level.openings) : image.openings;
  const written = await writeArtwork(openings, {
    format,
    canvas,
    pitchMm: { x: canvas.pitchXMm, y: canvas.pitchYMm },
    rounding: 'snapped',
    title: markedTitle(image.name, 'coupon'),
    grey,
  });
  return { name: `${image.name}.${ENDINGS[format] ?? format}`, bytes: written.bytes };
}

/** All files of one coupon, ready to be written; same inputs, same bytes. */
export async function couponFiles(coupon: Coupon, options: CouponFilesOptions): Promise<OutputFile[]> {
  const files: OutputFile[] = [];
  const parted = coupon.images.length > 1 || coupon.images[0].greyLevels !== undefined;
  for (const image of coupon.images) {
    const dots = options.formats.filter(isRaster);
    const formats = image.greyLevels ? dots.filter((format) => format === 'png') : dots;
    for (const format of formats) {
      files.push(await writeImage(coupon, image, image.greyLevels ? 'grey-png' : format));
    }
  }
  // Programs that take outlines give each cell its power themselves, so they get all cells in one drawing.
  const whole = { name: coupon.name, openings: coupon.openings };
  for (const format of options.formats.filter((one) => !isRaster(one))) {
    files.push(await writeImage(coupon, whole, format));
  }
  if (parted)
    files.push({ name: `${coupon.name}.steps.txt`, bytes: `${[...coupon.steps, ...coupon.jobs].join('\n')}\n` });
  const order = couponOrder(coupon, takenWith(coupon.features.features, options.gauges ?? []));
  files.push(
    { name: `${coupon.name}.features.json`, bytes: `${JSON.stringify(coupon.features, null, 2)}\n` },
    { name: `${coupon.name}.readings.csv`, bytes: blankReadings(coupon, order) },
    { name: `${coupon.name}.readings.html`, bytes: readingsPage(coupon, options.gauges) },
    {
      name: `${coupon.name}.worksheet.pdf`,
      bytes: await writeWorksheet(coupon, { paper: options.paper, order, gauges: options.gauges }),
    },
  );
  files.push(sidecar(coupon, options, files));
  return files;
}

function sidecar(coupon: Coupon, { source, parameters }: CouponFilesOptions, files: readonly OutputFile[]): OutputFile {
  return jobRecord(coupon.name, {
    source: { file: source.file, sha256: sha256(source.text) },
    parameters,
    canvas: coupon.canvas,
    counts: {
      openings: coupon.openings.length,
      features: coupon.features.features.length,
      images: coupon.images.length,
      warnings: coupon.warnings.length,
    },
    images: coupon.images.map(({ name, powerPercent, speedMmS }) => ({ name, powerPercent, speedMmS })),
    outputs: files.map(({ name, bytes }) => ({ file: name, sha256: sha256(bytes) })),
    warnings: coupon.warnings,
  });
}
