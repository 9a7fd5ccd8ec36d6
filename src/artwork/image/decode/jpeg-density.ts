import type { StatedResolution } from '../source.js';

const INCH = 1;
const CENTIMETRE = 2;

/**
 * Finds the resolution in a JPEG file's JFIF header; undefined when it says none.
 *
 * @remarks Source: JPEG File Interchange Format 1.02 (1992): units 0 none, 1 dots per inch, 2 dots per cm.
 */
export function jfifResolution(bytes: Uint8Array): { resolution?: StatedResolution; pixelAspect?: number } {
  for (let at = 2; at + 18 <= bytes.length && bytes[at] === 0xff; ) {
    const marker = bytes[at + 1];
    if (marker === 0xda || marker === 0xd9) return {};
    if (marker === 0xe0 && bytes[at + 4] === 0x4a && bytes[at + 5] === 0x46 && bytes[at + 6] === 0x49) {
      const unit = bytes[at + 11];
      const x = (bytes[at + 12] << 8) | bytes[at + 13];
      const y = (bytes[at + 14] << 8) | bytes[at + 15];
      if (x === 0 || y === 0) return {};
      if (unit !== INCH && unit !== CENTIMETRE) return { pixelAspect: x / y };
      const perMm = unit === INCH ? 25.4 : 10;
      return { resolution: { perMmX: x / perMm, perMmY: y / perMm, saidBy: 'JFIF header' } };
    }
    at += 2 + ((bytes[at + 2] << 8) | bytes[at + 3]);
  }
  return {};
}
