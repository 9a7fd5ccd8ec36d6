/** Dots per millimetre that a file states, and where it says so. */
export interface StatedResolution {
  readonly perMmX: number;
  readonly perMmY: number;
  /** The place in the file, in words: `pHYs chunk`. */
  readonly saidBy: string;
}

/** Takes an image's rows from the top down. */
export interface RowSink {
  /** A row of brightness, 0 to 255; the buffer is 4-byte aligned, a multiple of 32 long, zero beyond the width. */
  addGreyRow(row: Uint8Array): void;
  /** A row of bits, most significant first, set where light; what lies beyond the width may hold anything. */
  addBitRow(row: Uint8Array): void;
  /** The same as the row before. */
  repeatRow(): void;
}

/** An opened image, whose pixels are decoded only when rows are asked for, and can be decoded again. */
export interface PixelSource {
  readonly width: number;
  readonly height: number;
  readonly resolution: StatedResolution | undefined;
  /** Height of a pixel divided by its width, where the file gives only that. */
  readonly pixelAspect?: number;
  /** Every pixel is one of two levels by format, so `addBitRow` alone is used. */
  readonly isBits: boolean;
  /** How many pictures the file holds, where it can hold several; the first is read. */
  readonly pictures?: number;
  /** What the decoder complained of although it went on; filled by `sendRows`. */
  readonly complaints?: ReadonlySet<string>;
  /** The same picture drawn by its see-through parts alone, opaque dark, where the file can have any. */
  readonly opacity?: Pick<PixelSource, 'width' | 'height' | 'isBits' | 'sendRows'>;
  /** @throws {InputError} IMAGE_DAMAGED */
  sendRows(sink: RowSink): Promise<void>;
}

/** A zeroed row buffer as {@link RowSink.addGreyRow} wants it. */
export function greyRowBuffer(width: number): Uint8Array {
  return new Uint8Array(Math.ceil(width / 32) * 32);
}
