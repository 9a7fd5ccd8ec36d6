import type { Warning } from '../errors.js';
import type { Box, PerAxis } from '../geometry/types.js';
import type { Profile } from './types.js';

/** How far apart things were read, mm: no scale was ever looked at beyond that. */
export interface CalibratedExtent {
  readonly widthMm: number;
  readonly heightMm: number;
}

/**
 * The largest piece of the bed over which a profile's spans were read: from the positions of the spans themselves, not
 * from the size of the coupon's canvas.
 *
 * @returns undefined where no span was read, for example in a profile written by hand
 * @example calibratedExtent(profile)
 */
export function calibratedExtent({ sessions }: Pick<Profile, 'sessions'>): CalibratedExtent | undefined {
  // Sessions of a profile's file hold no readings until `parseProfile` has given each its own.
  const sizes = sessions.flatMap(({ features, readings = [], refused }) => {
    const read = new Set(readings.flatMap((row) => (row.readingMm === undefined || row.dropped ? [] : [row.feature])));
    const points = features.flatMap((feature) =>
      feature.kind === 'span' && read.has(feature.id) && !refused ? [feature.from, feature.to] : [],
    );
    if (points.length === 0) return [];
    const reach = (k: 0 | 1): number => Math.max(...points.map((p) => p[k])) - Math.min(...points.map((p) => p[k]));
    return [{ widthMm: reach(0), heightMm: reach(1) }];
  });
  if (sizes.length === 0) return undefined;
  return {
    widthMm: Math.max(...sizes.map(({ widthMm }) => widthMm)),
    heightMm: Math.max(...sizes.map(({ heightMm }) => heightMm)),
  };
}

/** A stencil may stick out by this share: a scale does not bend at once beyond what was read. */
const STICKS_OUT = 1.1;

/** What a stencil larger than anything that was read deserves to be told. */
export function extentWarnings(profile: Partial<Pick<Profile, 'sessions'>>, box: Box | undefined): Warning[] {
  const extent = profile.sessions && calibratedExtent({ sessions: profile.sessions });
  if (!extent || !box) return [];
  const [width, height] = [box.maxX - box.minX, box.maxY - box.minY];
  if (width <= STICKS_OUT * extent.widthMm && height <= STICKS_OUT * extent.heightMm) return [];
  const size = (w: number, h: number): string => `${w.toFixed(0)} x ${h.toFixed(0)} mm`;
  return [
    {
      code: 'BEYOND_CALIBRATED',
      message: `the openings span ${size(width, height)}, and the profile rests on spans over ${size(extent.widthMm, extent.heightMm)}: beyond that nobody has looked at the scale.`,
      hint: 'Cut and read a scale-ruler as large as the stencil, and fit again.',
    },
  ];
}

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
