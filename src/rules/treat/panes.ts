import { openingArea } from '../../geometry/area.js';
import { intersectRegions } from '../../geometry/boolean.js';
import { narrowestWidth } from '../../geometry/narrowest.js';
import { moveWalls, wallsToArea } from '../../geometry/reshape.js';
import type { Point, Region } from '../../geometry/types.js';
import type { Measure } from '../measure.js';
import type { PieceAct, Proposal } from './piece.js';

/** What a pad is to be split into; all numbers known. */
export interface PaneWish {
  /** Open share of the pad, 0 < share < 1. */
  readonly share: number;
  readonly webMm: number;
  readonly smallestPaneMm: number;
  readonly paneMm?: number;
  readonly columns?: number;
  readonly rows?: number;
}

interface Layout {
  readonly columns: number;
  readonly rows: number;
  /** Free rim between the outer panes and the pad's edge, mm. */
  readonly rimMm: number;
  readonly cost: number;
}

const MOST_PER_SIDE = 24;
const MOST_TRIED = 30;

/** Splits every selected pad; see {@link splitIntoPanes}. */
export const panes: PieceAct<'panes'> = ({ columns, rows, ...action }, { pieces, measures }) => {
  return (i, numberOf) => {
    const coverage = numberOf(action.coveragePercent);
    const [webMm, smallestPaneMm] = [numberOf(action.webMm), numberOf(action.smallestPaneMm)];
    const usable = coverage !== undefined && coverage > 0 && coverage < 100 && webMm !== undefined && webMm > 0;
    if (!usable || smallestPaneMm === undefined || smallestPaneMm <= 0)
      return { stays: 'coverage must be between 0 and 100 %, web and smallest pane above 0' };
    const wish = { share: coverage / 100, webMm, smallestPaneMm, paneMm: numberOf(action.paneMm), columns, rows };
    return splitIntoPanes(pieces[i].opening, measures[i], wish);
  };
};

/**
 * Splits a pad into panes that leave a share of its area open, with webs of at least `webMm` between them and no pane
 * narrower than `smallestPaneMm`. Rectangles get equal panes and webs of exactly that width; other shapes get the grid
 * clipped to the pad, slivers dropped, and all panes drawn in evenly until the share is met.
 */
export function splitIntoPanes(region: Region, measure: Measure, wish: PaneWish): Proposal {
  const { shape, widthMm, heightMm } = measure;
  const exact = (shape === 'rectangle' || shape === 'square') && Math.abs(measure.areaMm2 - widthMm * heightMm) < 1e-6;
  const layouts = layoutsFor(measure, wish);
  if (exact) {
    const best = layouts.find(({ rimMm }) => rimMm >= -1e-9);
    if (best) return { regions: cells(measure, best, wish.webMm) };
  } else {
    for (const layout of layouts.slice(0, MOST_TRIED)) {
      const regions = clippedPanes(region, measure, layout, wish);
      if (regions) return { regions };
    }
  }
  return {
    stays: `no layout reaches ${(wish.share * 100).toFixed(0)} % with webs of ${wish.webMm} mm and panes of at least ${wish.smallestPaneMm} mm`,
  };
}

/**
 * Candidate layouts, best first: panes nearly square, near the wished-for size, a rim of about half a web.
 * The rim e solves (W - 2e - (m-1)w) (H - 2e - (n-1)w) = share · area, for a rectangle of the pad's box.
 */
