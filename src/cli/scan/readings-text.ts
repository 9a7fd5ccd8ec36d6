import { csvText } from '../../csv-text.js';
import type { ReadingColumn } from '../../readings/columns.js';
import type { ScanReading } from '../../scan/readings-of-scans.js';

const COLUMNS = [
  'feature',
  'reading_mm',
  'outcome',
  'uncertainty_mm',
  'gauge',
  'gauge_limit_mm',
  'note',
] as const satisfies readonly ReadingColumn[];

/** Readings from pictures as a readings file (contract 2). */
export function readingsCsv(readings: readonly ScanReading[]): string {
  const mm = (value: number | undefined): string => value?.toFixed(5) ?? '';
  return csvText(
    COLUMNS,
    readings.map(({ feature, readingMm, outcome, uncertaintyMm, gauge, gaugeLimitMm, note }) => ({
      feature,
      reading_mm: mm(readingMm),
      outcome: outcome ?? '',
      uncertainty_mm: mm(uncertaintyMm),
      gauge: gauge ?? '',
      gauge_limit_mm: mm(gaugeLimitMm),
      note: note ?? '',
    })),
  );
}
