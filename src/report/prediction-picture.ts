import { boundsOf, boxAround, boxesNear, grownBox, regionBounds } from '../geometry/bounds.js';
import type { Box, Region } from '../geometry/types.js';
import type { Prediction } from '../machine/predict-cut.js';
import { count, signed } from '../text.js';
import { framedPicture, pictureKey, svgText } from './picture.js';
import { type RegionPen, regionPaths } from './svg-paths.js';

/** One stencil to show: what will come out. */
export interface PredictionPanel {
  readonly title: string;
  readonly prediction: Prediction;
}

// The hues of Okabe and Ito's palette, published as readable by colour-blind people: sky blue, vermilion, black. The blue is
// lighter here and the red darker, so that grey print tells them apart too.
const AS_ASKED = '#A5D8F5';
const TOO_MUCH = '#B84A00';
const OUTLINE = '#000000';

const PANEL_WIDTH = 900;
const GAP = 30;
const HEAD = 64;
const FOOT = 46;
/** Side of the magnified square, mm. */
const DETAIL_MM = 3;
const DETAIL_PX = 520;

const fixed = (value: number): string => String(Number(value.toFixed(4)));
function um(mm: number): string {
  const words = (mm * 1000).toFixed(Math.abs(mm) < 0.001 ? 1 : 0);
  return `${Number(words) === 0 ? '0' : words} µm`;
}

/** What of some regions is seen in a window that is drawn so many units a mm. */
function named(id: string, regions: readonly Region[], { window, seesAll, width }: Sight) {
  const shown = seesAll ? regions : regions.filter((region) => boxesNear(regionBounds(region), window));
  const pen: RegionPen = { at: (mm) => mm, decimals: 4, pxPerMm: width / (window.maxX - window.minX) };
  const all = regionPaths(shown, pen);
  return {
    paths: all.map((d, i) => `<path id="${id}${i}" d="${d}"/>`).join('\n'),
    uses: all.map((_, i) => `<use href="#${id}${i}"/>`).join(''),
  };
}

/** A part of the plane, shown in a panel that is so wide. */
interface Sight {
  readonly window: Box;
  readonly seesAll: boolean;
  readonly width: number;
}

/** The same with its height on the page; all panels of a row show what was asked alike. */
type View = ReturnType<typeof viewOf>;

/** An outline takes no more than this share of what a usual opening measures across: it is not to hide what it frames. */
const OUTLINE_SHARE = 0.08;

function viewOf(id: string, asked: readonly Region[], sight: Sight) {
  const { window, width } = sight;
  const scale = width / (window.maxX - window.minX);
  const height = (window.maxY - window.minY) * scale;
  const narrow = new Float64Array(asked.length);
  asked.forEach((region, i) => {
    const { minX, minY, maxX, maxY } = regionBounds(region);
    narrow[i] = Math.min(maxX - minX, maxY - minY);
  });
  const usualMm = narrow.sort()[narrow.length >> 1];
  const outlineMm = Math.min(1 / scale, OUTLINE_SHARE * usualMm);
  return { ...sight, id, height, asked: named(`${id}-asked`, asked, sight), outlineMm };
}

/** A view of a panel in its place on the page. */
function drawView(regions: readonly Region[], view: View, panel: number, x: number, y: number): string {
  const { id, window, seesAll, width, height, asked, outlineMm } = view;
  const scale = width / (window.maxX - window.minX);
  const own = `${id}${panel}`;
  const film = named(`${own}-film`, regions, view);
  const box = `x="${x}" y="${y}" width="${width}" height="${fixed(height)}"`;
  // All of the window, seen through what is cut: red, and blue where it was asked.
  const all = `M${fixed(window.minX)} ${fixed(window.minY)}H${fixed(window.maxX)}V${fixed(window.maxY)}H${fixed(window.minX)}z`;
  // A renderer draws what it clips twice over.
  const [clip, by] = seesAll
    ? ['', '']
    : [`<clipPath id="${own}-box"><rect ${box}/></clipPath>`, ` clip-path="url(#${own}-box)"`];
  return `<defs>${clip}${film.paths}<clipPath id="${own}-cut">${film.uses}</clipPath></defs>
<g${by}><g transform="translate(${fixed(x - window.minX * scale)} ${fixed(y + window.maxY * scale)}) scale(${fixed(scale)} ${fixed(-scale)})">
<g clip-path="url(#${own}-cut)"><path fill="${TOO_MUCH}" d="${all}"/><g fill="${AS_ASKED}" fill-rule="evenodd">${asked.uses}</g></g>
<g fill="none" stroke="${OUTLINE}" stroke-width="${fixed(outlineMm)}">${asked.uses}</g></g></g>
<rect ${box} fill="none" stroke="#999999"/>`;
}

