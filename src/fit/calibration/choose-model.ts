import { type CalibrationModel, freeParameters, MODELS } from './models.js';
import { type FitLength, type WeightedFit, weightedFit } from './weighted-fit.js';

/** Uncertainties beyond which the readings say nothing about a parameter: they leave room for any machine there is. */
const KNOWS_NOTHING = { scaleShare: 0.05, shear: 0.05, kerfMm: 0.5 };

/** A column of which less than this is left is not told apart from the others; the rest of it comes from rounding to the pitch. */
const LEAST_LEFT = 1e-6;

/** The largest model of which the readings can tell all parameters, fitted. */
export function chooseModel(lengths: readonly FitLength[], start: readonly number[]): WeightedFit | undefined {
  for (const model of MODELS) {
    if (model.freeNames.length > lengths.length) continue;
    const fit = weightedFit(model, lengths, start);
    if (isEstimable(model, fit)) return fit;
  }
  return undefined;
}

function isEstimable(model: CalibrationModel, fit: WeightedFit): boolean {
  const { qr, parameters } = fit.solved;
  if (!(qr.leastLeft > LEAST_LEFT) || !parameters.every(Number.isFinite)) return false;
  const free = freeParameters(model, parameters);
  return model.freeNames.every((name, k) => {
    const sd = Math.sqrt(qr.inverse[k][k]);
    if (name.startsWith('scale')) return sd < KNOWS_NOTHING.scaleShare * Math.abs(free[k]);
    return sd < (name === 'shear' ? KNOWS_NOTHING.shear : KNOWS_NOTHING.kerfMm);
  });
}

/** A start for the iteration: the scale from the longest readings, the kerf from what openings and webs differ from it. */
export function startParameters(lengths: readonly FitLength[]): number[] {
  const nominal = (l: FitLength): number => Math.hypot(l.dx, l.dy);
  const dimensional = lengths.filter(({ kind }) => kind !== 'vernier');
  const spans = dimensional.filter(({ kind }) => kind === 'span');
  const pool = spans.length > 0 ? spans : dimensional;
  const longest = Math.max(0, ...pool.map(nominal));
  const long = pool.filter((l) => nominal(l) >= longest / 2);
  const scale = median(long.map((l) => l.valueMm / nominal(l))) ?? 1;
  const start = scale > 0 ? scale : 1;
  const kerf = median(
    lengths
      .filter(({ kind }) => kind !== 'span')
      .map((l) => {
        if (l.kind === 'vernier') return l.valueMm * start;
        const extra = l.valueMm - start * nominal(l);
        return l.kind === 'web' ? -extra : extra;
      }),
  );
  const first = Math.max(kerf ?? 0.1, 0.01);
  return [start, start, 0, first, first];
}

export function median(values: readonly number[]): number | undefined {
  if (values.length === 0) return undefined;
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}
