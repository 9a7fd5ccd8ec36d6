import { demand } from '../../errors.js';
import type { Point } from '../../geometry/types.js';
import { present } from '../../kept.js';
import { fieldAt, isSameCanvas } from '../../machine/place-field.js';
import type { FieldTerm, PlaceField } from '../../machine/types.js';
import { dot } from '../linear/weighted-qr.js';
import { median, rms } from '../statistics/averages.js';
import { AxisFit } from './axis-fit.js';
import { chooseTerms } from './choose-terms.js';
import { type FilmPlaces, straightResiduals } from './straight-residuals.js';

/** One mark: how far it lies from where a straight machine would have put it, before and after the field, commanded mm. */
export interface MarkResidual {
  readonly at: Point;
  readonly before: Point;
  readonly after: Point;
  /** It lies far off what the rest follow, and takes no part: something lay on it, it was torn, or the bed bends just there. */
  readonly setAside: boolean;
}

export interface FieldFit {
  /** Not there when the places are straight as far as they tell. */
  readonly field?: PlaceField;
  readonly marks: readonly MarkResidual[];
  /** Root mean square along one axis, mm: as straight lines, with the field, and of marks that the field had not seen. */
  readonly beforeMm: number;
  readonly afterMm: number;
  readonly crossMm: number;
  readonly sentences: readonly string[];
}

const LEAST_MARKS = 20;
/** A mark this many standard deviations off says nothing of the bed. */
const ODD = 5;
/** Marks that lie off the same way as one of so many nearest ones are not each under dirt of its own. */
const NEAREST = 4;

/**
 * Fits the place error over the bed to where the marks of coupons were seen: Legendre polynomials of second and third
 * order and sines of any period, along each axis by itself, each only where an F test (Holm's limit over all that were
 * looked at) and marks that were left out (PRESS) ask for it. Shift, turn, scale and shear of each film are free: they are
 * fitted beside the terms and thrown away, since the spans tell them better.
 *
 * @throws {InputError} FIELD_FEW_MARKS, FIELD_CANVASES
 * Sources: Allen, Technometrics 16 (1974) 125, for PRESS; Holm, Scand. J. Statist. 6 (1979) 65.
 */
export function fitField(films: readonly FilmPlaces[]): FieldFit {
  const { canvas } = films[0];
  refuseMixed(films);
  const residuals = straightResiduals(films);
  const [xs, ys] = [0, 1].map((k) => residuals.map(({ at }) => at[k]));
  const areaMm = [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)] as const;
  const isWide = areaMm[2] - areaMm[0] > 0.2 * canvas.widthMm && areaMm[3] - areaMm[1] > 0.2 * canvas.heightMm;
  demand(
    residuals.length >= LEAST_MARKS && isWide,
    'FIELD_FEW_MARKS',
    `${residuals.length} marks, or marks in one corner, do not tell how a bed is bent: expected ${LEAST_MARKS} or more, over most of it.`,
    'Cut and scan a field-grid, or leave the places file out.',
  );
  let kept = residuals;
  for (let round = 0; ; round += 1) {
    const axes = (['x', 'y'] as const).map((moves, k) => {
      const fit = new AxisFit(
        areaMm,
        kept.map((one) => ({ film: one.film, at: one.at, value: one.off[k], weight: 1 / one.uMm ** 2 })),
      );
      return { moves, ...chooseTerms(fit, moves) };
    });
    const odd = round < 3 ? oddOnes(kept, axes) : new Set<number>();
    if (odd.size === 0) return resultOf(films, residuals, kept, axes, areaMm);
    kept = kept.filter((_, i) => !odd.has(i));
  }
}

function oddOnes(kept: readonly { readonly uMm: number }[], axes: readonly Axis[]): Set<number> {
  const known = median(kept.map(({ uMm }) => uMm)) ?? 0;
  // Terms take part of the scatter with them, and no mark is odd that lies within what is known of it.
  const spreads = axes.map(({ left, dof }) =>
    Math.max(known, 1.4826 * (median(left.map(Math.abs)) ?? 0) * Math.sqrt(left.length / Math.max(1, dof)) + 1e-6),
  );
  const odd = (i: number): boolean => axes.some(({ left }, k) => Math.abs(left[i]) > ODD * spreads[k]);
  return new Set(kept.flatMap((_, i) => (odd(i) ? [i] : [])));
}

type Axis = { readonly moves: 'x' | 'y' } & ReturnType<typeof chooseTerms>;

