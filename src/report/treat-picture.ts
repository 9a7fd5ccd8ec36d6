import type { Opening, Region } from '../geometry/types.js';
import type { Account, TreatResult } from '../rules/treat/treat.js';
import { type PictureRoom, px, stencilPicture, svgText } from './picture.js';
import { regionPaths } from './svg-paths.js';

// Okabe and Ito's palette, published as readable by colour-blind people.
const SAME = '#C9C9C9';
const CHANGED = '#56B4E9';
const BEFORE = '#D55E00';

const FOOT = 60;
const ROOM: PictureRoom = { head: 76, foot: FOOT + 40, side: 40, leastWidth: 820 };

/**
 * Draws openings before (outline) and after (filled) a treatment.
 *
 * @returns an SVG with text as text; see outlineText for machines without fonts
 */
export function treatPicture(before: readonly Opening[], result: TreatResult, title: string): string {
  const { height, pen, draw } = stencilPicture([...before, ...result.openings], ROOM);
  const paths = (regions: readonly Region[], look: string): string =>
    `<g ${look}>${regionPaths(regions, pen)
      .map((d) => `<path d="${d}"/>`)
      .join('')}</g>`;
  const isTouched = ({ fate }: Account): boolean => fate === 'changed' || fate === 'split' || fate === 'dropped';
  const touched = result.accounts.filter(isTouched);
  const still = result.accounts.filter((account) => !isTouched(account));
  const after = (list: typeof touched): Region[] =>
    list.flatMap(({ becomes }) => becomes.map((number) => result.openings[number - 1]));
  const dropped = touched.filter(({ fate }) => fate === 'dropped').length;
  const key = [
    [`fill="${CHANGED}" stroke="none"`, `changed: ${touched.length - dropped}`],
    [
      `fill="none" stroke="${BEFORE}" stroke-width="1.5"`,
      `as it was${dropped > 0 ? ` (empty: dropped, ${dropped})` : ''}`,
    ],
    [`fill="${SAME}" stroke="none"`, `unchanged: ${still.length}`],
  ];
  return draw(title, `rule set ${result.mark.replace(/#.*/, '')}`, [
    paths(after(still), `fill="${SAME}" fill-rule="evenodd"`),
    paths(after(touched), `fill="${CHANGED}" fill-rule="evenodd"`),
    paths(
      touched.map(({ opening }) => before[opening - 1]),
      `fill="none" stroke="${BEFORE}" stroke-width="1.2"`,
    ),
    ...key.map(
      ([style, words], i) =>
        `<rect x="${24 + i * 260}" y="${px(height - FOOT + 20)}" width="24" height="16" ${style}/>${svgText(56 + i * 260, height - FOOT + 33, 13, words)}`,
    ),
  ]);
}
