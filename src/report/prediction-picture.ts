import { boundsOf, joinBoxes } from '../geometry/bounds.js';
import { simplifier } from '../geometry/simplify.js';
import type { Box, Region } from '../geometry/types.js';
import type { Prediction } from '../machine/predict-cut.js';
import { escapeXml } from './escape-xml.js';
import { PICTURE_FONT } from './picture.js';

/** One stencil to show: what was asked, and what will come out. */
export interface PredictionPanel {
  readonly title: string;
  readonly asked: readonly Region[];
  readonly prediction: Prediction;
}

// Okabe and Ito's palette, published as readable by colour-blind people: sky blue, orange, black.
const AS_ASKED = '#56B4E9';
const TOO_MUCH = '#E69F00';
const OUTLINE = '#000000';

const PANEL_WIDTH = 900;
const GAP = 30;
const HEAD = 64;
const FOOT = 46;
/** Side of the magnified square, mm. */
const DETAIL_MM = 3;
const DETAIL_PX = 520;

const fixed = (value: number): string => String(Number(value.toFixed(4)));
const um = (mm: number): string => `${(mm * 1000).toFixed(mm !== 0 && Math.abs(mm) < 0.001 ? 1 : 0)} um`;

/** Corners nearer to their neighbours' line than this are not drawn, pixels: arcs have a point every micrometre. */
const FINEST_PX = 0.1;

function pathOf(regions: readonly Region[], scale: number): string {
  return regions
    .flatMap(simplifier(FINEST_PX / scale))
    .map((ring) => `M${ring.map(([x, y]) => `${fixed(x)} ${fixed(y)}`).join('L')}Z`)
    .join('');
}

function text(x: number, y: number, size: number, words: string, anchor = 'start'): string {
  const safe = escapeXml(words);
  return `<text x="${x}" y="${y}" font-family="${PICTURE_FONT}, sans-serif" font-size="${size}" text-anchor="${anchor}">${safe}</text>`;
}

/** A view of part of a panel, in a box on the page. */
function view(
  panel: PredictionPanel,
  window: Box,
  at: { x: number; y: number; width: number; height: number },
  id: string,
): string {
  const scale = at.width / (window.maxX - window.minX);
  const inside = (region: Region): boolean => {
    const box = boundsOf([region]);
    return (
      !!box && box.maxX >= window.minX && box.minX <= window.maxX && box.maxY >= window.minY && box.minY <= window.maxY
    );
  };
  const asked = pathOf(panel.asked.filter(inside), scale);
  const film = pathOf(panel.prediction.film.flat().filter(inside), scale);
  const line = fixed(1 / scale);
  return `<defs><clipPath id="${id}-box"><rect x="${at.x}" y="${at.y}" width="${at.width}" height="${fixed(at.height)}"/></clipPath>
<path id="${id}-film" d="${film}"/><path id="${id}-outline" d="${asked || 'M0 0'}"/>
<clipPath id="${id}-asked"><use href="#${id}-outline" clip-rule="evenodd"/></clipPath></defs>
<g clip-path="url(#${id}-box)"><g transform="translate(${fixed(at.x - window.minX * scale)} ${fixed(at.y + window.maxY * scale)}) scale(${fixed(scale)} ${fixed(-scale)})">
<use href="#${id}-film" fill="${TOO_MUCH}"/>
<g clip-path="url(#${id}-asked)"><use href="#${id}-film" fill="${AS_ASKED}"/></g>
<use href="#${id}-outline" fill="none" stroke="${OUTLINE}" stroke-width="${line}"/></g></g>
<rect x="${at.x}" y="${at.y}" width="${at.width}" height="${fixed(at.height)}" fill="none" stroke="#999999"/>`;
}

/** A square around the opening whose film is furthest from what was asked on the first panel. */
function detailWindow(panel: PredictionPanel): Box {
  const worst = panel.prediction.items.reduce((best, item) => {
    const error = (i: typeof item): number =>
      Math.hypot(i.dxMm, i.dyMm) + Math.abs(i.cutWidthMm - i.askedWidthMm) + Math.abs(i.cutHeightMm - i.askedHeightMm);
    // Small openings tell most: an error counts by its share of the opening's width.
    const weight = (i: typeof item): number => error(i) / Math.max(0.05, Math.min(i.askedWidthMm, i.askedHeightMm));
    return weight(item) > weight(best) ? item : best;
  });
  const box = boundsOf([panel.asked[worst.number - 1]]) as Box;
  const cx = (box.minX + box.maxX) / 2;
  const cy = (box.minY + box.maxY) / 2;
  const half = DETAIL_MM / 2;
  return { minX: cx - half, minY: cy - half, maxX: cx + half, maxY: cy + half };
}

