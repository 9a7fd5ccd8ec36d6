import * as lib from 'pdf-lib';
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { loadQuietly } from '../../../src/artwork/pdf/open-pdf.js';
import { readPdf } from '../../../src/artwork/pdf/read-pdf.js';
import { makePdf } from './make-pdf.js';

const warn = vi.fn();
const before = console.warn;
beforeEach(() => {
  warn.mockClear();
  console.warn = warn;
});
afterEach(() => {
  console.warn = before;
});

const changed = async (from: string, to: string): Promise<Uint8Array> => {
  const bytes = await makePdf('5 5 10 10 re f', undefined, { plain: true });
  const text = Buffer.from(bytes).toString('latin1');
  expect(text).toContain(from);
  return Buffer.from(text.replace(from, to), 'latin1');
};

it.each([
  ['an object of number 0', '%%EOF', '0 0 obj\n1\nendobj\n%%EOF'],
  ['a list with a number of twenty digits', 're f', 're f [12345678901234567890] 0 d'],
  ['a number of twenty digits', '/Count 1', '/Count 1 /Extra 12345678901234567890'],
])('%s is no line on the console', async (_, from, to) => {
  const bytes = await changed(from, to);
  // The parser itself does write one.
  await lib.PDFDocument.load(bytes);
  if (from !== 're f') expect(warn).toHaveBeenCalledTimes(1);
  warn.mockClear();
  await readPdf(bytes, {}).catch(() => undefined);
  expect(warn).not.toHaveBeenCalled();
});

it('files loaded at the same time leave the console as it was, and other lines pass', async () => {
  const bytes = await changed('/Count 1', '/Count 1 /Extra 12345678901234567890');
  const loads = [loadQuietly(bytes), loadQuietly(Buffer.from('no PDF')).catch(() => undefined)];
  console.warn('a line of somebody else');
  await Promise.all(loads);
  expect(warn.mock.calls).toEqual([['a line of somebody else']]);
  expect(console.warn).toBe(warn);
});
