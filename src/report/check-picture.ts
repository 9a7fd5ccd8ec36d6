import { grownBox, joinBoxes, ringBounds, smallest } from '../geometry/bounds.js';
import { boxRing } from '../geometry/shapes.js';
import type { Box, Opening } from '../geometry/types.js';
import type { CheckResult, OpeningCheck } from '../rules/check.js';
import type { FindingCode } from '../rules/check-opening.js';
import { drawnAs, framedPicture, type PictureRoom, pictureKey, px, stencilPicture, svgText } from './picture.js';
import { type Label, placeLabels } from './place-labels.js';

type Look = 'release' | 'small' | 'web' | 'loose' | 'near' | 'good';

/** Okabe and Ito's palette, published as readable by colour-blind people; the hatch tells them apart in grey too. */
const LOOKS: Readonly<Record<Look, { fill: string; hatch?: string; words: string }>> = {
  release: {
    fill: '#D55E00',
    hatch: '<path d="M-2 2L2 -2M0 8L8 0M6 10L10 6" stroke="#000" stroke-width="1.2"/>',
    words: 'keeps its paste (ratio, powder)',
  },
  small: {
    fill: '#56B4E9',
    hatch: '<path d="M0 4H8M4 0V8" stroke="#000" stroke-width="1.2"/>',
    words: 'too small for this laser',
  },
  web: { fill: '#F0E442', hatch: '<path d="M0 4H8" stroke="#000" stroke-width="1.6"/>', words: 'web too thin or gone' },
  loose: { fill: '#CC79A7', hatch: '<circle cx="4" cy="4" r="1.6" fill="#000"/>', words: 'holds film that falls out' },
  // Orange, not green: near its limit is no "good".
  near: {
    fill: '#F3BE5C',
    hatch: '<path d="M-1 7L7 -1" stroke="#8a5a00" stroke-width="0.7"/>',
    words: 'passes, near its limit',
  },
  good: { fill: '#C9C9C9', words: 'passes' },
};

const ALL = Object.keys(LOOKS) as Look[];

const LOOK_OF: Readonly<Record<FindingCode, Look>> = {
  OVERLAP: 'web',
  ISLAND_LOOSE: 'loose',
  OPENING_SMALL: 'small',
  AREA_RATIO: 'release',
  ASPECT_RATIO: 'release',
  POWDER: 'release',
  WEB_SMALL: 'web',
  WEB_BELOW_FILM: 'web',
};

const HEAD = 84;
const FOOT = 96;
const ROOM: PictureRoom = { head: HEAD + 30, foot: FOOT + 30, side: 60, leastWidth: 860 };
const LABEL_SIZE = 12;
function lookOf(check: OpeningCheck): Look {
  const failed = check.findings.filter(({ passes }) => !passes);
  if (failed.length > 0) return LOOK_OF[failed[0].code];
  return check.findings.some(({ near }) => near) ? 'near' : 'good';
}

/** More labels than this are too many to find one's way. */
const MOST_LABELS = 120;

/** Nor is anything found among more than this, however they are joined; they take minutes to be drawn. */
const MOST_RUNS = 1500;

interface Tagged {
  readonly words: string;
  readonly checks: readonly OpeningCheck[];
}

/** Failed openings get a number each, while there are not too many; the others, and too many, share one per run in a group. */
function tagsFor(checks: readonly OpeningCheck[], groupOf: ReadonlyMap<number, number>): Tagged[] {
  const failed = checks.filter(({ verdict }) => verdict === 'fail');
  const passed = checks.filter(({ verdict }) => verdict === 'pass');
  const single = failed.map((check): Tagged => ({ words: String(check.number), checks: [check] }));
  const tags = failed.length <= MOST_LABELS ? single : runsOf(failed, groupOf);
  if (tags.length > MOST_RUNS) {
    const worst = (tag: Tagged): number => smallest(tag.checks.map(({ margin }) => margin));
    return tags.toSorted((p, q) => worst(p) - worst(q)).slice(0, MOST_RUNS);
  }
  const more = runsOf(passed, groupOf);
  return tags.length + more.length <= 2 * MOST_LABELS ? [...tags, ...more] : tags;
}

function runsOf(checks: readonly OpeningCheck[], groupOf: ReadonlyMap<number, number>): Tagged[] {
  const runs: OpeningCheck[][] = [];
  for (const check of checks) {
    const run = runs[runs.length - 1];
    const last = run?.[run.length - 1];
    const group = groupOf.get(check.number);
    const together = last && group !== undefined && group === groupOf.get(last.number);
    const joins = together && check.number === last.number + 1 && lookOf(last) === lookOf(check);
    if (joins) run.push(check);
    else runs.push([check]);
  }
  return runs.map((run) => ({
    words: run.length === 1 ? String(run[0].number) : `${run[0].number}-${run[run.length - 1].number}`,
    checks: run,
  }));
}

/**
 * Draws a stencil with its questionable openings coloured, hatched and numbered.
 *
 * @returns an SVG with text as text; see outlineText for machines without fonts
 */
