/**
 * Spreads samples of 1, 2, 4, 8 or 16 bits over a byte each; of 16 bits the upper eight are kept. Rows begin on a byte.
 *
 * @returns `rows` itself where nothing is to be done
 */
export function unpack(rows: Uint8Array, perRow: number, height: number, bits: number): Uint8Array {
  const count = perRow * height;
  if (bits === 8) return rows.subarray(0, count);
  const out = new Uint8Array(count);
  if (bits === 16) {
    for (let i = 0; i < count; i += 1) out[i] = rows[2 * i];
    return out;
  }
  const rowBytes = Math.ceil((perRow * bits) / 8);
  const mask = 2 ** bits - 1;
  for (let y = 0, i = 0; y < height; y += 1) {
    const end = i + perRow;
    for (let at = y * rowBytes; i < end; at += 1) {
      const byte = rows[at];
      for (let shift = 8 - bits; shift >= 0 && i < end; shift -= bits, i += 1) out[i] = (byte >> shift) & mask;
    }
  }
  return out;
}