/** Shows on the whole sheet where the magnified spot lies. */
function spotMark(spot: Box, window: Box, left: number): string {
  const scale = PANEL_WIDTH / (window.maxX - window.minX);
  const size = Math.max(DETAIL_MM * scale, 16);
  const x = left + ((spot.minX + spot.maxX) / 2 - window.minX) * scale - size / 2;
  const y = HEAD + GAP + 4 + (window.maxY - (spot.minY + spot.maxY) / 2) * scale - size / 2;
  return `<rect x="${fixed(x)}" y="${fixed(y)}" width="${fixed(size)}" height="${fixed(size)}" fill="none" stroke="#D55E00" stroke-width="2.5"/>`;
}

function panelWords({ prediction }: PredictionPanel): string {
  const { summary: s } = prediction;
  const webs =
    s.burntWebs.length === 0
      ? 'no web burnt away'
      : `${s.burntWebs.length} web${s.burntWebs.length === 1 ? '' : 's'} burnt away`;
  return `widths off by ${um(s.rmsWidthErrorMm)} rms (${s.meanWidthErrorMm >= 0 ? '+' : ''}${um(s.meanWidthErrorMm)} on average), places by ${um(s.rmsPositionErrorMm)} rms; ${webs}`;
}

/**
 * Draws what was asked and what will come out, one row of panels for whole sheets and one for a magnified spot.
 *
 * @param panels - at least one, all of the same stencil
 * @returns an SVG with text as text; see outlineText for machines without fonts
 */
export function predictionPicture(panels: readonly PredictionPanel[], name: string): string {
  const all = panels
    .map((panel) => boundsOf([...panel.asked, ...panel.prediction.film.flat()]))
    .filter((box): box is Box => box !== undefined)
    .reduce(joinBoxes);
  const room = 0.04 * Math.max(all.maxX - all.minX, all.maxY - all.minY, 1);
  const window: Box = { minX: all.minX - room, minY: all.minY - room, maxX: all.maxX + room, maxY: all.maxY + room };
  const panelHeight = (PANEL_WIDTH * (window.maxY - window.minY)) / (window.maxX - window.minX);
  const width = GAP + panels.length * (PANEL_WIDTH + GAP);
  const detail = detailWindow(panels[0]);
  const detailTop = HEAD + GAP + panelHeight + 50;
  const height = detailTop + DETAIL_PX + FOOT + GAP;
  const parts = panels.map((panel, i) => {
    const x = GAP + i * (PANEL_WIDTH + GAP);
    const dx = x + (PANEL_WIDTH - DETAIL_PX) / 2;
    return [
      text(x, HEAD + 4, 20, panel.title),
      text(x, HEAD + 24, 14, panelWords(panel)),
      view(panel, window, { x, y: HEAD + GAP + 4, width: PANEL_WIDTH, height: panelHeight }, `sheet${i}`),
      spotMark(detail, window, x),
      view(panel, detail, { x: dx, y: detailTop, width: DETAIL_PX, height: DETAIL_PX }, `detail${i}`),
      text(
        dx,
        detailTop - 8,
        14,
        `magnified: ${DETAIL_MM} x ${DETAIL_MM} mm, framed above: the spot that is furthest off as drawn`,
      ),
    ].join('\n');
  });
  const key = [
    [AS_ASKED, 'cut as asked'],
    [TOO_MUCH, 'cut, but not asked'],
    ['#ffffff', 'white inside an outline: asked, but not cut'],
  ]
    .map(
      ([colour, words], i) =>
        `<rect x="${GAP + i * 260}" y="${fixed(height - FOOT + 4)}" width="18" height="18" fill="${colour}" stroke="#000000"/>${text(GAP + 26 + i * 260, height - FOOT + 18, 14, words)}`,
    )
    .join('');
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${fixed(height)}" viewBox="0 0 ${width} ${fixed(height)}">
<rect width="${width}" height="${fixed(height)}" fill="#ffffff"/>
${text(GAP, 32, 24, `${name}: what will come out of the machine`)}
${parts.join('\n')}
${key}
</svg>
`;
}