function layoutsFor({ widthMm, heightMm }: Measure, wish: PaneWish): Layout[] {
  const { webMm, smallestPaneMm, paneMm, share } = wish;
  const most = (size: number): number =>
    Math.max(1, Math.min(MOST_PER_SIDE, Math.floor((size + webMm + 1e-9) / (smallestPaneMm + webMm))));
  const counts = (fixed: number | undefined, size: number): number[] =>
    fixed === undefined ? Array.from({ length: most(size) }, (_, k) => k + 1) : [fixed];
  // The grid covers the pad's box; what lies outside the pad is lost to it in the same share.
  const open = share * widthMm * heightMm;
  const layouts: Layout[] = [];
  for (const columns of counts(wish.columns, widthMm)) {
    for (const rows of counts(wish.rows, heightMm)) {
      if (columns * rows < 2) continue;
      const a = widthMm - (columns - 1) * webMm;
      const b = heightMm - (rows - 1) * webMm;
      const rimMm = (a + b - Math.sqrt((a - b) ** 2 + 4 * open)) / 4;
      const [paneX, paneY] = [(a - 2 * rimMm) / columns, (b - 2 * rimMm) / rows];
      if (paneX < smallestPaneMm - 1e-9 || paneY < smallestPaneMm - 1e-9 || a <= 0 || b <= 0) continue;
      const cost =
        Math.abs(Math.log(paneX / paneY)) +
        (0.3 * Math.abs(rimMm - webMm / 2)) / webMm +
        (paneMm === undefined ? 0.02 * columns * rows : 3 * Math.abs(Math.log(Math.sqrt(paneX * paneY) / paneMm)));
      layouts.push({ columns, rows, rimMm, cost });
    }
  }
  return layouts.sort((p, q) => p.cost - q.cost);
}

/** The panes of a layout in the pad's frame, from its lower left. */
function cells({ widthMm, heightMm, centre, angleDeg }: Measure, layout: Layout, webMm: number): Region[] {
  const { columns, rows, rimMm } = layout;
  const paneX = (widthMm - 2 * rimMm - (columns - 1) * webMm) / columns;
  const paneY = (heightMm - 2 * rimMm - (rows - 1) * webMm) / rows;
  const angle = (angleDeg * Math.PI) / 180;
  const [c, s] = angleDeg === 0 ? [1, 0] : [Math.cos(angle), Math.sin(angle)];
  const at = (u: number, v: number): Point => [centre[0] + u * c - v * s, centre[1] + u * s + v * c];
  return Array.from({ length: columns * rows }, (_, k) => {
    const u = -widthMm / 2 + rimMm + (k % columns) * (paneX + webMm);
    const v = -heightMm / 2 + rimMm + Math.floor(k / columns) * (paneY + webMm);
    return { outer: [at(u, v), at(u + paneX, v), at(u + paneX, v + paneY), at(u, v + paneY)], islands: [] };
  });
}

/** Panes of an odd-shaped pad; undefined when the layout leaves too little. */
function clippedPanes(region: Region, measure: Measure, layout: Layout, wish: PaneWish): Region[] | undefined {
  const target = openingArea(region) * wish.share;
  for (const rimMm of [wish.webMm / 2, wish.webMm / 4, 0]) {
    const inner = rimMm > 0 ? moveWalls(region, -rimMm) : [region];
    const grid = cells(measure, { ...layout, rimMm }, wish.webMm);
    const clipped = grid.flatMap((cell) => intersectRegions([cell], inner)).filter(isBroad(wish.smallestPaneMm));
    if (clipped.length < 2) continue;
    const area = clipped.reduce((sum, pane) => sum + openingArea(pane), 0);
    if (area < target) continue;
    const delta = wallsToArea(clipped, target, -1, wish.smallestPaneMm / 2);
    const drawnIn = clipped.flatMap((pane) => moveWalls(pane, delta));
    const share = drawnIn.reduce((sum, pane) => sum + openingArea(pane), 0) / openingArea(region);
    const whole = drawnIn.length === clipped.length && drawnIn.every(isBroad(wish.smallestPaneMm));
    if (whole && Math.abs(share - wish.share) <= 0.005 * wish.share) return drawnIn;
  }
  return undefined;
}

const isBroad =
  (smallestMm: number) =>
  (pane: Region): boolean =>
    narrowestWidth(pane) >= smallestMm - 1e-6;
