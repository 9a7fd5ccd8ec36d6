import { join } from 'node:path';
import type { Coupon } from '../../coupon/types.js';
import type { Warning } from '../../errors.js';
import type { Written } from '../../export/types.js';
import { couponOrder } from '../../fit/plan/plan-words.js';
import type { PerAxis, Size } from '../../geometry/types.js';
import type { FilmSheet } from '../../layout/types.js';
import { machineModel } from '../../machine/machine-model.js';
import type { Profile } from '../../machine/types.js';
import type { Project } from '../../project/project.js';
import { blankReadings } from '../../readings/blank-readings.js';
import { type DryFitPdf, dryFitPdf } from '../../report/dry-fit.js';
import { writeWorksheet } from '../../report/worksheet/worksheet.js';
import { count } from '../../text.js';
import type { Pending } from '../each-artwork.js';
import type { Io } from '../io.js';
import { jobReport, withoutFolder } from '../job-report.js';
import {
  faultRows,
  figuresRow,
  firstRows,
  laidWords,
  machineRows,
  narrowText,
  reportedCanvas,
} from '../machine-words.js';
import type { LayoutOptionValues } from '../options/stencils.js';
import { isFilled, jobRecord, type OutputFile, recordOf, reportFiles, sha256 } from '../results.js';
import { machineOf } from '../stencil-settings.js';
import { row, shellQuoted } from '../tell.js';
import type { Board } from './board.js';
import { type CommandedSheet, type FaultOnSheet, onSheet } from './sheet.js';
import { type LaidArtwork, parametersOf } from './stencil.js';

/** Name of the results: what the user calls the sheet, else the first artwork's. */
export const sheetStem = ([{ stem }]: readonly Pick<Pending, 'stem'>[], name: string | undefined): string =>
  name ? name.replace(/[^\p{L}\p{N}_.-]+/gu, '-') : stem;

/** A sheet that is being made. */
export interface SheetJob {
  readonly stem: string;
  readonly sheet: FilmSheet;
  readonly made: CommandedSheet;
  /** In the order of the sheet's pieces. */
  readonly laid: readonly LaidArtwork[];
  readonly profile: Profile;
  /** Of the profile. */
  readonly bytes: Uint8Array;
  readonly bed?: Size;
  readonly values: LayoutOptionValues;
}

/** The page to lay over the board before a film is cut. */
export async function dryFitOf({ stem, sheet, values: { paper = 'a4', printedMm } }: SheetJob) {
  const { bytes, ...pages } = await dryFitPdf(
    {
      title: `${stem}: dry fit on paper`,
      widthMm: sheet.widthMm,
      heightMm: sheet.heightMm,
      openings: sheet.openings.map(({ opening }) => opening),
      outlines: sheet.outlines,
      pieces: sheet.pieces,
    },
    { paper, printedMm: printedMm && { x: printedMm.widthMm, y: printedMm.heightMm } },
  );
  return { file: { name: `${stem}.dry-fit.pdf`, bytes }, ...pages };
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
  gauges: Project['gauges'],
): Promise<OutputFile[]> {
  const order = couponOrder(coupon);
  const name = (ending: string): string => `${called}.${ending}`;
  return [
    { name: name('features.json'), bytes: `${JSON.stringify(coupon.features, null, 2)}\n` },
    { name: name('readings.csv'), bytes: blankReadings(coupon, order) },
    { name: name('worksheet.pdf'), bytes: await writeWorksheet(coupon, { paper, order, gauges }) },
  ];
}

/** The page and the PDF on a sheet. @param made - the sheet's own files */
export function sheetReport(job: SheetJob, report: LayoutReport, made: readonly OutputFile[]): Promise<OutputFile[]> {
  const { stem, sheet, laid, profile, bytes, bed } = job;
  const { commanded, figures, faults } = job.made;
  return reportFiles(
    `${stem}.sheet`,
    jobReport({
      title: `${stem}: a sheet to cut`,
      sentences: sourcesOf(laid).map((one) => {
        const stencil = report.stencils[laid.indexOf(one)];
        const times = laid.filter((other) => other === one).length;
        return `${times === 1 ? '' : `${times} x `}${stencil.name}: ${laidWords(stencil)}; corrected for ${profile.name}. ${times === 1 ? 'Its film says' : 'Their film says'} job ${stencil.mark}.`;
      }),
      asked: sheet.openings.map(({ opening }) => opening),
      called: (opening) => {
        const { number, ...place } = onSheet(sheet, opening);
        return { name: faultName({ number, ...place }), number };
      },
      commanded,
      canvas: report.canvas,
      profile,
      bed,
      figures,
      faults,
      warnings: report.warnings,
      first: [
        `Print ${stem}.dry-fit.pdf on paper at 100 %, and lay the board on it: do all openings lie on their pads?`,
      ],
      made,
      sources: sourcesOf(laid).map(({ source }) => source),
      profileSha256: sha256(bytes),
    }),
  );
}

/** What is told about a sheet; also the heart of its sidecar. */
export type LayoutReport = ReturnType<typeof reportOf>;

