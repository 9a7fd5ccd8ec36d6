import type { Feature } from '../../coupon/features.js';
import type { ReadingSession } from '../../machine/types.js';
import type { Reading } from '../../readings/types.js';
import { copiedRows } from '../calibration/copies.js';

/**
 * Puts several grids of one film together. Cells that bear one name in several grids get the grid's number in front
 * (`2:P60V8`), unless it is the same cell (same name, power and speed) read again. Rows that were copied count once.
 */
export function joinGrids(sessions: readonly Pick<ReadingSession, 'coupon' | 'features' | 'readings'>[]): {
  readings: Reading[];
  features: Feature[];
} {
  const features = new Map<string, Feature>();
  const readings: Reading[] = [];
  sessions.forEach((session, number) => {
    const names = new Map<string, string>();
    for (const feature of session.features) {
      const known = features.get(feature.id);
      const name = known && !isSame(known, feature) ? `${number + 1}:${feature.id}` : feature.id;
      names.set(feature.id, name);
      features.set(name, name === feature.id ? feature : { ...feature, id: name });
    }
    const copies = copiedRows(session);
    session.readings.forEach((reading, i) => {
      if (!copies.has(i)) readings.push({ ...reading, feature: names.get(reading.feature) ?? reading.feature });
    });
  });
  return { readings, features: [...features.values()] };
}

function isSame(a: Feature, b: Feature): boolean {
  if (a.kind !== 'cell' || b.kind !== 'cell') return a.kind === b.kind;
  return a.powerPercent === b.powerPercent && a.speedMmS === b.speedMmS;
}
