import { type ScaleContinuousNumeric, scaleLinear, scaleLog } from 'd3-scale';
import * as shape from 'd3-shape';
import { escapeXml } from '../../text.js';
import { px } from '../picture.js';
import type { At, ChartAxis, ChartMark, Panel, PointStyle, PointSymbol, Stroke } from './chart.js';

export const LABEL_PX = 12;
const TITLE_PX = 13;
const TICK_PX = 5;
const GAP_PX = 3;
const FRAME = '#444444';
const GRID = '#e3e3e3';

type Scale = ScaleContinuousNumeric<number, number>;

interface Tick {
  readonly value: number;
  readonly text: string;
}

/** Lays out one panel; `draw` gives its elements with the plotting area's upper left corner at 0, 0. */
export function layPanel(panel: Panel) {
  const { widthPx, heightPx } = panel;
  const x = scaleOf(panel.x, [0, widthPx]);
  const y = scaleOf(panel.y, [heightPx, 0]);
  const xTicks = ticksOf(panel.x, x);
  const yTicks = ticksOf(panel.y, y);
  const slanted = panel.x.label !== undefined && xTicks.some(({ text }) => text.length > 3);
  const widest = (ticks: readonly Tick[]): number =>
    ticks.reduce((most, { text }) => Math.max(most, textWidthPx(text, LABEL_PX)), 0);
  const named = xTicks.some(({ text }) => text !== '');
  const labelHeight = !named ? 0 : slanted ? 0.75 * widest(xTicks) + LABEL_PX : LABEL_PX;
  const right = panel.marks.reduce(
    (most, mark) => Math.max(most, mark.kind === 'text' ? overhang(mark, x, widthPx) : 0),
    0,
  );
  /** What it takes up around its plotting area, px. */
  const margins = {
    left: TICK_PX + GAP_PX + widest(yTicks) + (panel.y.title ? TITLE_PX + 10 : 0),
    right: Math.max(right, 4),
    top: panel.title ? TITLE_PX + 12 : 6,
    bottom: TICK_PX + GAP_PX + labelHeight + (panel.x.title ? TITLE_PX + 10 : 0),
  };
  const laid = { x, y, xTicks, yTicks, slanted, margins };
  return { ...laid, draw: (clipId: string): string => drawPanel(panel, laid, clipId) };
}

function overhang(mark: Extract<ChartMark, { kind: 'text' }>, x: Scale, widthPx: number): number {
  const width = textWidthPx(mark.text, LABEL_PX);
  const share = mark.anchor === 'end' ? 0 : mark.anchor === 'middle' ? 0.5 : 1;
  return x(mark.at[0]) + (mark.shiftPx?.[0] ?? 0) + share * width - widthPx;
}

function scaleOf({ domain, byRatio }: ChartAxis, range: [number, number]): Scale {
  return byRatio ? scaleLog(domain, range) : scaleLinear(domain, range);
}

function ticksOf({ domain, byRatio, ticks = 6, label }: ChartAxis, scale: Scale): Tick[] {
  const values = typeof ticks === 'number' ? scale.ticks(ticks) : ticks;
  const format = typeof ticks === 'number' && !byRatio ? scale.tickFormat(ticks) : plain;
  const inside = values.filter((value) => value >= domain[0] && value <= domain[1]);
  const all = inside.map((value) => ({ value, text: label ? label(value) : format(value) }));
  return byRatio && typeof ticks === 'number' ? spaced(all, scale) : all;
}

const plain = (value: number): string => `${Number(value.toPrecision(6))}`.replace('-', '−');

/** Marks whose labels have room, the first kept. */
function spaced(ticks: readonly Tick[], scale: Scale): Tick[] {
  let end = -Infinity;
  return ticks.map((tick) => {
    const half = textWidthPx(tick.text, LABEL_PX) / 2 + 2;
    const at = scale(tick.value);
    if (at - half < end) return { ...tick, text: '' };
    end = at + half;
    return tick;
  });
}

type Laid = Omit<ReturnType<typeof layPanel>, 'draw'>;

function drawPanel(panel: Panel, laid: Laid, clipId: string): string {
  const { widthPx, heightPx, marks } = panel;
  const frame = (attributes: string): string => `<rect width="${widthPx}" height="${heightPx}" ${attributes}/>`;
  const texts = marks.filter((mark) => mark.kind === 'text');
  const others = marks.filter((mark) => mark.kind !== 'text');
  const draw = (mark: ChartMark): string => drawMark(mark, laid.x, laid.y);
  return [
    drawAxes(panel, laid),
    `<clipPath id="${clipId}">${frame('')}</clipPath>`,
    `<g clip-path="url(#${clipId})">${others.map(draw).join('')}</g>`,
    frame(`fill="none" stroke="${FRAME}"`),
    texts.map(draw).join(''),
  ].join('\n');
}

