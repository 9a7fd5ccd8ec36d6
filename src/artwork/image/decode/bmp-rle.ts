/**
 * Unpacks run-length coded BMP pixels into one byte a pixel, rows from the top down.
 *
 * @param bits - 4 or 8
 * @returns undefined when the code runs out of the image or of the file
 * @remarks Source: Windows GDI reference, "Bitmap Compression" (BI_RLE4, BI_RLE8), from memory.
 */
export function unpackRle(
  bytes: Uint8Array,
  offset: number,
  width: number,
  height: number,
  bits: 4 | 8,
): Uint8Array | undefined {
  const out = new Uint8Array(width * height);
  let at = offset;
  let x = 0;
  let y = 0;
  while (at + 1 < bytes.length) {
    const count = bytes[at];
    const code = bytes[at + 1];
    at += 2;
    if (count > 0) {
      if (y >= height || x + count > width) return undefined;
      const row = (height - 1 - y) * width + x;
      if (bits === 8) out.fill(code, row, row + count);
      else for (let k = 0; k < count; k += 1) out[row + k] = k & 1 ? code & 15 : code >> 4;
      x += count;
    } else if (code === 0) {
      x = 0;
      y += 1;
    } else if (code === 1) {
      return out;
    } else if (code === 2) {
      if (at + 1 >= bytes.length) return undefined;
      x += bytes[at];
      y += bytes[at + 1];
      at += 2;
      if (x > width || y > height) return undefined;
    } else {
      const size = bits === 8 ? code : (code + 1) >> 1;
      if (at + size > bytes.length || y >= height || x + code > width) return undefined;
      const row = (height - 1 - y) * width + x;
      for (let k = 0; k < code; k += 1) {
        const byte = bytes[at + (bits === 8 ? k : k >> 1)];
        out[row + k] = bits === 8 ? byte : k & 1 ? byte & 15 : byte >> 4;
      }
      x += code;
      at += size + (size & 1);
    }
  }
  return undefined;
}
