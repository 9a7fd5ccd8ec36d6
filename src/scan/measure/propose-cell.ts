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
  const samples = Array.from(strip.levels, (level, at) => {
    const [i, j] = [at % strip.columns, Math.floor(at / strip.columns)];
    const across = Math.abs(strip.firstMm + i * strip.stepMm) - halfX;
    return { level, out: Math.max(across, Math.abs(strip.firstRowMm + j * strip.rowStepMm) - halfY) };
  });
  const levelsWhere = (lies: (out: number) => boolean): number[] =>
    samples.flatMap(({ level, out }) => (lies(out) ? [level] : []));
  const ground = medianOf(levelsWhere((out) => out > 0.4));
  const open = ground * (Number.isNaN(openShare) ? 1 - 0.5 * sign : openShare);
  const cell = levelsWhere((out) => out <= -WALL_MM);
  const share = cell.filter((level) => (ground - level) / (ground - open) > 0.5).length / cell.length;
  const scorch = 1 - medianOf(levelsWhere((out) => out > 0.18 && out < 0.28)) / ground;
  const damage = [
    ...(scorch > SCORCH ? [`${Math.round(100 * scorch)} % darker beside it`] : []),
    ...(raggedMm > 0 ? [`edges ragged by ${Math.round(1000 * raggedMm)} µm`] : []),
  ];
  const outcome = share < 0.02 ? 'uncut' : share < CLEAR ? 'partial' : damage.length > 0 ? 'marked' : 'through';
  const seen = [`${Math.floor(100 * share)} % clear`, ...(outcome === 'marked' ? damage : [])].join(', ');
  return { outcome, note: `proposal: ${seen}; confirm by eye` };
}
