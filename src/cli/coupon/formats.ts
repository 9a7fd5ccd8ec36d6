import type { ExportFormat } from '../../export/types.js';

/** What coupons can be written as. */
export const COUPON_FORMATS: readonly ExportFormat[] = ['png', 'bmp', 'tiff', 'svg', 'pdf', 'dxf'];
