/** What red, green and blue add to brightness (Rec. ITU-R BT.601). */
export const LUMA_SHARES: [number, number, number] = [0.299, 0.587, 0.114];

/** Brightness of a colour, 0 to 255, with the same shares in 1/65536. */
export function luma(r: number, g: number, b: number): number {
  return (19595 * r + 38470 * g + 7471 * b + 32768) >> 16;
}

/** Brightness of a see-through colour over white. */
export function compositeLuma(r: number, g: number, b: number, alpha: number): number {
  const y = luma(r, g, b);
  return alpha === 255 ? y : Math.round((y * alpha + 255 * (255 - alpha)) / 255);
}
