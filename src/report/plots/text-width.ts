/**
 * Advance widths of the picture font's letters, hundredths of the font size: the `hmtx` table of DejaVu Sans 2.37,
 * rounded.
 */
const ADVANCES: readonly [hundredths: number, letters: string][] = [
  [28, "'ijlIJ"],
  [32, ' \u00a0,.’'],
  [34, '/:;\\|f'],
  [38, '-()[]tr!²'],
  [50, '"*_`°–sz'],
  [56, '?cLFk'],
  [60, 'vxyPTYao'],
  [63, 'eESbdghnpqu$0123456789{}µK'],
  [69, 'AVXZBRC'],
  [76, 'UHNDG&OQ'],
  [84, 'w#+<=>^~±−×M'],
  [97, 'm%W@…'],
];
const OTHER = 70;
/** The bold cut's letters are wider by about this. */
const BOLD_RATIO = 1.12;

const WIDTHS = new Map(ADVANCES.flatMap(([width, letters]) => [...letters].map((letter) => [letter, width] as const)));

/** Width of a line of text in the picture font, px, to a few per cent. */
export function textWidthPx(text: string, fontSizePx: number, bold = false): number {
  let hundredths = 0;
  for (const letter of text) hundredths += WIDTHS.get(letter) ?? OTHER;
  return ((hundredths * fontSizePx) / 100) * (bold ? BOLD_RATIO : 1);
}
