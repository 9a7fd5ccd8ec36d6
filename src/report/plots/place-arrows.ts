import { type At, CHART_WIDTH_PX, type Chart, type ChartMark, INK, type Panel, roomFor } from './chart.js';
import { renderChart } from './render-chart.js';

/** A mark of the bed, and how far off it lies, mm. */
export interface PlacedMark {
  readonly at: At;
  readonly before: At;
  readonly after: At;
  /** It took no part. */
  readonly setAside: boolean;
}

/** Length of the longest arrow, as a share of the bed. */
const LONGEST = 0.07;
const HEAD = 0.3;

/**
 * How far marks lie from where a machine without bends would put them: arrows before the field, and what it leaves, each
 * panel with a scale of its own, since what is left would be too short to be seen on that of the other.
 */
export async function placeArrows(marks: readonly PlacedMark[]): Promise<Chart> {
  const [xs, ys] = [0, 1].map((k) => marks.map(({ at }) => at[k]));
  const domains = [roomFor(xs, 0.06), roomFor(ys, 0.06)] as const;
  const [width, height] = domains.map(([low, high]) => high - low);
  const widthPx = 0.8 * CHART_WIDTH_PX;
  const panel = (name: string, off: (mark: PlacedMark) => At): Panel => {
    const most = Math.max(1e-9, ...marks.filter(({ setAside }) => !setAside).map((mark) => Math.hypot(...off(mark))));
    const scale = (LONGEST * Math.max(width, height)) / most;
    return {
      title: `${name}: the longest is ${Number((1000 * most).toPrecision(2))} µm`,
      widthPx,
      heightPx: Math.max(120, (widthPx * height) / width),
      x: { title: 'X, mm', domain: domains[0] },
      y: { title: 'Y, mm', domain: domains[1] },
      marks: marks.flatMap((mark) => {
        const least = mark.setAside ? (2 * LONGEST * width) / Math.hypot(...off(mark)) : Infinity;
        return arrow(mark.at, off(mark), Math.min(scale, least), mark.setAside);
      }),
    };
  };
  const aside = marks.some(({ setAside }) => setAside);
  return renderChart({
    title: 'Places over the bed',
    subtitle: [
      'An arrow goes from where a mark belongs to where it was cut; shift, turn, scale and shear are taken out.',
    ],
    columns: 1,
    panels: [panel('Without the bends', ({ before }) => before), panel('Left with them', ({ after }) => after)],
    key: aside
      ? [
          [
            { text: 'mark', line: { ink: INK.blue, widthPx: 1.4 } },
            { text: 'took no part: far off the rest', line: { ink: INK.vermillion, widthPx: 1.4, dash: [3, 2] } },
          ],
        ]
      : [],
  });
}

function arrow([x, y]: At, [dx, dy]: At, scale: number, setAside: boolean): ChartMark[] {
  const tip: At = [x + scale * dx, y + scale * dy];
  const wing = (side: 1 | -1): At => [
    tip[0] - HEAD * scale * (dx - 0.5 * side * dy),
    tip[1] - HEAD * scale * (dy + 0.5 * side * dx),
  ];
  const stroke = setAside ? { ink: INK.vermillion, widthPx: 1.2, dash: [3, 2] } : { ink: INK.blue, widthPx: 1.2 };
  return [
    { kind: 'line', points: [[x, y], tip], ...stroke },
    { kind: 'line', points: [wing(1), tip, wing(-1)], ...stroke },
  ];
}