/** Gathers what is told about a sheet. */
export function reportOf(job: SheetJob, written: readonly Written[], pitchMm: PerAxis, warnings: readonly Warning[]) {
  const { sheet, laid, profile } = job;
  const { commanded, narrow, figures, faults } = job.made;
  const counts: Record<string, number> = {};
  for (const { part } of sheet.openings) counts[part] = (counts[part] ?? 0) + 1;
  return {
    stencils: sheet.pieces.map((piece, i) => ({
      name: piece.name,
      side: laid[i].side,
      mirrored: laid[i].mirrored,
      /** What is cut into its film. */
      mark: laid[i].source.mark,
      /** Which of the sources it is made from, counting from 1, and how that lies on its piece of film. */
      source: sourcesOf(laid).indexOf(laid[i]) + 1,
      fromArtwork: laid[i].fromArtwork,
      atMm: piece.at,
      widthMm: piece.widthMm,
      heightMm: piece.heightMm,
    })),
    sheetMm: { widthMm: sheet.widthMm, heightMm: sheet.heightMm },
    canvas: reportedCanvas(written, commanded.frame, machineModel(profile), { pitchMm }),
    /** How many openings of each kind are on the sheet. */
    counts,
    /** How near what is cut comes to what was asked; of images. */
    cut: figures,
    faults,
    narrow,
    warnings,
  };
}

const sourcesOf = (laid: readonly LaidArtwork[]): LaidArtwork[] => [...new Set(laid)];

/** The record of a sheet. */
export function sheetSidecar(job: SheetJob, report: LayoutReport, files: readonly OutputFile[]): OutputFile {
  const { stem, laid, profile, bytes, values } = job;
  return jobRecord(`${stem}.sheet`, {
    sources: sourcesOf(laid).map((one) => ({
      ...one.source,
      stencils: laid.filter((other) => other === one).length,
    })),
    profile: { name: profile.name, sha256: sha256(bytes) },
    parameters: { ...parametersOf(values), ...machineOf(profile) },
    ...report,
    warnings: report.warnings.map(withoutFolder),
    outputs: recordOf(files),
  });
}

/** How the witness coupon was dealt with; what its files are called, and how many of it are cut. */
export type WitnessState = { readonly cut: string; readonly pieces: number } | 'left out' | 'not wanted';

/** Tells about a sheet. */
export function layoutWords(
  { profile, bed }: SheetJob,
  report: LayoutReport,
  board: Board,
  dryFit: Pick<DryFitPdf, 'pages' | 'tiled'>,
  witness: WitnessState,
): string {
  const { stencils, sheetMm, counts } = report;
  return [
    `${count(stencils.length, 'stencil')} on a sheet of ${size(sheetMm)} mm; the canvas is all of it\n`,
    ...stencils.map(({ name, side, mirrored, mark, atMm, ...piece }) => {
      const laid = [side ? `${side} side` : '', mirrored ? 'mirrored' : 'not mirrored'].filter(Boolean).join(', ');
      return row(
        'stencil',
        `${name}: ${laid}; ${size(piece)} mm at ${atMm.map((v) => v.toFixed(1)).join(', ')} from the sheet’s lower left corner; its film says job ${mark}`,
      );
    }),
    boardRow(board, stencils.length),
    row(
      'holds',
      [...Object.entries(counts), ...(typeof witness === 'object' ? [['witness', witness.pieces] as const] : [])]
        .map(([part, n]) => `${n} x ${part}`)
        .join(', '),
    ),
    ...machineRows(report.canvas, profile, bed),
    figuresRow(report.cut),
    faultRows(report.faults, faultName),
    witnessRow(witness),
    row('dry fit', dryFitText(dryFit)),
    firstRows(report.narrow, (part) =>
      row('narrow', `${faultName({ ...part, number: part.opening })}: ${narrowText(part)}`),
    ),
  ].join('');
}

/** How something on a sheet is called. */
export function faultName({ stencil, part, number }: Pick<FaultOnSheet, 'stencil' | 'part' | 'number'>): string {
  return `${stencil} ${part}${number === undefined ? '' : ` ${number}`}`;
}

const size = ({ widthMm, heightMm }: Size): string => `${widthMm.toFixed(1)} x ${heightMm.toFixed(1)}`;

/** Nobody may take a box around the openings for the board. */
function boardRow({ outline }: Board, stencils: number): string {
  if (outline) return '';
  const boxes = stencils === 1 ? 'the box around the openings stands' : 'the boxes around the openings stand';
  return row(
    'board',
    `its outline is not known: ${boxes} for it, and marks and margins go by that; give --outline or --board-mm`,
  );
}

function witnessRow(witness: WitnessState): string {
  if (witness === 'not wanted') return '';
  if (witness === 'left out')
    return row('witness', 'left out: with this machine’s scale or kerf the coupon would not keep to its square');
  // From day to day only one place of the bed tells of drift.
  const where =
    witness.pieces > 1
      ? 'in a corner of each stencil; read that of the stencil listed first, on each day'
      : 'in the corner; read it';
  return row(
    'witness',
    `cut uncorrected ${where} with: apertrue enter ${shellQuoted(witness.cut)}, which says how to add it to the profile: so drift is seen`,
  );
}

function dryFitText({ pages, tiled }: Pick<DryFitPdf, 'pages' | 'tiled'>): string {
  const print = 'print it at 100 % on paper';
  if (tiled)
    return `${print}: ${pages} pages, to be cut along their frames and joined; lay it over the board before you cut`;
  return `${print}${pages > 1 ? ` (${pages} pages, one for each stencil)` : ''} and lay it over the board before you cut`;
}
