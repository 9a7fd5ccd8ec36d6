import { basename } from 'node:path';
import { formatProblem, type Warning } from '../../errors.js';
import type { ReadingColumn } from '../../readings/types.js';
import { type Block, heading, table, words } from '../../report/document/blocks.js';
import { svgToPng } from '../../report/picture.js';
import { type ScanMark, type ScanPicture, scanPictureSvg } from '../../report/scan-picture.js';
import type { GreyPicture } from '../../scan/picture/picture.js';
import type { ScanReading } from '../../scan/readings-of-scans.js';
import type { PictureResult } from '../../scan/scan-picture.js';
import { capital, csvText } from '../../text.js';
import { withNumbers } from '../each-artwork.js';
import type { OutputFile } from '../results.js';

/** Width of the picture that is looked at without a browser. */
const PNG_PX = 1800;

/** A picture of a scanner made small enough to be shown, and how large it was. */
export type Shown = Awaited<ReturnType<typeof shownAs>>;

export async function shownAs({ widthPx, heightPx }: Pick<GreyPicture, 'widthPx' | 'heightPx'>, overview: GreyPicture) {
  const { default: sharp } = await import('sharp');
  const raw = { width: overview.widthPx, height: overview.heightPx, channels: 1 } as const;
  const jpeg = await sharp(Uint8Array.from(overview.levels), { raw }).jpeg({ quality: 70 }).toBuffer();
  return { jpeg, widthPx, heightPx };
}

/** The same thing twice: an SVG to be looked at closely, with the picture in it, and a PNG. */
export async function drawnUpon(
  { jpeg, widthPx, heightPx }: Shown,
  drawing: Pick<ScanPicture, 'marks' | 'outlines'>,
): Promise<{ readonly svg: string; readonly png: Uint8Array }> {
  const { default: sharp } = await import('sharp');
  const size = { widthPx, heightPx, ...drawing };
  const preview = { mime: 'image/jpeg', base64: Buffer.from(jpeg).toString('base64') } as const;
  // The renderer of drawings takes ten times as long over a picture as a decoder does.
  const over = await svgToPng(scanPictureSvg(size), PNG_PX);
  const { width, height } = await sharp(over).metadata();
  const png = await sharp(jpeg)
    .resize(width, height, { fit: 'fill' })
    .toColourspace('srgb')
    .composite([{ input: Buffer.from(over) }])
    // A scan's noise hardly packs: more than this takes twice as long for a tenth.
    .png({ compressionLevel: 3 })
    .toBuffer();
  return { svg: scanPictureSvg({ ...size, preview }), png };
}

/** One picture after it was read: small enough to be kept. */
export interface ReadPicture extends Omit<PictureResult, 'overview'> {
  readonly file: string;
  readonly shown: Shown;
  /** Its resolution is known. */
  readonly sized: boolean;
}

/** Names without endings; numbered where two pictures share one. */
export const stemsOf = (files: readonly string[]): string[] =>
  withNumbers(files.map((file) => basename(file).replace(/\.[^.]+$/, '')));

/** One page with all pictures, and a PNG of each, on which every feature is drawn where it was found. */
export async function drawPages(
  pictures: readonly ReadPicture[],
  warnings: readonly Warning[],
  summary: readonly string[],
): Promise<OutputFile[]> {
  const { reportHtml } = await import('../../report/document/html.js');
  const drawn = await Promise.all(pictures.map((page) => drawnUpon(page.shown, { marks: marksOf(page) })));
  const stems = stemsOf(pictures.map(({ file }) => file));
  const html = reportHtml({
    title: 'What was recognised',
    blocks: [
      { kind: 'list', items: summary },
      ...warnings.map((warning) =>
        words(warning.place?.file ? formatProblem(warning) : capital(formatProblem(warning)), 'warning'),
      ),
      ...pictures.flatMap((page, i): Block[] => [
        heading(basename(page.file)),
        {
          kind: 'close-up',
          svg: drawn[i].svg,
          find: 'feature',
          words:
            'Each feature with its two edges where they were found. Dashed: look at it; the reason shows when you point at it.',
        },
        ...doubtsOf(page),
      ]),
    ],
  });
  return [
    { name: 'scan.html', bytes: html },
    ...drawn.map(({ png }, i) => ({ name: `${stems[i]}.scan.png`, bytes: png })),
  ];
}

function marksOf({ coupons, rule }: ReadPicture): ScanMark[] {
  const features = coupons.flatMap(({ scanned }) =>
    scanned.flatMap(({ feature, ends, doubt }): ScanMark[] => (ends ? [{ name: feature.id, ends, doubt }] : [])),
  );
  return [...features, ...(rule ? [{ name: `${rule.lines} lines of the rule`, ends: rule.ends }] : [])];
}

const WHY: Readonly<Record<string, string>> = {
  gone: 'no film stands between its two openings',
  closed: 'the film is not cut through',
};

function doubtsOf({ coupons }: ReadPicture) {
  const rows = coupons.flatMap(({ scanned, unread }) => [
    ...scanned.flatMap(({ feature, doubt, outcome }) =>
      doubt || outcome ? [[feature.id, outcome ?? '', doubt ?? WHY[outcome ?? ''] ?? '']] : [],
    ),
    ...unread.map(({ id, why }) => [id, 'not read', why]),
  ]);
  return table('To be looked at', ['feature', 'outcome', 'why'], rows);
}

const mm = (value: number | undefined): string => value?.toFixed(5) ?? '';

const READINGS: Readonly<Partial<Record<ReadingColumn, (reading: ScanReading) => string>>> = {
  feature: ({ feature }) => feature,
  reading_mm: ({ readingMm }) => mm(readingMm),
  outcome: ({ outcome }) => outcome ?? '',
  uncertainty_mm: ({ uncertaintyMm }) => mm(uncertaintyMm),
  gauge: ({ gauge }) => gauge ?? '',
  gauge_limit_mm: ({ gaugeLimitMm }) => mm(gaugeLimitMm),
  note: ({ note }) => note ?? '',
};

/** Readings from pictures as a readings file (contract 2). */
export const readingsCsv = (readings: readonly ScanReading[]): string => csvText(READINGS, readings);