function resultOf(
  films: readonly FilmPlaces[],
  residuals: ReturnType<typeof straightResiduals>,
  kept: typeof residuals,
  axes: readonly Axis[],
  areaMm: PlaceField['areaMm'],
): FieldFit {
  const terms = axes.flatMap((axis) => axis.terms);
  const covariance = axes.flatMap((axis) =>
    axis.covariance.map((row) => axes.flatMap((other) => (other === axis ? row : other.terms.map(() => 0)))),
  );
  const dof = axes[0].dof + axes[1].dof;
  const left = axes.flatMap((axis) => axis.left);
  const afterMm = Math.sqrt(dot(left, left) / Math.max(1, dof));
  const { widthMm, heightMm } = films[0].canvas;
  const field: PlaceField = {
    canvasMm: { widthMm, heightMm },
    areaMm,
    terms,
    covariance,
    residualSdMm: afterMm,
    dof,
    marks: kept.length,
  };
  const row = new Map(kept.map((one, i) => [one, i]));
  const marks = residuals.map((one): MarkResidual => {
    const [own, [ex, ey]] = [row.get(one), fieldAt(field, one.at)];
    const after: Point =
      own === undefined ? [one.off[0] - ex, one.off[1] - ey] : [axes[0].left[own], axes[1].left[own]];
    return { at: one.at, before: one.off, after, setAside: own === undefined };
  });
  const beforeMm = rms(kept.flatMap(({ off }) => off));
  const crossMm = rms(axes.flatMap(({ pressed }) => pressed));
  return {
    ...(terms.length > 0 ? { field } : {}),
    ...{ marks, beforeMm, afterMm, crossMm },
    sentences: sentencesOf(field, { marks, beforeMm, afterMm, crossMm }),
  };
}

const um = (mm: number): string => (1000 * mm).toFixed(1);

function sentencesOf(
  { terms, areaMm }: Pick<PlaceField, 'terms' | 'areaMm'>,
  { beforeMm, afterMm, crossMm, marks }: Omit<FieldFit, 'sentences'>,
): string[] {
  const kept = marks.filter(({ setAside }) => !setAside).length;
  const size = `${(areaMm[2] - areaMm[0]).toFixed(0)} x ${(areaMm[3] - areaMm[1]).toFixed(0)} mm`;
  const aside = asideWords(marks);
  if (terms.length === 0) {
    return [
      `Places of ${kept} marks over ${size}: straight as far as they tell, ${um(afterMm)} µm off along an axis; no bends are corrected.${aside}`,
    ];
  }
  return [
    `Places of ${kept} marks over ${size}: ${um(beforeMm)} µm off along an axis as straight lines, ${um(afterMm)} µm with the bends below, ${um(crossMm)} µm at marks that had no part.${aside}`,
    ...terms.map(
      ({ moves, shape, periodMm, mm, stdUncertainty }) =>
        `  ${moves.toUpperCase()} by ${shapeWords(shape, periodMm)}: ${um(mm)} ± ${um(2 * stdUncertainty)} µm`,
    ),
  ];
}

/** Dirt draws a mark aside by this and more, mm; by less, edges do that lie close to others. */
const DIRT_MM = 0.01;

/** Dirt lies on one mark; what moves neighbours the same way is the bed, or the film. */
function asideWords(marks: readonly MarkResidual[]): string {
  const aside = marks.filter(({ setAside }) => setAside);
  const together = aside.filter((one) => movesWithNeighbours(one, marks));
  const alone = aside.filter((one) => !together.includes(one));
  const farthest = Math.max(0, ...alone.map(({ after }) => Math.hypot(...after)));
  const lie = `${alone.length} of ${marks.length} marks ${alone.length === 1 ? 'lies' : 'lie'}`;
  const [most] = [...together].sort((p, q) => Math.hypot(...q.after) - Math.hypot(...p.after));
  return present(
    alone.length > 0 &&
      ` ${lie} ${farthest > DIRT_MM ? `far off the rest, up to ${um(farthest)} µm, each by itself, as under dirt,` : `up to ${um(farthest)} µm off the rest, each by itself,`} and took no part.`,
    most &&
      ` ${together.length} of ${marks.length} marks lie off the same way as their neighbours, up to ${um(Math.hypot(...most.after))} µm at ${most.at[0].toFixed(0)}, ${most.at[1].toFixed(0)} mm: the bed bends there as none of the terms does, or the film did not lie flat. They took no part, and nothing is corrected there: scan the film once more to tell which.`,
  ).join('');
}

function movesWithNeighbours({ at: [x, y], after }: MarkResidual, marks: readonly MarkResidual[]): boolean {
  const far = ({ at }: MarkResidual): number => Math.hypot(at[0] - x, at[1] - y);
  return [...marks]
    .sort((p, q) => far(p) - far(q))
    .slice(1, NEAREST + 1)
    .some(
      (other) =>
        other.setAside &&
        after[0] * other.after[0] + after[1] * other.after[1] > 0.5 * Math.hypot(...after) * Math.hypot(...other.after),
    );
}

function shapeWords(shape: FieldTerm['shape'], periodMm: number | undefined): string {
  if (periodMm !== undefined)
    return `${shape.slice(0, 3)} along ${shape.endsWith('u') ? 'X' : 'Y'}, period ${periodMm.toFixed(2)} mm`;
  const count = (letter: string): number => [...shape].filter((one) => one === letter).length;
  const power = (name: string, n: number): string => (n === 0 ? '' : n === 1 ? name : `${name}${n === 2 ? '²' : '³'}`);
  return `${power('x', count('u'))}${power('y', count('v'))}`;
}

function refuseMixed(films: readonly FilmPlaces[]): void {
  const other = films.find(({ canvas }) => !isSameCanvas(canvas, films[0].canvas));
  demand(
    other === undefined,
    'FIELD_CANVASES',
    `places of ${films[0].coupon} and ${other?.coupon} were cut on canvases of different size, so they do not lie on one bed.`,
    'Give the places of coupons for the whole bed only.',
  );
}