/** A square around the opening whose film is furthest from what was asked on the first panel, within the sheet where that is as large. */
function detailWindow(asked: readonly Region[], { prediction: { items } }: PredictionPanel, sheet: Box): Box {
  const worst = items.reduce((best, item) => {
    const error = (i: typeof item): number =>
      Math.hypot(i.dxMm, i.dyMm) + Math.abs(i.cutWidthMm - i.askedWidthMm) + Math.abs(i.cutHeightMm - i.askedHeightMm);
    // Small openings tell most: an error counts by its share of the opening's width.
    const weight = (i: typeof item): number => error(i) / Math.max(0.05, Math.min(i.askedWidthMm, i.askedHeightMm));
    return weight(item) > weight(best) ? item : best;
  });
  const box = regionBounds(asked[items.indexOf(worst)]);
  const within = (at: number, least: number, most: number): number =>
    most - least < DETAIL_MM ? (least + most) / 2 : Math.min(Math.max(at, least + DETAIL_MM / 2), most - DETAIL_MM / 2);
  const x = within((box.minX + box.maxX) / 2, sheet.minX, sheet.maxX);
  const y = within((box.minY + box.maxY) / 2, sheet.minY, sheet.maxY);
  return boxAround([x, y], DETAIL_MM, DETAIL_MM);
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
  const webs = s.burntWebs.length === 0 ? 'no web burnt away' : `${count(s.burntWebs.length, 'web')} burnt away`;
  return `widths off by ${um(s.rmsWidthErrorMm)} rms (${signed(um(s.meanWidthErrorMm))} on average), places by ${um(s.rmsPositionErrorMm)} rms; ${webs}`;
}

/**
 * Draws what was asked and what will come out, one row of panels for whole sheets and one for a magnified spot.
 *
 * @param panels - at least one, all of what was asked
 * @returns an SVG with text as text; see outlineText for machines without fonts
 */
export function predictionPicture(asked: readonly Region[], panels: readonly PredictionPanel[], name: string): string {
  const films = panels.map(({ prediction }) => prediction.film.flat());
  const all = boundsOf([...asked, ...films.flat()]) as Box;
  const room = 0.04 * Math.max(all.maxX - all.minX, all.maxY - all.minY, 1);
  const window = grownBox(all, room);
  const width = GAP + panels.length * (PANEL_WIDTH + GAP);
  const detail = detailWindow(asked, panels[0], window);
  const sheetView = viewOf('sheet', asked, { window, seesAll: true, width: PANEL_WIDTH });
  const detailView = viewOf('detail', asked, { window: detail, seesAll: false, width: DETAIL_PX });
  const detailTop = HEAD + GAP + sheetView.height + 50;
  const height = detailTop + DETAIL_PX + FOOT + GAP;
  const parts = panels.map((panel, i) => {
    const x = GAP + i * (PANEL_WIDTH + GAP);
    const dx = x + (PANEL_WIDTH - DETAIL_PX) / 2;
    return [
      svgText(x, HEAD + 4, 20, panel.title),
      svgText(x, HEAD + 24, 14, panelWords(panel)),
      drawView(films[i], sheetView, i, x, HEAD + GAP + 4),
      spotMark(detail, window, x),
      drawView(films[i], detailView, i, dx, detailTop),
      svgText(
        dx,
        detailTop - 8,
        14,
        `magnified: ${DETAIL_MM} x ${DETAIL_MM} mm, framed above: ${i === 0 ? 'the spot that is furthest off' : 'the same spot'}`,
      ),
    ].join('\n');
  });
  const key = [
    [AS_ASKED, 'cut as asked'],
    [TOO_MUCH, 'cut, but not asked'],
    ['#ffffff', 'white inside an outline: asked, but not cut'],
  ].map(([colour, words]) => [`fill="${colour}" stroke="#000000"`, words] as const);
  return framedPicture(
    [width, height],
    [`${name}: what will come out of the machine`, ''],
    [...parts, pictureKey(key, [GAP, height - FOOT + 4], 260)],
    `${sheetView.asked.paths}${detailView.asked.paths}`,
  );
}
