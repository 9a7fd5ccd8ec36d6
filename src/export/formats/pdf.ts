import { mapRing } from '../../geometry/affine.js';
import type { Region } from '../../geometry/types.js';
import { newPdf, PT_PER_MM, pdfBytes } from '../../pdf-file.js';
import { shortMm } from '../export-formats.js';
import type { Placement } from '../types.js';

/** One page at true size with every opening as a path filled by the even-odd rule. */
export async function writePdf(
  openings: readonly Region[],
  { map, widthMm, heightMm }: Placement,
  options: { readonly negative: boolean; readonly title?: string },
): Promise<Uint8Array> {
  const document = await newPdf(options.title);
  const page = document.addPage([widthMm * PT_PER_MM, heightMm * PT_PER_MM]);
  const parts = [`q ${PT_PER_MM} 0 0 ${PT_PER_MM} 0 0 cm`];
  if (options.negative) parts.push(`0 g 0 0 ${shortMm(widthMm)} ${shortMm(heightMm)} re f 1 g`);
  else parts.push('0 g');
  for (const opening of openings) {
    for (const ring of [opening.outer, ...opening.islands]) {
      const points = mapRing(map, ring).map(([x, y]) => `${shortMm(x)} ${shortMm(y)}`);
      parts.push(`${points[0]} m ${points.slice(1).join(' l ')} l h`);
    }
    parts.push('f*');
  }
  parts.push('Q');
  const stream = document.context.flateStream(parts.join('\n'));
  page.node.addContentStream(document.context.register(stream));
  return pdfBytes(document);
}
