import type { CalibrationResult, ReadingResidual } from '../fit/calibration/index.js';
import type { FitOptionValues } from './fit.js';
import { openingSentence, parameterRows } from './fit-words.js';
import type { Io } from './io.js';

/** The result in words and tables. */
export async function tellFit(result: CalibrationResult, values: FitOptionValues, io: Io): Promise<void> {
  const { fit } = result;
  io.out(`${table(['', 'value', '95 %', 'on the film'], parameterRows(fit))}\n`);
  io.out(
    `Model: ${fit.model}. ${result.residuals.length} readings, ${fit.dof} degrees of freedom, scatter ${(1000 * fit.residualSdMm).toFixed(1)} µm (standard deviation).\n`,
  );
  const sentence = openingSentence(fit);
  if (sentence) io.out(`${sentence}\n`);
  if (values.residuals) io.out(`\n${residualTable(result.residuals)}\n`);
}

const um = (mm: number): string => `${mm >= 0 ? '+' : '−'}${Math.abs(1000 * mm).toFixed(1)}`;

function residualTable(residuals: readonly ReadingResidual[]): string {
  return table(
    ['feature', 'kind', 'told mm', 'read mm', 'model mm', 'left µm', 't'],
    residuals.map((r) => [
      r.feature,
      r.kind,
      r.nominalMm.toFixed(4),
      r.readingMm.toFixed(4),
      r.predictedMm.toFixed(4),
      um(r.residualMm),
      r.studentised.toFixed(2),
    ]),
  );
}

/** Columns padded to their widest cell; the first and any of words to the left, numbers to the right. */
export function table(head: readonly string[], rows: readonly (readonly string[])[]): string {
  const widths = head.map((title, j) => Math.max(title.length, ...rows.map((row) => row[j].length)));
  const isNumber = head.map((_, j) => rows.every((row) => /^[+−-]?[\d.]*( mm)?$/.test(row[j])));
  const line = (cells: readonly string[]): string =>
    cells
      .map((cell, j) => (isNumber[j] ? cell.padStart(widths[j]) : cell.padEnd(widths[j])))
      .join('  ')
      .trimEnd();
  return [line(head), widths.map((width) => '─'.repeat(width)).join('  '), ...rows.map(line)].join('\n');
}
