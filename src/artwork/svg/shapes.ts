import { ellipsePath, type Segment, type Subpath } from '../paint/subpath.js';
import { numberList, parseLength, userUnits } from './numbers.js';
import { type PathData, parsePathData } from './path-data.js';

/** What 100 % means along X, along Y, and for lengths with no direction. */
export interface Percent {
  readonly x: number;
  readonly y: number;
  readonly both: number;
}

export interface ElementShape extends PathData {
  /** Shape family for the opening's tag. */
  readonly shape?: string;
}

const NAMES = new Set(['path', 'rect', 'circle', 'ellipse', 'line', 'polyline', 'polygon']);

export const isShape = (name: string): boolean => NAMES.has(name);

/** The outline of a basic shape or path in its own user space, y down (SVG 2, chapters 9 and 10). */
export function elementShape(
  name: string,
  property: (name: string) => string | undefined,
  percent: Percent,
): ElementShape {
  const length = (key: string, whole: number): number | undefined => {
    const parsed = parseLength(property(key));
    return parsed ? userUnits(parsed, whole) : undefined;
  };
  const x = (key: string): number => length(key, percent.x) ?? 0;
  const y = (key: string): number => length(key, percent.y) ?? 0;
  switch (name) {
    case 'path':
      return parsePathData(property('d') ?? '');
    case 'rect': {
      const width = x('width');
      const height = y('height');
      if (!(width > 0 && height > 0)) return { subpaths: [] };
      const rx = length('rx', percent.x);
      const ry = length('ry', percent.y);
      const cornerX = Math.min(Math.max(0, rx ?? ry ?? 0), width / 2);
      const cornerY = Math.min(Math.max(0, ry ?? rx ?? 0), height / 2);
      return { subpaths: [rectPath(x('x'), y('y'), width, height, cornerX, cornerY)], shape: 'rectangle' };
    }
    case 'circle': {
      const r = length('r', percent.both) ?? 0;
      return r > 0 ? { subpaths: [ellipsePath(x('cx'), y('cy'), r, r)], shape: 'circle' } : { subpaths: [] };
    }
    case 'ellipse': {
      const rx = length('rx', percent.x);
      const ry = length('ry', percent.y);
      const [a, b] = [rx ?? ry ?? 0, ry ?? rx ?? 0];
      return a > 0 && b > 0 ? { subpaths: [ellipsePath(x('cx'), y('cy'), a, b)], shape: 'ellipse' } : { subpaths: [] };
    }
    case 'line':
      return {
        subpaths: [{ start: [x('x1'), y('y1')], segments: [{ kind: 'line', to: [x('x2'), y('y2')] }], closed: false }],
      };
    default: {
      const n = numberList(property('points') ?? '');
      const points = Array.from({ length: Math.floor(n.length / 2) }, (_, i): [number, number] => [
        n[2 * i],
        n[2 * i + 1],
      ]);
      if (points.length === 0) return { subpaths: [] };
      const segments = points.slice(1).map((to): Segment => ({ kind: 'line', to }));
      return { subpaths: [{ start: points[0], segments, closed: name === 'polygon' }] };
    }
  }
}

function rectPath(x: number, y: number, width: number, height: number, rx: number, ry: number): Subpath {
  const [x1, y1] = [x + width, y + height];
  const line = (px: number, py: number): Segment => ({ kind: 'line', to: [px, py] });
  if (rx === 0 || ry === 0) {
    return { start: [x, y], segments: [line(x1, y), line(x1, y1), line(x, y1)], closed: true };
  }
  const quarter = Math.PI / 2;
  const corner = (cx: number, cy: number, turns: number, px: number, py: number): Segment => ({
    kind: 'arc',
    centre: [cx, cy],
    u: [rx, 0],
    v: [0, ry],
    start: turns * quarter,
    sweep: quarter,
    to: [px, py],
  });
  return {
    start: [x + rx, y],
    segments: [
      line(x1 - rx, y),
      corner(x1 - rx, y + ry, 3, x1, y + ry),
      line(x1, y1 - ry),
      corner(x1 - rx, y1 - ry, 0, x1 - rx, y1),
      line(x + rx, y1),
      corner(x + rx, y1 - ry, 1, x, y1 - ry),
      line(x, y + ry),
      corner(x + rx, y + ry, 2, x + rx, y),
    ],
    closed: true,
  };
}
