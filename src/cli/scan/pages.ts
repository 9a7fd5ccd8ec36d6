import { basename, join } from 'node:path';
import { formatProblem, type Warning } from '../../errors.js';
import { svgToPng } from '../../report/picture.js';
import { type ScanMark, scanPictureSvg } from '../../report/scan-picture.js';
import type { PictureResult } from '../../scan/scan-picture.js';
import type { FileToWrite } from '../write-together.js';

const PNG_PX = 2400;

export interface DrawnPicture {
  readonly preview: Uint8Array;
  readonly widthPx: number;
  readonly heightPx: number;
  /** Its resolution is known. */
  readonly sized: boolean;
}

type Page = PictureResult & DrawnPicture & { readonly file: string };

/** Names without endings; numbered where two pictures share one. */
export function stemsOf(files: readonly string[]): string[] {
  const seen = new Map<string, number>();
  return files.map((file) => {
    const stem = basename(file).replace(/\.[^.]+$/, '');
    const n = (seen.get(stem.toLowerCase()) ?? 0) + 1;
    seen.set(stem.toLowerCase(), n);
    return n === 1 ? stem : `${stem}-${n}`;
  });
}

/** One page with all pictures, and a PNG of each, on which every feature is drawn where it was found. */
export async function drawPages(
  pictures: readonly Page[],
  out: string,
  warnings: readonly Warning[],
  summary: readonly string[],
): Promise<FileToWrite[]> {
  const { reportHtml } = await import('../../report/document/html.js');
  const svgs = pictures.map((page) => scanPictureSvg({ ...page, preview: previewOf(page), marks: marksOf(page) }));
  const stems = stemsOf(pictures.map(({ file }) => file));
  const html = reportHtml({
    title: 'What was recognised',
    blocks: [
      { kind: 'list', items: summary },
      ...warnings.map((warning) => ({ kind: 'words', text: formatProblem(warning), tone: 'warning' }) as const),
      ...pictures.flatMap((page, i) => [
        { kind: 'heading', text: basename(page.file) } as const,
        {
          kind: 'close-up',
          svg: svgs[i],
          find: 'feature',
          words:
            'Each feature with its two edges where they were found. Dashed: look at it; the reason shows when you point at it.',
        } as const,
        ...doubtsOf(page),
      ]),
    ],
  });
  const pngs = await Promise.all(svgs.map((svg) => svgToPng(svg, PNG_PX)));
  return [
    { path: join(out, 'scan.html'), bytes: html },
    ...pngs.map((bytes, i) => ({ path: join(out, `${stems[i]}.scan.png`), bytes })),
  ];
}

const previewOf = ({ preview }: DrawnPicture) =>
  ({ mime: 'image/jpeg', base64: Buffer.from(preview).toString('base64') }) as const;

function marksOf({ coupons }: PictureResult): ScanMark[] {
  return coupons.flatMap(({ scanned }) =>
    scanned.flatMap(({ feature, ends, doubt }): ScanMark[] =>
      ends ? [{ name: feature.id, ends, ...(doubt ? { doubt } : {}) }] : [],
    ),
  );
}

function doubtsOf({ coupons }: PictureResult) {
  const rows = coupons.flatMap(({ scanned, unread }) => [
    ...scanned.flatMap(({ feature, doubt, outcome }) =>
      doubt || outcome ? [[feature.id, outcome ?? '', doubt ?? '']] : [],
    ),
    ...unread.map(({ id, why }) => [id, 'not read', why]),
  ]);
  return rows.length === 0
    ? []
    : [{ kind: 'table', caption: 'To be looked at', head: ['feature', 'outcome', 'why'], rows } as const];
}
