/** What a stencil can be written as. */
export const EXPORT_FORMATS = ['png', 'bmp', 'tiff', 'svg', 'pdf', 'dxf', 'grey-png'] as const;
/** What coupons can be written as: grey levels are for stencils. */
export const COUPON_FORMATS: readonly ExportFormat[] = EXPORT_FORMATS.filter((format) => format !== 'grey-png');
export type ExportFormat = (typeof EXPORT_FORMATS)[number];

const RASTER: ReadonlySet<ExportFormat> = new Set(['png', 'bmp', 'tiff', 'grey-png']);

/** Whether a format is made of dots and so needs a pitch. */
export const isRaster = (format: ExportFormat): boolean => RASTER.has(format);

/** How the name of a stencil's file ends. */
export const ENDINGS: Readonly<Record<ExportFormat, string>> = {
  png: '.png',
  bmp: '.bmp',
  tiff: '.tif',
  svg: '.svg',
  pdf: '.pdf',
  dxf: '.dxf',
  'grey-png': '.grey.png',
};

/** Words in a result's title by which the file itself tells what it is, wherever it is taken. */
const MARKS = {
  corrected: 'corrected by apertrue',
  coupon: 'coupon by apertrue',
} as const;

export type Mark = keyof typeof MARKS;

/** The title of a corrected stencil or a coupon. */
export function markedTitle(name: string, mark: Mark): string {
  return `${name}, ${MARKS[mark]}`;
}

/** What a file's title says it is; undefined for other files, and for formats without a title (BMP). */
export function markIn(bytes: Uint8Array): Mark | undefined {
  const file = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const names = Object.keys(MARKS) as Mark[];
  return names.find(
    (mark) => file.includes(MARKS[mark], 0, 'latin1') || file.includes(pdfHex(MARKS[mark]), 0, 'latin1'),
  );
}

/** As a PDF's title holds it: UTF-16, high byte first, in hexadecimal (ISO 32000-1, section 7.9.2.2). */
function pdfHex(text: string): string {
  return Buffer.from(text, 'utf16le').swap16().toString('hex').toUpperCase();
}

/** Millimetres with at most five digits after the point (10 nm), the shortest way. */
export function shortMm(value: number): string {
  const rounded = Math.round(value * 1e5) / 1e5;
  return rounded === 0 ? '0' : `${rounded}`;
}
