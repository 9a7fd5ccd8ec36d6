import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { dirname } from 'node:path';
import { PDFiumLibrary } from '@hyzyla/pdfium';
import sharp, { type Sharp } from 'sharp';
import { byFastBmp } from '../export/read-back.js';

/** Pictures in the pages are small: a palette, and not wider than a page. */
const MOST_BYTES = 60_000;

/** Writes a picture of a page of a PDF, or of a picture, as a PNG of so many dots across. */
export async function takePicture(from: string, to: string, widthPx: number, page = 1): Promise<void> {
  const whole = from.endsWith('.pdf') ? await pageOf(from, page) : await openPicture(from);
  const bytes = await whole
    .flatten({ background: '#ffffff' })
    .trim({ background: '#ffffff', threshold: 8 })
    .extend({ top: 12, bottom: 12, left: 12, right: 12, background: '#ffffff' })
    .toBuffer()
    .then((one) => sharp(one).resize({ width: widthPx, withoutEnlargement: true }).png({ palette: true, colours: 12, effort: 10 }).toBuffer()); // biome-ignore format: one chain
  if (bytes.length > MOST_BYTES) throw new Error(`${to} has ${bytes.length} bytes, more than ${MOST_BYTES}`);
  await mkdir(dirname(to), { recursive: true });
  await writeFile(to, bytes);
}

async function openPicture(path: string): Promise<Sharp> {
  if (!path.endsWith('.bmp')) return sharp(path, { limitInputPixels: false });
  const { width, height, grey } = byFastBmp(await readFile(path));
  return sharp(
    await sharp(grey, { raw: { width, height, channels: 1 } })
      .png()
      .toBuffer(),
  );
}

async function pageOf(pdf: string, page: number): Promise<Sharp> {
  const library = await PDFiumLibrary.init();
  const document = await library.loadDocument(await readFile(pdf));
  const { data, width, height } = await document.getPage(page - 1).render({ scale: 2, render: 'bitmap' });
  document.destroy();
  library.destroy();
  return sharp(
    Buffer.from(
      await sharp(data, { raw: { width, height, channels: 4 } })
        .png()
        .toBuffer(),
    ),
  );
}
