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
