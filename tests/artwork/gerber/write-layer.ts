import { readGerber } from '../../../src/artwork/gerber/read-gerber.js';
import type { Artwork, ReadOptions } from '../../../src/artwork/types.js';
import { openingArea } from '../../../src/geometry/area.js';

export const HEAD = '%FSLAX46Y46*%\n%MOMM*%\n';

/** Reads a layer written in a test; the header with millimetres and 4.6 digits is put before it. */
export function readLayer(body: string, options: ReadOptions = {}, head = HEAD): Promise<Artwork> {
  return readText(`${head}${body}${/M0?2\*/.test(body) ? '' : '\nM02*\n'}`, options);
}

/** Reads a whole file written in a test. */
export const readText = (text: string, options: ReadOptions = {}): Promise<Artwork> =>
  readGerber(new TextEncoder().encode(text), options);

export const totalArea = (artwork: Artwork): number => artwork.openings.reduce((sum, o) => sum + openingArea(o), 0);

/** A coordinate in millimetres with six decimals. */
export const n = (mm: number): string => String(Math.round(mm * 1e6));