function drawAxes({ title, widthPx, heightPx, x, y }: Panel, laid: Laid): string {
  const parts: string[] = [];
  for (const { value, text } of laid.xTicks) {
    const at = px(laid.x(value));
    if (x.grid !== false) parts.push(`<path d="M${at},0V${heightPx}" stroke="${GRID}"/>`);
    parts.push(`<path d="M${at},${heightPx}v${TICK_PX}" stroke="${FRAME}"/>`);
    const below = heightPx + TICK_PX + GAP_PX + 9;
    parts.push(
      laid.slanted
        ? turnedText(-45, text, Number(at), below, 'end', LABEL_PX)
        : textAt(text, Number(at), below, 'middle'),
    );
  }
  for (const { value, text } of laid.yTicks) {
    const at = px(laid.y(value));
    if (y.grid !== false) parts.push(`<path d="M0,${at}H${widthPx}" stroke="${GRID}"/>`);
    parts.push(`<path d="M0,${at}h${-TICK_PX}" stroke="${FRAME}"/>`);
    parts.push(textAt(text, -TICK_PX - GAP_PX, Number(at) + 4, 'end'));
  }
  if (x.title) parts.push(textAt(x.title, widthPx / 2, heightPx + laid.margins.bottom - 3, 'middle', TITLE_PX));
  if (y.title) parts.push(turnedText(-90, y.title, TITLE_PX - laid.margins.left, heightPx / 2, 'middle', TITLE_PX));
  if (title) parts.push(textAt(title, 0, -8, 'start', TITLE_PX, ' font-weight="bold"'));
  return parts.join('');
}

/** A line of text, turned about its anchor. */
const turnedText = (angleDeg: number, ...[text, left, top, anchor, sizePx]: Parameters<typeof textAt>): string =>
  textAt(text, left, top, anchor, sizePx, ` transform="rotate(${angleDeg} ${px(left)} ${px(top)})"`);

function drawMark(mark: ChartMark, x: Scale, y: Scale): string {
  const place = ([a, b]: At): [number, number] => [x(a), y(b)];
  switch (mark.kind) {
    case 'line': {
      const path = shape.line().digits(2);
      if (mark.stepped) path.curve(shape.curveStep);
      return `<path d="${path(mark.points.map(place))}" fill="none" ${strokeOf(mark)}/>`;
    }
    case 'area':
      return `<path d="${shape.line().digits(2)(mark.points.map(place))}Z" fill="${mark.ink}" fill-opacity="${mark.opacity}"/>`;
    case 'points':
      return mark.points.map((at) => drawPoint(place(at), mark)).join('');
    case 'text': {
      const [left, top] = place(mark.at);
      const [dx, dy] = mark.shiftPx ?? [0, 0];
      const rim = mark.rim ? ' paint-order="stroke" stroke="white" stroke-width="3"' : '';
      return textAt(mark.text, left + dx, top + dy + 4, mark.anchor ?? 'start', LABEL_PX, rim);
    }
  }
}

const SYMBOLS: Readonly<Record<PointSymbol, shape.SymbolType>> = {
  circle: shape.symbolCircle,
  square: shape.symbolSquare,
  up: shape.symbolTriangle,
  down: shape.symbolTriangle,
  diamond: shape.symbolDiamond,
  plus: shape.symbolCross,
  cross: shape.symbolTimes,
};

/** A point of a chart or of its key. */
export function drawPoint([left, top]: At, style: PointStyle): string {
  const path = shape.symbol().digits(2).type(SYMBOLS[style.symbol]).size(style.areaPx2)();
  const turn = style.symbol === 'down' ? ' rotate(180)' : '';
  const stroke = style.stroke ? ` stroke="${style.stroke}" stroke-width="${style.widthPx ?? 1.5}"` : '';
  const opacity = style.opacity === undefined ? '' : ` opacity="${style.opacity}"`;
  return `<path transform="translate(${px(left)} ${px(top)})${turn}" d="${path}" fill="${style.fill ?? 'none'}"${stroke}${opacity}/>`;
}

/** Attributes of a line of a chart or of its key. */
export function strokeOf(mark: Stroke): string {
  const dash = mark.dash ? ` stroke-dasharray="${mark.dash.join(' ')}"` : '';
  // As a property of the whole element, within a clip and beside lines that run far out of it, the renderer gives up.
  const opacity = mark.opacity === undefined ? '' : ` stroke-opacity="${mark.opacity}"`;
  return `stroke="${mark.ink}" stroke-width="${mark.widthPx}"${dash}${opacity}`;
}

/** a line of text; `more` are further attributes. */
export function textAt(
  text: string,
  left: number,
  top: number,
  anchor: 'start' | 'middle' | 'end',
  sizePx = LABEL_PX,
  more = '',
): string {
  if (text === '') return '';
  return `<text x="${px(left)}" y="${px(top)}" font-size="${sizePx}" text-anchor="${anchor}"${more}>${escapeXml(text)}</text>`;
}

/**
 * Advance widths of the picture font's letters, hundredths of the font size: the `hmtx` table of DejaVu Sans 2.37,
 * rounded.
 */
const ADVANCES: readonly [hundredths: number, letters: string][] = [
  [28, "'ijlIJ"],
  [32, ' \u00a0,.’'],
  [34, '/:;\\|f'],
  [38, '-()[]tr!²'],
  [50, '"*_`°–sz'],
  [56, '?cLFk'],
  [60, 'vxyPTYao'],
  [63, 'eESbdghnpqu$0123456789{}µK'],
  [69, 'AVXZBRC'],
  [76, 'UHNDG&OQ'],
  [84, 'w#+<=>^~±−×M'],
  [97, 'm%W@…'],
];
const OTHER = 70;
/** The bold cut's letters are wider by about this. */
const BOLD_RATIO = 1.12;

const WIDTHS = new Map(ADVANCES.flatMap(([width, letters]) => [...letters].map((letter) => [letter, width] as const)));

/** Width of a line of text in the picture font, px, to a few per cent. */
export function textWidthPx(text: string, fontSizePx: number, bold = false): number {
  let hundredths = 0;
  for (const letter of text) hundredths += WIDTHS.get(letter) ?? OTHER;
  return ((hundredths * fontSizePx) / 100) * (bold ? BOLD_RATIO : 1);
}
