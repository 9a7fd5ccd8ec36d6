/** A drawn chart: the SVG's text is outlined, so that it looks the same on a machine without fonts. */
export interface Chart {
  readonly svg: string;
  readonly widthPx: number;
}

/** A place in a panel, in the units of its axes. */
export type At = readonly [x: number, y: number];

export interface ChartAxis {
  readonly title?: string;
  readonly domain: readonly [low: number, high: number];
  /** Equal ratios take equal room. */
  readonly byRatio?: boolean;
  /** About how many marks, or the very values to mark; without it about 6. */
  readonly ticks?: number | readonly number[];
  /** What stands at a mark; without it the number. Slanted where it is longer than 3 letters. */
  readonly label?: (value: number) => string;
  /** Lines across the panel at the marks; without it there are some. */
  readonly grid?: boolean;
}

export interface Stroke {
  readonly ink: string;
  readonly widthPx: number;
  readonly dash?: readonly number[];
  readonly opacity?: number;
}

export type PointSymbol = 'circle' | 'square' | 'up' | 'down' | 'diamond' | 'plus' | 'cross';

/** How a point is drawn: a line around it, a filling, or both. */
export interface PointStyle {
  readonly symbol: PointSymbol;
  readonly areaPx2: number;
  readonly fill?: string;
  readonly stroke?: string;
  readonly widthPx?: number;
  readonly opacity?: number;
}

/** Something drawn in a panel; what reaches beyond it is cut off, but for texts. */
export type ChartMark =
  | ({ readonly kind: 'line'; readonly points: readonly At[]; readonly stepped?: boolean } & Stroke)
  | { readonly kind: 'area'; readonly points: readonly At[]; readonly ink: string; readonly opacity: number }
  | ({ readonly kind: 'points'; readonly points: readonly At[] } & PointStyle)
  | {
      readonly kind: 'text';
      readonly at: At;
      readonly text: string;
      readonly anchor?: 'start' | 'middle' | 'end';
      /** px to the right and down from `at`. */
      readonly shiftPx?: At;
      /** A white rim keeps it legible on lines. */
      readonly rim?: boolean;
    };

export interface Panel {
  readonly title?: string;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly x: ChartAxis;
  readonly y: ChartAxis;
  readonly marks: readonly ChartMark[];
}

/** One entry of the key under a chart: a point, or a piece of a line. */
export type KeyEntry = { readonly text: string } & ({ readonly point: PointStyle } | { readonly line: Stroke });

export interface ChartSpec {
  readonly title: string;
  readonly subtitle?: readonly string[];
  /** Panels side by side; without it one. */
  readonly columns?: number;
  readonly panels: readonly Panel[];
  /** Rows of the key. */
  readonly key?: readonly (readonly KeyEntry[])[];
}

/** Width of a chart's plotting area, px at 96 to the inch: with axes about 160 mm in print. */
export const CHART_WIDTH_PX = 480;

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

/** A domain that leaves room beside its values; the values may all be equal. */
export function roomFor(values: readonly number[], share: number): [number, number] {
  const [low, high] = values.reduce(([l, h], value) => [Math.min(l, value), Math.max(h, value)], [Infinity, -Infinity]);
  const pad = share * (high - low || Math.abs(high) || 1);
  return [low - pad, high + pad];
}
