import type { Opening, Region } from '../geometry/types.js';
import type { Account, TreatResult } from '../rules/treat/treat.js';
import { drawnAs, framedPicture, type PictureRoom, pictureKey, stencilPicture } from './picture.js';

// Okabe and Ito's palette, published as readable by colour-blind people.
const SAME = 'fill="#C9C9C9" fill-rule="evenodd"';
const CHANGED = 'fill="#56B4E9" fill-rule="evenodd"';
const BEFORE = 'fill="none" stroke="#D55E00" stroke-width="1.2"';

const FOOT = 60;
const ROOM: PictureRoom = { head: 76, foot: FOOT + 40, side: 40, leastWidth: 820 };

/**
 * Draws openings before (outline) and after (filled) a treatment.
 *
 * @returns an SVG with text as text; see outlineText for machines without fonts
 */
export function treatPicture(before: readonly Opening[], result: TreatResult, title: string): string {
  const { size, pen } = stencilPicture([...before, ...result.openings], ROOM);
  const isTouched = ({ fate }: Account): boolean => fate === 'changed' || fate === 'split' || fate === 'dropped';
  const touched = result.accounts.filter(isTouched);
  const still = result.accounts.filter((account) => !isTouched(account));
  const after = (list: typeof touched): Region[] =>
    list.flatMap(({ becomes }) => becomes.map((number) => result.openings[number - 1]));
  const dropped = touched.filter(({ fate }) => fate === 'dropped').length;
  const key = [
    [CHANGED, `changed: ${touched.length - dropped}`],
    [BEFORE, `as it was${dropped > 0 ? ` (empty: dropped, ${dropped})` : ''}`],
    [SAME, `unchanged: ${still.length}`],
  ] as const;
  return framedPicture(
    size,
    [title, `rule set ${result.mark.replace(/#.*/, '')}`],
    [
      drawnAs(SAME, after(still), pen),
      drawnAs(CHANGED, after(touched), pen),
      drawnAs(
        BEFORE,
        touched.map(({ opening }) => before[opening - 1]),
        pen,
      ),
      pictureKey(key, [24, size[1] - FOOT + 20], 260),
    ],
  );
}
