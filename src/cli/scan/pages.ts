import { basename, join } from 'node:path';
import { formatProblem, type Warning } from '../../errors.js';
import type { ScanMark } from '../../report/scan-picture.js';
import type { PictureResult } from '../../scan/scan-picture.js';
import type { FileToWrite } from '../write-together.js';
import { drawnUpon, type Shown } from './show-picture.js';

export interface DrawnPicture {
  readonly shown: Shown;
  /** Its resolution is known. */
  readonly sized: boolean;
}

type Page = Omit<PictureResult, 'overview'> & DrawnPicture & { readonly file: string };

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
  const drawn = await Promise.all(pictures.map((page) => drawnUpon(page.shown, { marks: marksOf(page) })));
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
          svg: drawn[i].svg,
          find: 'feature',
          words:
            'Each feature with its two edges where they were found. Dashed: look at it; the reason shows when you point at it.',
        } as const,
        ...doubtsOf(page),
      ]),
    ],
  });
  return [
    { path: join(out, 'scan.html'), bytes: html },
    ...drawn.map(({ png }, i) => ({ path: join(out, `${stems[i]}.scan.png`), bytes: png })),
  ];
}

function marksOf({ coupons, rule }: Page): ScanMark[] {
  const features = coupons.flatMap(({ scanned }) =>
    scanned.flatMap(({ feature, ends, doubt }): ScanMark[] =>
      ends ? [{ name: feature.id, ends, ...(doubt ? { doubt } : {}) }] : [],
    ),
  );
  return [...features, ...(rule ? [{ name: `${rule.lines} lines of the rule`, ends: rule.ends }] : [])];
}

const WHY: Readonly<Record<string, string>> = {
  gone: 'no film stands between its two openings',
  closed: 'the film is not cut through',
};

function doubtsOf({ coupons }: Page) {
  const rows = coupons.flatMap(({ scanned, unread }) => [
    ...scanned.flatMap(({ feature, doubt, outcome }) =>
      doubt || outcome ? [[feature.id, outcome ?? '', doubt ?? WHY[outcome ?? ''] ?? '']] : [],
    ),
    ...unread.map(({ id, why }) => [id, 'not read', why]),
  ]);
  return rows.length === 0
    ? []
    : [{ kind: 'table', caption: 'To be looked at', head: ['feature', 'outcome', 'why'], rows } as const];
}
