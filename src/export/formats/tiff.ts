import type { Rows } from '../../dots/rows.js';
import { escapeXml } from '../../text.js';
import { writePng } from './png.js';

/**
 * A 1-bit TIFF in group 4 coding (ITU-T T.6) with its true resolution in dots per inch: the PNG of the same dots, coded
 * anew by libtiff row by row, so that no 8-bit canvas is ever held. The title stands in it as XMP (ISO 16684-1), for the
 * library writes no ImageDescription.
 */
export async function writeTiff(rows: Rows, title: string | undefined): Promise<Uint8Array> {
  const { default: sharp } = await import('sharp');
  const image = sharp(await writePng(rows, title), { limitInputPixels: false, sequentialRead: true });
  if (title) image.withXmp(titleXmp(title));
  return image
    .toColourspace('b-w')
    .tiff({
      ...{ compression: 'ccittfax4', bitdepth: 1, miniswhite: true, resolutionUnit: 'inch' },
      ...{ xres: 1 / rows.pitch.x, yres: 1 / rows.pitch.y },
    })
    .toBuffer();
}

const titleXmp = (title: string): string =>
  `<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:title><rdf:Alt><rdf:li xml:lang="x-default">${escapeXml(title)}</rdf:li></rdf:Alt></dc:title></rdf:Description></rdf:RDF></x:xmpmeta>`;
