import type { Block, Report } from '../../report/document/blocks.js';
import type { OutputFile } from '../output-file.js';

/** Endings of a report's files. */
export const REPORT_ENDINGS = ['.report.html', '.report.pdf'] as const;

/** A report as a page and as PDF; the same report gives the same bytes. */
export async function reportFiles(stem: string, report: Report): Promise<OutputFile[]> {
  const [{ reportHtml }, { reportPdf }] = await Promise.all([
    import('../../report/document/html.js'),
    import('../../report/document/pdf.js'),
  ]);
  const contents = [new TextEncoder().encode(reportHtml(report)), await reportPdf(report)];
  return REPORT_ENDINGS.map((ending, i) => ({ name: `${stem}${ending}`, bytes: contents[i] }));
}

export const heading = (text: string): Block => ({ kind: 'heading', text });

export const words = (text: string, tone?: 'good' | 'warning'): Block => ({
  kind: 'words',
  text,
  ...(tone ? { tone } : {}),
});

/** A table with a row for each fact; nothing where there is none. */
export function table(caption: string, head: readonly string[], rows: readonly (readonly string[])[]): Block[] {
  return rows.length === 0 ? [] : [{ kind: 'table', caption, head, rows }];
}
