import { wrapWords } from '../../text.js';
import { outlineText, PICTURE_FONT, svgToPng } from '../picture.js';
import { CHART_WIDTH_PX, type Chart, type ChartSpec, type KeyEntry } from './chart.js';
import { drawPoint, LABEL_PX, layPanel, strokeOf, textAt, textWidthPx } from './draw-panel.js';

/** 300 dots per inch in print. */
const PNG_SCALE = 300 / 96;
const PADDING_PX = 10;
const HEADING_PX = 15;
const LINE_PX = 16;
const BETWEEN_PX = 22;

/**
 * Draws a chart in the house's look.
 *
 * @returns the SVG with outlined text; the same chart gives the same bytes
 */
export async function renderChart(spec: ChartSpec): Promise<Chart> {
  const { plain, widthPx } = drawChart(spec);
  return { svg: await outlineText(plain), widthPx };
}

/** A chart as PNG at 300 dots per inch; the same chart gives the same bytes. */
export function chartPng({ svg, widthPx }: Chart): Promise<Uint8Array> {
  return svgToPng(svg, Math.round(widthPx * PNG_SCALE));
}

function drawChart(spec: ChartSpec): { plain: string; widthPx: number } {
  const body = layPanels(spec);
  const subtitle = (spec.subtitle ?? []).flatMap(fold);
  const head = [
    textAt(spec.title, 0, HEADING_PX - 2, 'start', HEADING_PX, ' font-weight="bold"'),
    ...subtitle.map((text, i) => textAt(text, 0, HEADING_PX + 2 + LINE_PX * (i + 1), 'start')),
  ].join('');
  const headHeight = HEADING_PX + LINE_PX * subtitle.length + 10;
  const key = layKey(spec.key ?? []);
  const widest = Math.max(
    body.widthPx,
    key.widthPx,
    textWidthPx(spec.title, HEADING_PX, true),
    ...subtitle.map((text) => textWidthPx(text, LABEL_PX)),
  );
  const widthPx = Math.ceil(widest + 2 * PADDING_PX);
  const heightPx = Math.ceil(headHeight + body.heightPx + key.heightPx + 2 * PADDING_PX);
  const at = (y: number, parts: string): string =>
    `<g transform="translate(${PADDING_PX} ${PADDING_PX + y})">${parts}</g>`;
  const plain = [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${widthPx}" height="${heightPx}" viewBox="0 0 ${widthPx} ${heightPx}" font-family="${PICTURE_FONT}">`,
    `<rect width="${widthPx}" height="${heightPx}" fill="white"/>`,
    at(0, head),
    at(headHeight, body.drawn),
    at(headHeight + body.heightPx, key.drawn),
    '</svg>',
  ].join('\n');
  return { plain, widthPx };
}

/** Panels row by row; the plots of a row and of a column stand in line, however wide their numbers are. */
function layPanels({ panels, columns = 1 }: ChartSpec): { drawn: string; widthPx: number; heightPx: number } {
  const laid = panels.map((panel) => ({ panel, ...layPanel(panel) }));
  const column = (c: number) => laid.filter((_, i) => i % columns === c);
  const lefts: number[] = [];
  let widthPx = 0;
  for (let c = 0; c < Math.min(columns, panels.length); c += 1) {
    const own = column(c);
    lefts.push(widthPx + Math.max(...own.map(({ margins }) => margins.left)));
    widthPx = lefts[c] + Math.max(...own.map(({ panel, margins }) => panel.widthPx + margins.right)) + BETWEEN_PX;
  }
  const drawn: string[] = [];
  let heightPx = 0;
  for (let first = 0; first < laid.length; first += columns) {
    const row = laid.slice(first, first + columns);
    const top = heightPx + Math.max(...row.map(({ margins }) => margins.top));
    row.forEach(({ draw }, c) => {
      drawn.push(
        `<g transform="translate(${Number(lefts[c].toFixed(2))} ${top})">${draw(`panel${first + c + 1}`)}</g>`,
      );
    });
    heightPx = top + Math.max(...row.map(({ panel, margins }) => panel.heightPx + margins.bottom)) + BETWEEN_PX / 2;
  }
  return { drawn: drawn.join('\n'), widthPx: widthPx - BETWEEN_PX, heightPx };
}

const KEY_MARK_PX = 30;
const KEY_ROW_PX = 20;
const KEY_GAP_PX = 18;

function layKey(rows: readonly (readonly KeyEntry[])[]): { drawn: string; widthPx: number; heightPx: number } {
  const parts: string[] = [];
  let widthPx = 0;
  rows.forEach((row, r) => {
    const middle = KEY_ROW_PX * (r + 0.5);
    let left = 0;
    for (const entry of row) {
      parts.push(
        'point' in entry
          ? drawPoint([left + KEY_MARK_PX / 2, middle], entry.point)
          : `<path d="M${left},${middle}h${KEY_MARK_PX - 4}" fill="none" ${strokeOf(entry.line)}/>`,
      );
      parts.push(textAt(entry.text, left + KEY_MARK_PX, middle + 4, 'start'));
      left = Math.ceil(left + KEY_MARK_PX + textWidthPx(entry.text, LABEL_PX) + KEY_GAP_PX);
    }
    widthPx = Math.max(widthPx, left);
  });
  return { drawn: parts.join(''), widthPx, heightPx: KEY_ROW_PX * rows.length };
}

/** Width of a subtitle line, px: the plotting area with its axis. */
const SUBTITLE_PX = CHART_WIDTH_PX + 55;

/** A sentence folded between words, so that it leaves the chart as wide as its plot. */
function fold(sentence: string): string[] {
  // A unit stays with its number.
  const joined = sentence.replace(/ (?=%|mm|µm)/g, '\u00a0');
  return wrapWords(joined, (line) => textWidthPx(line, LABEL_PX) <= SUBTITLE_PX);
}
