import type { Diagnostics } from '../paint/diagnostics.js';
import type { Command } from './lex.js';

export const MM_PER_INCH = 25.4;

/** What the middle land of a paste layer may measure, mm. */
const LAND_MM = { least: 0.15, most: 8 };

/**
 * The unit that a file begins with, as millimetres per unit: the first MO, else the first G70 or G71, wherever it
 * stands. A file that states none is read as the one unit that makes its apertures lands of parts, with a warning.
 *
 * @returns undefined when nothing tells; lengths are then a problem
 */
export function findUnit(commands: readonly Command[], notes: Diagnostics): number | undefined {
  let byCode: number | undefined;
  const sizes: number[] = [];
  for (const { text } of commands) {
    const mode = /^MO\s*(MM|IN)/i.exec(text);
    if (mode) return mode[1].toUpperCase() === 'MM' ? 1 : MM_PER_INCH;
    if (/^g0*4(?!\d)/i.test(text)) continue;
    const code = /^(?:[NGXY][\d+-]*)*?G7([01])(?!\d)/i.exec(text);
    if (code) byCode ??= code[1] === '1' ? 1 : MM_PER_INCH;
    const aperture = /^AD\s*D\d+\s*([CROP])\s*,\s*([\d.]+)(?:\s*X\s*([\d.]+))?/i.exec(text);
    if (aperture) {
      sizes.push(Number(aperture[2]));
      if (/[RO]/i.test(aperture[1]) && aperture[3]) sizes.push(Number(aperture[3]));
    }
  }
  return byCode ?? guessUnit(sizes, notes);
}

function guessUnit(sizes: readonly number[], notes: Diagnostics): number | undefined {
  const sorted = sizes.filter((size) => size > 0).sort((p, q) => p - q);
  if (sorted.length === 0) return undefined;
  const middle = sorted[Math.floor(sorted.length / 2)];
  const fits = (mm: number): boolean => middle * mm >= LAND_MM.least && middle * mm <= LAND_MM.most;
  const [inch, metric] = [fits(MM_PER_INCH), fits(1)];
  if (inch === metric) return undefined;
  notes.warnOnce(
    'UNIT_ASSUMED',
    undefined,
    `the file does not state its unit; its apertures (${middle} in the middle) are lands of parts only in ${inch ? 'inch' : 'millimetres'}, and so it is read.`,
    'Check the size of the board; a wrong unit is a factor of 25.4.',
  );
  return inch ? MM_PER_INCH : 1;
}
