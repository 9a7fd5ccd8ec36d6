import type { TopLevelSpec } from 'vega-lite';
import { outlineText, PICTURE_FONT, svgToPng } from '../picture.js';
import { textWidthPx } from './text-width.js';

/** A drawn chart: the SVG's text is outlined, so that it looks the same on a machine without fonts. */
export interface Chart {
  readonly svg: string;
  readonly png: Uint8Array;
}

/** Width of a chart's plotting area, px at 96 to the inch: with axes about 160 mm in print. */
export const CHART_WIDTH_PX = 480;
/** 300 dots per inch in print. */
const PNG_SCALE = 300 / 96;

/**
 * The palette of Okabe and Ito (Color Universal Design, 2008), told apart by colour-blind people. Every use of a colour
 * also has a shape or dash of its own, so that grey prints lose nothing.
 */
export const INK = {
  black: '#000000',
  orange: '#E69F00',
  skyBlue: '#56B4E9',
  green: '#009E73',
  blue: '#0072B2',
  vermillion: '#D55E00',
  purple: '#CC79A7',
  grey: '#7f7f7f',
} as const;

/** 12 px at 96 to the inch is 9 pt in print. */
const LABEL_PX = 12;

const CONFIG = {
  background: 'white',
  font: PICTURE_FONT,
  padding: 10,
  view: { stroke: '#444444', continuousWidth: CHART_WIDTH_PX, continuousHeight: 300 },
  title: {
    fontSize: 15,
    anchor: 'start',
    subtitleFontSize: LABEL_PX,
    subtitlePadding: 4,
    offset: 12,
    fontWeight: 'bold',
  },
  axis: {
    labelFontSize: LABEL_PX,
    titleFontSize: 13,
    titleFontWeight: 'normal',
    titlePadding: 8,
    gridColor: '#e3e3e3',
    domainColor: '#444444',
    tickColor: '#444444',
    labelColor: '#000000',
    titleColor: '#000000',
  },
  legend: {
    labelFontSize: LABEL_PX,
    titleFontSize: LABEL_PX,
    labelLimit: 400,
    titleFontWeight: 'normal',
    orient: 'bottom',
    direction: 'horizontal',
    columns: 4,
    symbolStrokeWidth: 1.6,
    symbolSize: 110,
    columnPadding: 18,
    rowPadding: 6,
    layout: { bottom: { direction: 'vertical', anchor: 'start', margin: 10 } },
  },
  header: { labelFontSize: 13, labelFontWeight: 'bold', labelAnchor: 'start' },
} as const;

/**
 * Draws a vega-lite chart in the house's look.
 *
 * @returns the SVG with outlined text and a PNG at 300 dots per inch; the same chart gives the same bytes
 */
export async function renderChart(spec: TopLevelSpec): Promise<Chart> {
  const [vega, vegaLite] = await Promise.all([import('vega'), import('vega-lite')]);
  // Without a canvas the library takes 0.8 em for every letter and leaves gaps.
  (vega as unknown as { textMetrics: TextMetrics }).textMetrics.width = itemWidthPx;
  const compiled = vegaLite.compile(
    { ...withFoldedSubtitle(spec), config: CONFIG as unknown as TopLevelSpec['config'] },
    { logger: vega.logger(vega.None) },
  );
  const view = new vega.View(vega.parse(compiled.spec), { renderer: 'none', logger: vega.logger(vega.Error) });
  const drawn = await view.toSVG();
  view.finalize();
  const plain = renumberIds(drawn);
  const svg = await outlineText(plain);
  const width = Number(/<svg[^>]*\bwidth="([\d.]+)/.exec(plain)?.[1] ?? CHART_WIDTH_PX);
  return { svg, png: await svgToPng(svg, Math.round(width * PNG_SCALE)) };
}

/** Width of a subtitle line, px: the plotting area with its axis. */
const SUBTITLE_PX = CHART_WIDTH_PX + 55;

/** Subtitles are sentences; folded between words they leave the chart as wide as its plot. */
function withFoldedSubtitle(spec: TopLevelSpec): TopLevelSpec {
  const { title } = spec;
  if (typeof title !== 'object' || Array.isArray(title) || !('subtitle' in title)) return spec;
  // A unit stays with its number.
  const joined = (text: string): string => text.replace(/ (?=%|mm|µm)/g, '\u00a0');
  const lines = [title.subtitle ?? ''].flat().map((line) => fold(joined(String(line))));
  return { ...spec, title: { ...title, subtitle: lines.flat() } };
}

function fold(text: string): string[] {
  const lines = [''];
  for (const word of text.split(' ')) {
    const last = lines[lines.length - 1];
    if (last !== '' && textWidthPx(`${last} ${word}`, LABEL_PX) > SUBTITLE_PX) lines.push(word);
    else lines[lines.length - 1] = last === '' ? word : `${last} ${word}`;
  }
  return lines;
}

interface TextItem {
  readonly fontSize?: number;
  readonly fontWeight?: string | number;
}

interface TextMetrics {
  width: (item: TextItem, text: unknown) => number;
}

function itemWidthPx(item: TextItem, text: unknown): number {
  const bold = item.fontWeight === 'bold' || Number(item.fontWeight) >= 600;
  const lines = Array.isArray(text) ? text.map(String) : [String(text ?? '')];
  return Math.max(...lines.map((line) => textWidthPx(line, item.fontSize ?? 11, bold)));
}

/** The library counts clip and gradient ids over all charts of a process; here they start anew in every chart. */
function renumberIds(svg: string): string {
  const ids = [...svg.matchAll(/\bid="((?:clip|gradient|pattern)[\w-]*)"/g)].map((match) => match[1]);
  return ids.reduce(
    (text, id, i) => text.replaceAll(`"${id}"`, `"part${i + 1}"`).replaceAll(`#${id})`, `#part${i + 1})`),
    svg,
  );
}