export function checkPicture(openings: readonly Opening[], result: CheckResult, title: string): string {
  const { size, pen } = stencilPicture(openings, ROOM);
  const [width, height] = size;
  const looks = result.openings.map(lookOf);
  const shapes = ALL.toReversed().map((look) =>
    drawnAs(
      attributesOf(look),
      openings.filter((_, i) => looks[i] === look),
      pen,
    ),
  );
  const groupOf = new Map(result.groups.flatMap(({ openings: list }, g) => list.map((n): [number, number] => [n, g])));
  const asked = tagsFor(
    result.openings.filter((_, i) => looks[i] !== 'good'),
    groupOf,
  );
  const boxOf = ({ box }: OpeningCheck): Box => ringBounds(boxRing(box).map(pen.at));
  const tagged = asked.map(({ words, checks }) => ({ words, checks, box: checks.map(boxOf).reduce(joinBoxes) }));
  const ringed = tagged.filter(({ box }) => isTiny(box)).map(({ box }) => grownBox(box, RING_GAP_PX + 2));
  const labels = placeLabels(
    tagged.map(({ words, checks, box }) => ({
      words,
      width: words.length * LABEL_SIZE * 0.64 + 4,
      height: LABEL_SIZE + 2,
      // What is ringed would be hidden by a label upon it.
      single: checks.length === 1 && !isTiny(box),
      around: isTiny(box) ? grownBox(box, RING_GAP_PX + 2) : box,
    })),
    [...result.openings.map(boxOf), ...ringed],
    { minX: 4, minY: HEAD - 22, maxX: width - 4, maxY: height - FOOT + 14 },
  );
  const { totals } = result;
  const unnumbered = asked.length === MOST_RUNS ? '; only the worst are numbered' : '';
  const words = `${totals.openings} openings, ${totals.failed} fail, ${totals.near} pass near a limit; film ${result.basis.thicknessMm} mm, ${result.basis.paste.type} paste${unnumbered}`;
  const drawing = [
    ...shapes,
    tagged.map(({ checks, box }) => ringAround(box, lookOf(checks[0]))).join(''),
    labels.map(drawLabel).join('\n'),
    pictureKey(legend(looks), [24, height - FOOT + 30], LEGEND_PX, Math.max(1, Math.floor((width - 48) / LEGEND_PX))),
    scaleBar(pen.pxPerMm, width, height),
  ];
  return framedPicture(size, [title, words], drawing, ALL.map(pattern).join(''));
}

/** What is smaller than this is hard to find on a page, px. */
const FINDABLE_PX = 10;
const RING_GAP_PX = 5;

const isTiny = ({ minX, minY, maxX, maxY }: Box): boolean => Math.min(maxX - minX, maxY - minY) < FINDABLE_PX;

/** A ring around questionable openings that are hardly seen at this scale. */
function ringAround(box: Box, look: Look): string {
  if (!isTiny(box)) return '';
  const [width, height] = [box.maxX - box.minX, box.maxY - box.minY];
  const [x, y] = [box.minX - RING_GAP_PX, box.minY - RING_GAP_PX].map(px);
  const size = `width="${px(width + 2 * RING_GAP_PX)}" height="${px(height + 2 * RING_GAP_PX)}"`;
  const ring = `x="${x}" y="${y}" ${size} rx="${2 * RING_GAP_PX}" fill="none"${look === 'near' ? ' stroke-dasharray="4 3"' : ''}`;
  return `<rect ${ring} stroke="#000" stroke-width="4"/><rect ${ring} stroke="${LOOKS[look].fill}" stroke-width="2.4"/>`;
}

function pattern(look: Look): string {
  const { fill, hatch } = LOOKS[look];
  if (!hatch) return '';
  return `<pattern id="${look}" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8" fill="${fill}"/>${hatch}</pattern>`;
}

function attributesOf(look: Look): string {
  const { fill, hatch } = LOOKS[look];
  const [stroke, width] = look === 'good' ? ['#9a9a9a', 0.6] : ['#000000', 1];
  return `fill="${hatch ? `url(#${look})` : fill}" fill-rule="evenodd" stroke="${stroke}" stroke-width="${width}"`;
}

function drawLabel({ words, box, leader, inside }: Label): string {
  const line = leader
    ? `<path d="M${leader.map((end) => end.map(px).join(' ')).join('L')}" stroke="#000" stroke-width="0.7"/>`
    : '';
  const size = inside ? box.maxY - box.minY - 2 : LABEL_SIZE;
  return `${line}${svgText((box.minX + box.maxX) / 2, box.maxY - (inside ? 2.5 : 3), size, words, ' text-anchor="middle" stroke="#fff" stroke-width="3.5" paint-order="stroke"')}`;
}

/** Width of a column, px. */
const LEGEND_PX = 320;

const legend = (looks: readonly Look[]): [string, string][] =>
  ALL.filter((look) => looks.includes(look)).map((look) => [
    attributesOf(look),
    `${LOOKS[look].words}: ${looks.filter((other) => other === look).length}`,
  ]);

function scaleBar(scale: number, width: number, height: number): string {
  const lengthMm = [1, 2, 5, 10, 20, 50].find((mm) => mm * scale >= 70) ?? 50;
  const x = width - 24 - lengthMm * scale;
  const y = height - FOOT + 16;
  return `<path d="M${px(x)} ${px(y - 4)}v8M${px(x)} ${px(y)}h${px(lengthMm * scale)}m0 -4v8" stroke="#000" stroke-width="1.4" fill="none"/>${svgText(x + (lengthMm * scale) / 2, y - 6, 12, `${lengthMm} mm`, ' text-anchor="middle"')}`;
}
