import type { Warning } from '../errors.js';
import type { Point } from '../geometry/types.js';
import { present } from '../kept.js';

/** What is wrong with an opening as it comes out. */
export type FaultKind = 'missing' | 'in pieces' | 'part missing' | 'cut off' | 'joined' | 'size' | 'area' | 'place';

/**
 * An opening that will not come out as asked. Sizes lie along its own sides, or along the smallest box around it where they
 * are off there alone; the first one nearer to X.
 */
export interface Fault {
  readonly opening: number;
  readonly what: readonly FaultKind[];
  /** Middle of its box on the film, mm. */
  readonly at: Point;
  readonly askedMm: readonly [number, number];
  readonly gotMm: readonly [number, number];
  readonly askedMm2: number;
  readonly gotMm2: number;
  /** How many parts it comes out in, where it is torn. */
  readonly parts?: number;
  /** The largest part that is missing. */
  readonly lost?: { readonly at: Point; readonly sizeMm: readonly [number, number] };
  /** Openings that it runs together with. */
  readonly with?: readonly number[];
  /** How far it lies from its place, mm. */
  readonly offMm?: readonly [number, number];
}

/** How near a whole stencil comes to what was asked, on the film. Signed errors count as cut less asked. */
export interface CutFigures {
  /** Over widths and heights of all openings that are there, mm. */
  readonly rmsWidthErrorMm: number;
  readonly meanWidthErrorMm: number;
  readonly maxWidthErrorMm: number;
  /** How much of a width too narrow the beam takes at a tip that is sharper than itself; whichever dots are chosen. */
  readonly maxTipLossMm: number;
  readonly meanAreaErrorPercent: number;
  readonly maxAreaErrorPercent: number;
  readonly rmsPlaceErrorMm: number;
  readonly maxPlaceErrorMm: number;
}

export function faultWarnings(faults: readonly Fault[]): Warning[] {
  const they = faults.length === 1 ? 'one opening does' : `${faults.length} openings do`;
  return present(
    faults.length > 0 && {
      code: 'NOT_AS_ASKED',
      message: `${they} not come out as asked: ${kindsOf(faults)}.`,
      hint: 'Look at them in the list and with `predict`; a finer pitch, a smaller kerf or wider openings help.',
      openings: faults.map(({ opening }) => opening),
    },
  );
}

const WORDS: Readonly<Record<FaultKind, string>> = {
  missing: 'missing',
  'in pieces': 'in pieces',
  'part missing': 'with a part missing',
  'cut off': 'cut off at the edge of the canvas',
  joined: 'joined to another one',
  size: 'off in width or height',
  area: 'off in area',
  place: 'off their place',
};

function kindsOf(faults: readonly Fault[]): string {
  const counts = new Map<FaultKind, number>();
  for (const { what } of faults) for (const kind of what) counts.set(kind, (counts.get(kind) ?? 0) + 1);
  return [...counts].map(([kind, count]) => `${count} ${WORDS[kind]}`).join(', ');
}
