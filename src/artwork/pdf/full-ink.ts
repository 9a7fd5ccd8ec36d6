/** Paler than this is no ink at all. */
const PALEST_INK = 64;
/** A wall's pale pixels lie at most this far from the even ink that they belong to, px. */
const REACH = 3;
/** Fewer even pixels of one level than this are chance. */
const FEWEST = 16;

/**
 * Makes each shape's ink full ink, in place: the renderer shows a black of printing inks as dark grey and a spot colour
 * paler still, and a wall is where half of its own ink is, not half of black.
 *
 * @param ink - row by row; 0 for paper, 255 for full ink
 */
export function toFullInk(ink: Uint8Array, width: number, height: number): void {
  const counts = new Uint32Array(256);
  for (let y = 1; y < height - 1; y += 1) {
    for (let x = 1, i = y * width + 1; x < width - 1; x += 1, i += 1) if (isEven(ink, i, width)) counts[ink[i]] += 1;
  }
  let commonest = 255;
  let areSeveral = false;
  for (let level = 254; level >= PALEST_INK; level -= 1) {
    if (counts[level] < FEWEST) continue;
    areSeveral ||= commonest < 255 || counts[255] >= FEWEST;
    if (counts[level] > counts[commonest]) commonest = level;
  }
  const scale = scalesFor();
  if (areSeveral) each(ink, width, height, (level, value) => scale[(level || commonest) * 256 + value]);
  else if (commonest < 255) for (let i = 0; i < ink.length; i += 1) ink[i] = scale[commonest * 256 + ink[i]];
}

/** Whether a pixel looks like its four neighbours: within a shape, not on its wall. */
function isEven(ink: Uint8Array, i: number, width: number): boolean {
  const value = ink[i];
  return (
    value >= PALEST_INK &&
    value === ink[i - 1] &&
    value === ink[i + 1] &&
    value === ink[i - width] &&
    value === ink[i + width]
  );
}

/** Table of `value` as it would be if `level` were full ink. */
function scalesFor(): Uint8Array {
  const table = new Uint8Array(65_536);
  for (let level = 1; level < 256; level += 1) {
    for (let value = 0; value < 256; value += 1) {
      table[level * 256 + value] = Math.min(255, Math.round((value * 255) / level));
    }
  }
  return table;
}

/** Replaces each pixel, given the darkest even ink near it (0: none). */
function each(ink: Uint8Array, width: number, height: number, value: (level: number, value: number) => number): void {
  // Some rows of "darkest even ink to the left and right of here"; as many as are looked at up and down.
  const rows = Array.from({ length: 2 * REACH + 1 }, () => new Uint8Array(width));
  const even = new Uint8Array(width);
  const fill = (y: number): void => {
    const row = rows[y % rows.length].fill(0);
    if (y < 1 || y >= height - 1) return;
    even.fill(0);
    for (let x = 1, i = y * width + 1; x < width - 1; x += 1, i += 1) if (isEven(ink, i, width)) even[x] = ink[i];
    for (let x = 0; x < width; x += 1) {
      if (even[x] === 0) continue;
      const end = Math.min(width - 1, x + REACH);
      for (let at = Math.max(0, x - REACH); at <= end; at += 1) if (even[x] > row[at]) row[at] = even[x];
    }
  };
  for (let y = 0; y < Math.min(REACH, height); y += 1) fill(y);
  for (let y = 0; y < height; y += 1) {
    // Row y + REACH is looked at before rows below y change.
    fill(y + REACH);
    for (let x = 0, i = y * width; x < width; x += 1, i += 1) {
      if (ink[i] === 0 || ink[i] === 255) continue;
      let level = 0;
      for (const row of rows) if (row[x] > level) level = row[x];
      ink[i] = value(level, ink[i]);
    }
  }
}
