import { mapRing } from '../../geometry/affine.js';
import type { Region, Ring } from '../../geometry/types.js';
import { shortMm } from '../export-formats.js';
import type { Placement } from '../types.js';

/** Layer names as R12 allows them: capitals, digits, `_`, `-`, `$`; no blanks. */
const OPENINGS_LAYER = 'OPENINGS';
const ISLANDS_LAYER = 'FILM_ISLANDS';

const MILLIMETRES = '4';

/**
 * A drawing exchange file of release 12, the one that old and new laser programs read: closed polylines in mm, outer
 * rings on the layer OPENINGS and film that stays inside an opening on FILM_ISLANDS.
 *
 * @remarks Group codes after Autodesk's DXF reference, release 12. $INSUNITS is younger than that release; programs
 * that know it take the millimetres from it, others pass over it.
 */
export function writeDxf(
  openings: readonly Region[],
  { map, widthMm, heightMm }: Placement,
  options: { readonly title?: string },
): Uint8Array {
  const lines: string[] = [];
  const put = (...pairs: readonly (string | number)[]): void => {
    for (const item of pairs) lines.push(`${item}`);
  };
  put(999, `millimetres${options.title ? `, ${options.title.replace(/[^\x20-\x7e]/g, '?')}` : ''}`);
  put(0, 'SECTION', 2, 'HEADER', 9, '$ACADVER', 1, 'AC1009', 9, '$INSUNITS', 70, MILLIMETRES);
  put(9, '$EXTMIN', 10, 0, 20, 0, 30, 0, 9, '$EXTMAX', 10, shortMm(widthMm), 20, shortMm(heightMm), 30, 0, 0, 'ENDSEC');
  put(0, 'SECTION', 2, 'TABLES', 0, 'TABLE', 2, 'LTYPE', 70, 1);
  put(0, 'LTYPE', 2, 'CONTINUOUS', 70, 0, 3, 'Solid line', 72, 65, 73, 0, 40, 0, 0, 'ENDTAB');
  put(0, 'TABLE', 2, 'LAYER', 70, 2);
  put(0, 'LAYER', 2, OPENINGS_LAYER, 70, 0, 62, 7, 6, 'CONTINUOUS');
  put(0, 'LAYER', 2, ISLANDS_LAYER, 70, 0, 62, 3, 6, 'CONTINUOUS');
  put(0, 'ENDTAB', 0, 'ENDSEC', 0, 'SECTION', 2, 'ENTITIES');
  const polyline = (ring: Ring, layer: string): void => {
    put(0, 'POLYLINE', 8, layer, 66, 1, 10, 0, 20, 0, 30, 0, 70, 1);
    for (const [x, y] of mapRing(map, ring)) put(0, 'VERTEX', 8, layer, 10, shortMm(x), 20, shortMm(y), 30, 0);
    put(0, 'SEQEND', 8, layer);
  };
  for (const opening of openings) {
    polyline(opening.outer, OPENINGS_LAYER);
    for (const island of opening.islands) polyline(island, ISLANDS_LAYER);
  }
  put(0, 'ENDSEC', 0, 'EOF', '');
  return new TextEncoder().encode(lines.join('\r\n'));
}
