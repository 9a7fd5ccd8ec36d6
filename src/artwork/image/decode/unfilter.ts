/**
 * Undoes a PNG row's filter in place.
 *
 * @param filter - 0 none, 1 sub, 2 up, 3 average, 4 Paeth
 * @param row - the filtered row; afterwards the row itself
 * @param prior - the row above, all zero for the first
 * @param step - bytes of a whole pixel, at least 1
 * @returns false for an unknown filter
 * @remarks Source: PNG Specification (W3C, 2nd edition, 2003), section 9.
 */
export function unfilter(filter: number, row: Uint8Array, prior: Uint8Array, step: number): boolean {
  const n = row.length;
  switch (filter) {
    case 0:
      return true;
    case 1:
      for (let i = step; i < n; i += 1) row[i] += row[i - step];
      return true;
    case 2:
      for (let i = 0; i < n; i += 1) row[i] += prior[i];
      return true;
    case 3:
      for (let i = 0; i < step && i < n; i += 1) row[i] += prior[i] >> 1;
      for (let i = step; i < n; i += 1) row[i] += (row[i - step] + prior[i]) >> 1;
      return true;
    case 4:
      if (step === 1) paethBytes(row, prior);
      else paeth(row, prior, step);
      return true;
    default:
      return false;
  }
}

function paeth(row: Uint8Array, prior: Uint8Array, step: number): void {
  for (let i = 0; i < step && i < row.length; i += 1) row[i] += prior[i];
  for (let i = step; i < row.length; i += 1) {
    const a = row[i - step];
    const b = prior[i];
    const c = prior[i - step];
    row[i] += nearest(a, b, c);
  }
}

/** One byte a pixel: most of it is plain, where left, above and above left are equal. */
function paethBytes(row: Uint8Array, prior: Uint8Array): void {
  let a = 0;
  let c = 0;
  for (let i = 0; i < row.length; i += 1) {
    const b = prior[i];
    const v = row[i];
    a = a === b && b === c ? (v + a) & 255 : (v + nearest(a, b, c)) & 255;
    row[i] = a;
    c = b;
  }
}

function nearest(a: number, b: number, c: number): number {
  const pa = b > c ? b - c : c - b;
  const pb = a > c ? a - c : c - a;
  const p = a + b - c - c;
  const pc = p < 0 ? -p : p;
  if (pa <= pb && pa <= pc) return a;
  return pb <= pc ? b : c;
}
