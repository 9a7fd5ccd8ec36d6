import type { CellOutcome } from '../../readings/types.js';
import { medianOf } from '../picture/robust.js';
import type { Strip } from './strip.js';

/** Film beside a cell that is so much darker than film farther off is scorched. */
const SCORCH = 0.06;
const WALL_MM = 0.25;
/** Dust and a hair on a cell that is through take less of it, and film that was left takes more. */
const CLEAR = 0.99;

/**
 * What a filled cell of a power/speed grid looks like, for a person to confirm.
 *
 * @param raggedMm - scatter along its most ragged side, 0 where all are clean
 */
export function proposeCell(
  strip: Strip,
  [halfX, halfY]: readonly [number, number],
  sign: 1 | -1,
  openShare: number,
  raggedMm: number,
): { readonly outcome: CellOutcome; readonly note: string } {
  const film: number[] = [];
  const beside: number[] = [];
  let [cells, clear] = [0, 0];
  const far = (i: number, j: number): number =>
    Math.max(
      Math.abs(strip.firstMm + i * strip.stepMm) - halfX,
      Math.abs(strip.firstRowMm + j * strip.rowStepMm) - halfY,
    );
  const each = (work: (level: number, out: number) => void): void => {
    for (let j = 0; j < strip.rows; j += 1) {
      for (let i = 0; i < strip.columns; i += 1) work(strip.levels[j * strip.columns + i], far(i, j));
    }
  };
  each((level, out) => {
    if (out > 0.4) film.push(level);
    else if (out > 0.18 && out < 0.28) beside.push(level);
  });
  const ground = medianOf(film);
  const open = ground * (Number.isNaN(openShare) ? 1 - 0.5 * sign : openShare);
  each((level, out) => {
    if (out > -WALL_MM) return;
    cells += 1;
    if ((ground - level) / (ground - open) > 0.5) clear += 1;
  });
  const share = clear / cells;
  const scorch = 1 - medianOf(beside) / ground;
  const damage = [
    ...(scorch > SCORCH ? [`${Math.round(100 * scorch)} % darker beside it`] : []),
    ...(raggedMm > 0 ? [`edges ragged by ${Math.round(1000 * raggedMm)} µm`] : []),
  ];
  const outcome = share < 0.02 ? 'uncut' : share < CLEAR ? 'partial' : damage.length > 0 ? 'marked' : 'through';
  const seen = [`${Math.floor(100 * share)} % clear`, ...(outcome === 'marked' ? damage : [])].join(', ');
  return { outcome, note: `proposal: ${seen}; confirm by eye` };
}
