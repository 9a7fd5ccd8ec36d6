import type { Profile } from '../../machine/types.js';
import type { DryFitPdf } from '../../report/dry-fit.js';
import { faultRows, figuresRow } from '../faults-text.js';
import { fixedMm, machineRows } from '../machine-words.js';
import { count, row } from '../tell.js';
import type { Board } from './board.js';
import type { LayoutReport } from './report.js';
import type { FaultOnSheet } from './sheet.js';

const NARROW_SHOWN = 12;

/** How the witness coupon was dealt with. */
export type WitnessState = 'cut' | 'left out' | 'not wanted';

/** Tells about a sheet. */
export function layoutWords(
  report: LayoutReport,
  board: Board,
  profile: Profile,
  dryFit: DryFitPdf,
  witness: WitnessState,
): string {
  const { stencils, sheetMm, counts } = report;
  return [
    `${count(stencils.length, 'stencil')} on a sheet of ${size(sheetMm)} mm\n`,
    ...stencils.map(({ name, side, mirrored, mark, atMm, ...piece }) => {
      const laid = [side ? `${side} side` : '', mirrored ? 'mirrored' : 'not mirrored'].filter(Boolean).join(', ');
      return row(
        'stencil',
        `${name}: ${laid}; ${size(piece)} mm at ${atMm.map((v) => v.toFixed(1)).join(', ')}; its film says job ${mark}`,
      );
    }),
    boardRow(board, stencils.length),
    row(
      'holds',
      Object.entries(counts)
        .map(([part, n]) => `${n} x ${part}`)
        .join(', '),
    ),
    ...machineRows(report.canvas, profile),
    figuresRow(report.cut),
    faultRows(report.faults, faultName),
    witnessRow(witness),
    row('dry fit', dryFitText(dryFit)),
    ...report.narrow
      .slice(0, NARROW_SHOWN)
      .map(({ stencil, part, opening, askedMm, comesOutMm }) =>
        row(
          'narrow',
          `${stencil} ${part}${opening === undefined ? '' : ` ${opening}`}: asked ${askedMm.map(fixedMm).join(' x ')} mm, comes out ${comesOutMm.map(fixedMm).join(' x ')} mm`,
        ),
      ),
    report.narrow.length > NARROW_SHOWN
      ? row('', `… and ${report.narrow.length - NARROW_SHOWN} more, all in the .job.json`)
      : '',
  ].join('');
}

/** How something on a sheet is called. */
export function faultName({ stencil, part, number }: Pick<FaultOnSheet, 'stencil' | 'part' | 'number'>): string {
  return `${stencil} ${part}${number === undefined ? '' : ` ${number}`}`;
}

const size = ({ widthMm, heightMm }: { readonly widthMm: number; readonly heightMm: number }): string =>
  `${widthMm.toFixed(1)} x ${heightMm.toFixed(1)}`;

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
  return row(
    'witness',
    witness === 'cut'
      ? 'cut uncorrected in the corner; read it and run `apertrue fit … --add-to` to see whether the machine drifts'
      : 'left out: this machine’s scale is far from 1, the coupon would not keep its size',
  );
}

function dryFitText({ pages, tiled }: DryFitPdf): string {
  const print = 'print it at 100 % on paper';
  if (tiled)
    return `${print}: ${pages} pages, to be cut along their frames and joined; lay it over the board before you cut`;
  return `${print}${pages > 1 ? ` (${pages} pages, one for each stencil)` : ''} and lay it over the board before you cut`;
}
