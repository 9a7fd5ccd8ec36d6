import { join } from 'node:path';
import type { Coupon } from '../../coupon/types.js';
import { ENDINGS, type ExportFormat, markedTitle } from '../../export/export-formats.js';
import type { Written } from '../../export/types.js';
import { couponOrder } from '../../fit/plan/plan-words.js';
import type { FilmSheet } from '../../layout/types.js';
import type { Profile } from '../../machine/types.js';
import { blankReadings } from '../../readings/blank-readings.js';
import { type DryFitPdf, dryFitPdf } from '../../report/dry-fit.js';
import { writeWorksheet } from '../../report/worksheet/worksheet.js';
import type { Size } from '../../stencil/frame.js';
import { writeStencil } from '../../stencil/make-stencil.js';
import type { Pending } from '../each-artwork.js';
import type { Io } from '../io.js';
import { jobReport } from '../job-report.js';
import type { LayoutOptionValues } from '../options/stencils.js';
import { isFilled, type OutputFile, reportFiles, sha256 } from '../results.js';
import { faultName, type LayoutReport } from './report.js';
import { type CommandedSheet, onSheet } from './sheet.js';
import type { LaidArtwork } from './stencil.js';

/** Name of the results: what the user calls the sheet, else the first artwork's. */
export const sheetStem = ([{ stem }]: readonly Pick<Pending, 'stem'>[], name: string | undefined): string =>
  name ? name.replace(/[^\p{L}\p{N}_.-]+/gu, '-') : stem;

/** The sheet in every format that is asked for. */
export async function sheetFiles(
  stem: string,
  sheet: CommandedSheet,
  formats: readonly ExportFormat[],
): Promise<{ files: OutputFile[]; written: Written[] }> {
  const files: OutputFile[] = [];
  const written: Written[] = [];
  for (const format of formats) {
    const result = await writeStencil(sheet, { format, title: markedTitle(stem, 'corrected') });
    written.push(result);
    files.push({ name: `${stem}.sheet${ENDINGS[format]}`, bytes: result.bytes });
  }
  return { files, written };
}

/** The page to lay over the board before a film is cut. */
export async function dryFitFile(
  stem: string,
  sheet: FilmSheet,
  { paper = 'a4', printedMm }: LayoutOptionValues,
): Promise<{ file: OutputFile; dryFit: DryFitPdf }> {
  const dryFit = await dryFitPdf(
    {
      title: `${stem}: dry fit on paper`,
      widthMm: sheet.widthMm,
      heightMm: sheet.heightMm,
      openings: sheet.openings.map(({ opening }) => opening),
      outlines: sheet.outlines,
      pieces: sheet.pieces,
    },
    { paper, ...(printedMm ? { printedMm: { x: printedMm.widthMm, y: printedMm.heightMm } } : {}) },
  );
  return { file: { name: `${stem}.dry-fit.pdf`, bytes: dryFit.bytes }, dryFit };
}

/** What a sheet's witness is called: the same sheet cut on a later day has another one, for readings are never replaced. */
export async function witnessName(stem: string, out: string, io: Io): Promise<string> {
  for (let n = 1; ; n += 1) {
    const name = n === 1 ? `${stem}.witness` : `${stem}.witness-${n}`;
    if (!(await isFilled(join(out, `${name}.readings.csv`), io))) return name;
  }
}

/** What the witness coupons in the corners are read with. */
export async function witnessFiles(
  called: string,
  coupon: Coupon,
  { paper = 'a4' }: LayoutOptionValues,
): Promise<OutputFile[]> {
  const order = couponOrder(coupon);
  const name = (ending: string): string => `${called}.${ending}`;
  return [
    { name: name('features.json'), bytes: `${JSON.stringify(coupon.features, null, 2)}\n` },
    { name: name('readings.csv'), bytes: blankReadings(coupon, order) },
    { name: name('worksheet.pdf'), bytes: await writeWorksheet(coupon, { paper, order }) },
  ];
}

/** The page and the PDF on a sheet. @param made - the sheet's own files */
export async function sheetReport(
  stem: string,
  sheet: FilmSheet,
  { commanded, figures, faults }: CommandedSheet,
  report: LayoutReport,
  laid: readonly LaidArtwork[],
  { profile, bytes, bed }: { readonly profile: Profile; readonly bytes: Uint8Array; readonly bed?: Size },
  made: readonly OutputFile[],
): Promise<OutputFile[]> {
  const sources = [...new Set(laid)].map(({ source }) => source);
  return reportFiles(
    `${stem}.sheet`,
    jobReport({
      title: `${stem}: a sheet to cut`,
      sentences: [...new Set(laid)].map((one) => {
        const { name, side, mirrored, mark } = report.stencils[laid.indexOf(one)];
        const times = laid.filter((other) => other === one).length;
        return `${times === 1 ? '' : `${times} x `}${name}: ${[side ? `${side} side` : 'side unknown', mirrored ? 'mirrored' : 'not mirrored'].join(', ')}; corrected for ${profile.name}. ${times === 1 ? 'Its film says' : 'Their film says'} job ${mark}.`;
      }),
      asked: sheet.openings.map(({ opening }) => opening),
      called: (opening) => {
        const { number, ...place } = onSheet(sheet, opening);
        return { name: faultName({ number, ...place }), ...(number === undefined ? {} : { number }) };
      },
      commanded,
      canvas: report.canvas,
      profile,
      ...(bed ? { bed } : {}),
      ...(figures ? { figures } : {}),
      faults,
      narrow: commanded.corrected.narrow,
      warnings: report.warnings,
      first: [
        `Print ${stem}.dry-fit.pdf on paper at 100 %, and lay the board on it: do all openings lie on their pads?`,
      ],
      files: made.map(({ name }) => name),
      record: [
        ...sources.flatMap((source) => [['artwork', source.file] as const, ['its SHA-256', source.sha256] as const]),
        ['profile', profile.name],
        ['its SHA-256', sha256(bytes)],
        ...made.map(({ name, bytes: content }) => [`SHA-256 of ${name}`, sha256(content)] as const),
      ],
    }),
  );
}
