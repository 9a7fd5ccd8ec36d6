import type { Warning } from '../errors.js';
import type { PerAxis } from '../geometry/types.js';
import type { Profile } from './types.js';

/** Rows and dots of an image. */
interface Rows {
  readonly pitchMm: PerAxis;
  readonly burnEveryNthRow?: number;
}

/** Pitches that differ by less, mm, make no kerf another: 1000 dpi typed as 0.025. */
const SAME_MM = 0.002;

const sizeOf = ({ x, y }: Rows['pitchMm']): string => `${Number(x.toFixed(4))} x ${Number(y.toFixed(4))}`;

/**
 * What an image deserves to be told whose dots are not those of the coupons: a beam burns a row as wide as ever, so that
 * what it adds around a finer or coarser row is another kerf, which nobody has measured.
 */
export function pitchWarnings(
  profile: Partial<Pick<Profile, 'pitchMm'>>,
  { pitchMm, burnEveryNthRow = 1 }: Rows,
): Warning[] {
  const known = profile.pitchMm;
  const other = known && (['x', 'y'] as const).some((axis) => Math.abs(known[axis] - pitchMm[axis]) > SAME_MM);
  const say = (message: string, hint: string): Warning => ({ code: 'PITCH_NOT_CALIBRATED', message, hint });
  return [
    ...(other
      ? [
          say(
            `the dots lie ${sizeOf(pitchMm)} mm apart, those of the coupons ${sizeOf(known)} mm: the kerf was measured with these, and is another with those.`,
            'Leave out the pitch, or cut and read coupons with it.',
          ),
        ]
      : []),
    ...(burnEveryNthRow > 1
      ? [
          say(
            `of every ${burnEveryNthRow} rows one is burnt, of the coupons every one: whether the film opens with less heat nobody has looked.`,
            'Cut a small piece first.',
          ),
        ]
      : []),
  ];
}
