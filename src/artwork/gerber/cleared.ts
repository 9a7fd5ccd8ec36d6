import { InputError, type Warning } from '../../errors.js';
import { openingArea } from '../../geometry/area.js';
import type { Opening } from '../../geometry/types.js';
import { WorkBudget } from '../../geometry/work-budget.js';
import { compose, type PaintedObject } from '../paint/compose.js';

/** Windows in thermal pads leave more than this share of what was drawn. Common practice, no source. */
const LEAST_LEFT = 0.5;

/** A warning for a layer of which clear objects hide more than half: a clear plane that comes too late. */
export function mostlyCleared(
  objects: readonly PaintedObject[],
  openings: readonly Opening[],
  file: string | undefined,
): Warning[] {
  const dark = objects.filter((object) => object.dark);
  if (dark.length === objects.length) return [];
  let drawn: readonly Opening[];
  try {
    drawn = new WorkBudget().run(() => compose(dark));
  } catch (error) {
    // What is too tangled without the clear objects can't be compared.
    if (error instanceof InputError) return [];
    throw error;
  }
  const area = (list: readonly Opening[]): number => list.reduce((sum, opening) => sum + openingArea(opening), 0);
  const [left, all] = [area(openings), area(drawn)];
  if (left >= LEAST_LEFT * all && openings.length >= LEAST_LEFT * drawn.length) return [];
  return [
    {
      code: 'MOSTLY_CLEARED',
      place: { file },
      message: `clear objects (LPC) hide most of the layer: of ${drawn.length} openings with ${all.toFixed(2)} mm² that are drawn, ${openings.length} with ${left.toFixed(2)} mm² are left.`,
      hint: 'Compare the result with the board.',
    },
  ];
}
