export function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** Root mean square. */
export const rms = (values: readonly number[]): number => Math.sqrt(mean(values.map((value) => value * value)));

export const geometricMean = (values: readonly number[]): number => Math.exp(mean(values.map(Math.log)));

/** The middle value, or the mean of the two middle ones; undefined for none. */
export function median(values: readonly number[]): number | undefined {
  if (values.length === 0) return undefined;
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}
