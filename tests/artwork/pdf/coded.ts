import sharp from 'sharp';

/**
 * Group 4 fax data (ITU-T T.6) as libtiff writes them, at most 256 rows.
 *
 * @param grey - 0 black or 255 white, row by row
 */
export async function toGroup4(grey: Uint8Array, width: number, height: number): Promise<Uint8Array> {
  // It writes white as the ones that fax calls black.
  const tiff = await sharp(
    grey.map((value) => 255 - value),
    { raw: { width, height, channels: 1 } },
  )
    .toColourspace('b-w')
    .tiff({ compression: 'ccittfax4', bitdepth: 1 })
    .toBuffer();
  const ifd = tiff.readUInt32LE(4);
  const tags = new Map<number, number>();
  for (let at = ifd + 2; at < ifd + 2 + 12 * tiff.readUInt16LE(ifd); at += 12) {
    if (tiff.readUInt32LE(at + 4) !== 1) continue;
    tags.set(
      tiff.readUInt16LE(at),
      tiff.readUInt16LE(at + 2) === 3 ? tiff.readUInt16LE(at + 8) : tiff.readUInt32LE(at + 8),
    );
  }
  const from = tags.get(273);
  const length = tags.get(279);
  if (from === undefined || length === undefined) throw new Error('more than one strip');
  return tiff.subarray(from, from + length);
}

/** ITU-T T.4, tables 2 and 3, as far as rows of 100 px need them; from memory. */
const WHITE: Readonly<Record<number, string>> = { 30: '00000011', 100: '11011' + '00010101' };
const BLACK_40 = '000001101100';
const END_OF_LINE = '000000000001';

/** Group 3 fax data of 100 x 100 px that are black from x = 30 to 70 and y = 10 to 30. */
export function group3Land(options: { readonly align?: boolean; readonly lines?: '1d' | '2d' }): Uint8Array {
  let bits = '';
  for (let y = 0; y < 100; y += 1) {
    // In mixed data a one says that the row is coded by itself.
    if (options.lines) bits += END_OF_LINE + (options.lines === '2d' ? '1' : '');
    bits += y >= 10 && y < 30 ? WHITE[30] + BLACK_40 + WHITE[30] : WHITE[100];
    if (options.align) bits = bits.padEnd(8 * Math.ceil(bits.length / 8), '0');
  }
  const bytes = bits.padEnd(8 * Math.ceil(bits.length / 8), '0').match(/.{8}/g) ?? [];
  return Uint8Array.from(bytes, (byte) => Number.parseInt(byte, 2));
}

/**
 * JPEG 2000 of 100 x 100 px, black from x = 30 to 70 and y = 10 to 30 on white, without loss.
 * Written by Pillow 12.3.0 with OpenJPEG 2.5.4: `image.save(file, 'JPEG2000', irreversible=False, num_resolutions=3)`.
 */
export const JPEG_2000_LAND = Buffer.from(
  'AAAADGpQICANCocKAAAAFGZ0eXBqcDIgAAAAAGpwMiAAAAAtanAyaAAAABZpaGRyAAAAZAAAAGQAAQcHAAAAAAAPY29scgEAAAAAABEAAAHsanAy' +
    'Y/9P/1EAKQAAAAAAZAAAAGQAAAAAAAAAAAAAAGQAAABkAAAAAAAAAAAAAQcBAf9SAAwAAAABAAIEBAAB/1wACkBASEhQSEhQ/2QAJQABQ3JlYXRl' +
    'ZCBieSBPcGVuSlBFRyB2ZXJzaW9uIDIuNS40/5AACgAAAAABdAAB/5PfhSQ1S9fthdKApm7e437EkujSpIr7mDqPjg+Jt24dsIrXqOxDTYAAGEf7' +
    'T8f9PNgGEcRmTgm47E4zz2jnZFk9J8Svi9Kx00ikZ57Rzsiyek94QzHbFpvA7ISk+xW6RysXMTqQfpIIWBm6iOb2V3VDVxQRjmmI4kAWQMhCr6h1' +
    'jPJruqGriennIoRHEgCyBkIVJnP+x8faQx9pZB9QmDlSU4g6rnV4lYzu2JS7ruHtaESkb9j+D99ss5T1SKbrfzyHEY4e4xdh5lz/bCadsNjkvx0s' +
    'pZnQ5DahZg0bmEgbL777B2hudEyGyf9/N2+A9nU2F9CQFLViwP2eh3dzM8/Ajn4GEPtDAK75BtbCABd1m4RTtTOlarlAhFbKAVNLhqsD2u8eJ2d3' +
    'l9QrsLToIEjXF0D8uF9rweT96YwiKMrUXURgxSImHNlISAbxprD7FIT23p+ih+O70/RPrmg9K9EgY8Sn36/f/9k=',
  'base64',
);
