/** Millimetres with at most five digits after the point (10 nm), the shortest way. */
export function shortMm(value: number): string {
  const rounded = Math.round(value * 1e5) / 1e5;
  return rounded === 0 ? '0' : `${rounded}`;
}
