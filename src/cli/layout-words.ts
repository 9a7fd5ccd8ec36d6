import { formatProblem, type Warning } from '../errors.js';
import type { Sheet } from '../layout/types.js';
import type { Pitch } from './commanded.js';
import type { LayoutOptionValues } from './layout.js';

/** Tells about a sheet. */
export function layoutWords(
  sheet: Sheet,
  report: {
    counts: Record<string, number>;
    canvas: { widthMm: number; heightMm: number; widthPx?: number; heightPx?: number };
    narrow: readonly {
      stencil: string;
      part: string;
      opening?: number;
      askedMm: readonly number[];
      comesOutMm: readonly number[];
    }[];
    warnings: readonly Warning[];
  },
  ownSize: boolean,
  pitch: Pitch,
  outputs: readonly string[],
  witness: boolean,
  values: LayoutOptionValues,
): string {
  const line = (label: string, text: string): string => `  ${label.padEnd(12)}${text}\n`;
  const { canvas } = report;
  const px = canvas.widthPx ? `${canvas.widthPx} x ${canvas.heightPx} px = ` : '';
  return [
    `${sheet.pieces.length} stencil${sheet.pieces.length === 1 ? '' : 's'} on a sheet of ${sheet.widthMm.toFixed(1)} x ${sheet.heightMm.toFixed(1)} mm\n`,
    ...sheet.pieces.map(({ name, at, widthMm, heightMm }) =>
      line(
        '',
        `${name}: ${widthMm.toFixed(1)} x ${heightMm.toFixed(1)} mm at ${at[0].toFixed(1)}, ${at[1].toFixed(1)}`,
      ),
    ),
    line(
      'holds',
      Object.entries(report.counts)
        .map(([part, n]) => `${n} x ${part}`)
        .join(', '),
    ),
    line(
      'canvas',
      `${px}${canvas.widthMm.toFixed(3)} x ${canvas.heightMm.toFixed(3)} mm as told to the machine, one dot every ${pitch.x === pitch.y ? pitch.x : `${pitch.x} x ${pitch.y}`} mm`,
    ),
    witness
      ? line(
          'witness',
          'cut uncorrected in the corner; read it and run `apertrue fit … --add-to` to see whether the machine drifts',
        )
      : values.witness
        ? line('witness', 'left out: this machine’s scale is far from 1, the coupon would not keep its size')
        : '',
    line(
      'dry fit',
      ownSize
        ? 'larger than the paper: print it in parts, or give a smaller sheet'
        : 'print it at 100 % on paper and lay it over the board before you cut',
    ),
    ...report.narrow
      .slice(0, 12)
      .map((n) =>
        line(
          'narrow',
          `${n.stencil} ${n.part}${n.opening === undefined ? '' : ` ${n.opening}`}: asked ${n.askedMm.map((v) => v.toFixed(3)).join(' x ')} mm, comes out ${n.comesOutMm.map((v) => v.toFixed(3)).join(' x ')} mm`,
        ),
      ),
    ...report.warnings.map((w) =>
      line(
        'warning',
        `${formatProblem(w)}${w.openings ? ` [openings ${w.openings.slice(0, 15).join(', ')}${w.openings.length > 15 ? ', …' : ''}]` : ''}`,
      ),
    ),
    line('wrote', outputs.join(' ')),
  ].join('');
}
