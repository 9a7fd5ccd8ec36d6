import { compositeLuma, luma } from '../luma.js';
import { GREY, GREY_ALPHA, PALETTE, type PngFile, RGB, RGBA } from './png-chunks.js';

/** Turns a PNG row's bytes into brightness, see-through parts over white. */
export type ToLight = (row: Uint8Array, out: Uint8Array) => void;

/** For images of two levels and no grey between them: whether a set bit is the lighter one. Undefined for others. */
export function bitMeaning(png: PngFile): 'light' | 'dark' | undefined {
  if (png.bitDepth !== 1) return undefined;
  const [zero, one] = indexLevels(png);
  return zero === 0 && one === 255 ? 'light' : zero === 255 && one === 0 ? 'dark' : undefined;
}

/** Brightness of every sample value of a grey image up to 8 bits, or of every palette entry. */
function indexLevels(png: PngFile): Uint8Array {
  const count = 1 << png.bitDepth;
  const levels = new Uint8Array(count);
  const { palette, transparency } = png;
  for (let i = 0; i < count; i += 1) {
    if (png.colourType === PALETTE && palette) {
      const at = Math.min(i, palette.length / 3 - 1) * 3;
      levels[i] = compositeLuma(palette[at], palette[at + 1], palette[at + 2], transparency?.[i] ?? 255);
    } else {
      levels[i] = Math.round((i * 255) / (count - 1));
      if (transparency && transparency.length >= 2 && ((transparency[0] << 8) | transparency[1]) === i) levels[i] = 255;
    }
  }
  return levels;
}

/** Picks the conversion for a file; `undefined` when the bytes are brightness already. */
export function toLight(png: PngFile): ToLight | undefined {
  const { width, bitDepth, colourType } = png;
  if (colourType === GREY && bitDepth === 8 && !png.transparency) return undefined;
  if (colourType === RGB && bitDepth === 8 && !png.transparency) return fromColour(width);
  if (colourType === PALETTE || (colourType === GREY && bitDepth < 16)) return fromIndices(png, indexLevels(png));
  const wide = bitDepth === 16;
  const size = wide ? 2 : 1;
  const channels = colourType === GREY ? 1 : colourType === GREY_ALPHA ? 2 : colourType === RGB ? 3 : 4;
  const step = channels * size;
  const key = colourType === GREY || colourType === RGB ? png.transparency : undefined;
  const keyed = key && key.length >= channels * 2 ? key : undefined;
  const sample = wide
    ? (row: Uint8Array, i: number): number => {
        const v = (row[i] << 8) | row[i + 1];
        return (v + 128 - (v >> 8)) >> 8;
      }
    : (row: Uint8Array, i: number): number => row[i];
  return (row, out) => {
    for (let x = 0, i = 0; x < width; x += 1, i += step) {
      if (keyed && matches(row, i, keyed, channels, wide)) {
        out[x] = 255;
      } else if (channels === 3) {
        out[x] = luma(sample(row, i), sample(row, i + size), sample(row, i + 2 * size));
      } else if (channels === 1) {
        out[x] = sample(row, i);
      } else {
        const g = sample(row, i);
        const alpha = sample(row, i + step - size);
        out[x] =
          channels === 2
            ? compositeLuma(g, g, g, alpha)
            : compositeLuma(g, sample(row, i + size), sample(row, i + 2 * size), alpha);
      }
    }
  };
}

/** Whether any part of the image may be seen through. */
export function hasOpacity({ colourType, transparency }: PngFile): boolean {
  return transparency !== undefined || colourType === GREY_ALPHA || colourType === RGBA;
}

/** Turns a PNG row's bytes into what can be seen through: opaque pixels dark, the ground light. */
export function toOpacity(png: PngFile): ToLight {
  const { width, bitDepth, colourType, transparency } = png;
  if (colourType === GREY_ALPHA || colourType === RGBA) {
    const size = bitDepth >> 3;
    const step = (colourType === RGBA ? 4 : 2) * size;
    return (row, out) => {
      for (let x = 0, i = step - size; x < width; x += 1, i += step) out[x] = 255 - row[i];
    };
  }
  // With a key there is one colour that is see-through, or with a palette an opacity for each.
  if (colourType === PALETTE || (colourType === GREY && bitDepth < 16)) {
    const count = 1 << bitDepth;
    const key = transparency && colourType === GREY ? (transparency[0] << 8) | transparency[1] : undefined;
    const clear = Uint8Array.from({ length: count }, (_, i) =>
      key === undefined ? 255 - (transparency?.[i] ?? 255) : i === key ? 255 : 0,
    );
    return fromIndices(png, clear);
  }
  const [size, channels] = [bitDepth >> 3, colourType === RGB ? 3 : 1];
  return (row, out) => {
    for (let x = 0; x < width; x += 1) {
      const clear = transparency && matches(row, x * channels * size, transparency, channels, size === 2);
      out[x] = clear ? 255 : 0;
    }
  };
}

function matches(row: Uint8Array, at: number, key: Uint8Array, channels: number, wide: boolean): boolean {
  for (let c = 0; c < channels; c += 1) {
    if (
      wide ? row[at + 2 * c] !== key[2 * c] || row[at + 2 * c + 1] !== key[2 * c + 1] : row[at + c] !== key[2 * c + 1]
    )
      return false;
  }
  return true;
}

function fromIndices(png: PngFile, levels: Uint8Array): ToLight {
  const { width, bitDepth } = png;
  if (bitDepth === 8)
    return (row, out) => {
      for (let x = 0; x < width; x += 1) out[x] = levels[row[x]];
    };
  const mask = (1 << bitDepth) - 1;
  return (row, out) => {
    for (let x = 0; x < width; x += 1) {
      const bit = x * bitDepth;
      out[x] = levels[(row[bit >> 3] >> (8 - bitDepth - (bit & 7))) & mask];
    }
  };
}

/** Colour at 8 bits. Most of a paste layer is plain black or white, which is told four pixels at a time. */
function fromColour(width: number): ToLight {
  return (row, out) => {
    const words = new Int32Array(row.buffer, row.byteOffset, row.length >> 2);
    const outWords = new Int32Array(out.buffer, out.byteOffset, out.length >> 2);
    const fours = width >> 2;
    for (let f = 0, w = 0; f < fours; f += 1, w += 3) {
      const first = words[w];
      if ((first === 0 || first === -1) && words[w + 1] === first && words[w + 2] === first) {
        outWords[f] = first;
        continue;
      }
      const x = f * 4;
      for (let i = x * 3, k = x; k < x + 4; k += 1, i += 3) out[k] = luma(row[i], row[i + 1], row[i + 2]);
    }
    for (let x = fours * 4; x < width; x += 1) out[x] = luma(row[3 * x], row[3 * x + 1], row[3 * x + 2]);
  };
}
