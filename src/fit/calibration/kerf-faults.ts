import type { Box } from '../../geometry/types.js';
import { grouped } from '../../kept.js';
import { KERF_SIGN, termOf } from './design.js';
import { type Candidate, dimensional, um } from './fault-candidate.js';
import type { Observation } from './observations.js';

/** Across which axis the cut is wider: both, or one alone. */
type Across = 'x' | 'y' | undefined;
const ACROSS: readonly Across[] = [undefined, 'x', 'y'];
const acrossWords = (across: Across): string => (across ? ` across ${across.toUpperCase()}` : '');

/** Of two kerfs that are nearly alike each counts by the square of its share in the direction. */
function shareOf({ dx, dy }: Observation, across: Across): number {
  return across === undefined ? 1 : (across === 'x' ? dx * dx : dy * dy) / (dx * dx + dy * dy);
}

/** What a cut that is wider by so much at a place does to a reading. */
function kerfField(length: Observation, wider: (x: number, y: number) => number, across: Across): number {
  const feature = dimensional(length);
  if (!feature) return 0;
  const share = shareOf(length, across);
  const [from, to] = [feature.from, feature.to].map((at) => share * wider(...at));
  // The two edges of a span, on the same side of their openings, move by half of what the kerf differs there.
  if (length.kind === 'span') return (feature.side === 'far' ? to - from : from - to) / 2;
  return (KERF_SIGN[length.kind] * (from + to)) / 2;
}

export function kerfAcross(lengths: readonly Observation[], { minX, maxX, minY, maxY }: Box): Candidate[][] {
  const share = (at: number, low: number, high: number): number => (high > low ? (at - low) / (high - low) - 0.5 : 0);
  const [x, y] = [(at: number): number => share(at, minX, maxX), (at: number): number => share(at, minY, maxY)];
  // By the share `most` of the difference the kerf of some place is off from the one that is told.
  const either = (near: string, far: string, most: number, wider: (x: number, y: number) => number, between?: string) =>
    ACROSS.map((across): Candidate => {
      const which = acrossWords(across);
      const named = { size: 0.05, words: `a kerf that differs by 50 µm between ${between}` };
      return {
        code: 'KERF_ACROSS_BED',
        ofKerf: true,
        ofOneAxis: across !== undefined,
        ...(across || !between ? {} : { named }),
        name: `kerf${which} that differs between the ${near} and the ${far} of the bed`,
        terms: [termOf(`kerf ${across ?? ''} to the ${far}`, lengths, (one) => kerfField(one, wider, across))],
        say: ([size]) =>
          `cuts${which} are ${um(size)} wider at the ${size > 0 ? far : near} of the bed than at the ${size > 0 ? near : far}: openings there come out up to ${um(size * most)} from what is corrected for, likely a bed or film that is not level, or mirrors that are not aligned`,
        hint: 'Level the bed, align the beam, and cut the ladder again; until then cut stencils where the ladder was read.',
      };
    });
  return [
    either('left end', 'right end', 1 / 2, x, 'left and right'),
    either('lower end', 'upper end', 1 / 2, (_, at) => y(at), 'lower and upper'),
    either('middle', 'corners', 2 / 3, (at, up) => 2 * (x(at) ** 2 + y(up) ** 2) - 1 / 3),
  ];
}

/** Openings, or webs, up to any size that was read, at most this one as told, mm, may have another kerf. */
const LARGEST_SMALL_MM = 0.53;
/** Sizes nearer to each other than this, mm, are one. */
const SAME_SIZE_MM = 0.03;
/** Or the more the smaller they are: half as much for each so many mm more. */
const FADES_MM = [0.07, 0.15, 0.3];
/** What anybody would call small, mm. */
const NAMED_SMALL_MM = 0.32;

/** What their kerf may differ by, and what of it a stencil shows. */
const PIECES = {
  opening: {
    are: 'small openings',
    so: 'fine pads of a stencil are',
    narrower: 'a beam that is slow to come on, or walls that shade the edges',
    wider: 'heat that gathers in small openings',
    hint: 'Correct fine pads with a profile fitted to small openings only, or give them a rule of their own.',
  },
  web: {
    are: 'narrow webs',
    so: 'film between fine pads is',
    narrower: 'heat that gathers in them',
    wider: 'fumes or melt that settle on them',
    hint: 'Keep more film between fine pads, or let the film cool: more speed, or several passes.',
  },
};

export function narrowPieces(lengths: readonly Observation[], piece: 'opening' | 'web'): Candidate[] {
  const small = lengths.flatMap(({ kind, nominalMm }) => (kind === piece && nominalMm <= LARGEST_SMALL_MM ? nominalMm : [])); // biome-ignore format: one list
  const limits = small.sort((a, b) => a - b).filter((mm, i) => !(small[i + 1] - mm < SAME_SIZE_MM));
  const namedTo = limits.findLast((limit) => limit <= NAMED_SMALL_MM);
  const named = { size: 0.01, words: 'small openings with 10 µm less kerf' };
  const { are, so, hint, ...likely } = PIECES[piece];
  const told = (mm: number): string => `${Number(mm.toFixed(2))} mm wide`;
  const steps = limits.map((limit) => {
    return { limit, which: `${told(limit)} or less`, and: '', share: (mm: number) => (mm <= limit ? 1 : 0) };
  });
  // By one limit alone what falls smoothly had gone into the kerf of the others.
  const fades = (limits.length > 1 ? FADES_MM : []).map((fade) => {
    const and = `, those ${told(limits[0] + fade)} by half of that, and larger ones by less still`;
    return { limit: Number.NaN, which: told(limits[0]), and, share: (mm: number) => 2 ** ((limits[0] - mm) / fade) };
  });
  return [...steps, ...fades].map(({ limit, which, and, share }): Candidate => {
    const ofSuch = ({ kind, nominalMm }: Observation): number => (kind === piece ? share(nominalMm) : 0);
    return {
      code: 'KERF_BY_SIZE',
      ofKerf: true,
      ...(piece === 'opening' && limit === namedTo ? { named } : {}),
      name: `kerf that differs in ${are}`,
      terms: [termOf(`${piece}s ${which}${and}`, lengths, ofSuch)],
      say: ([size]) =>
        `${piece}s told ${which} come out ${um(size)} ${size < 0 ? 'narrower' : 'wider'} than the kerf says${and}: ${so} off by as much, likely ${size < 0 ? likely.narrower : likely.wider}`,
      hint,
    };
  });
}

export function shapes(lengths: readonly Observation[], shape: 'square' | 'circle'): Candidate[] {
  const many = shape === 'square' ? 'squares' : 'circles';
  return ACROSS.map((across): Candidate => {
    const which = acrossWords(across);
    const isSuch = (one: Observation): number => (dimensional(one)?.shape === shape ? shareOf(one, across) : 0);
    return {
      code: 'SHAPES_DIFFER',
      ofKerf: true,
      ofOneAxis: across !== undefined,
      ...(across ? {} : { named: { size: 0.01, words: `${many} that differ from slots by 10 µm` } }),
      name: `${many} that are cut unlike slots${which}`,
      terms: [termOf(`${many}${which}`, lengths, isSuch)],
      say: ([size]) =>
        `${many} come out ${um(size)} ${size < 0 ? 'narrower' : 'wider'}${which} than slots of the same width: pads of like shape are off by as much, likely lines too short for the machine to reach its speed`,
      hint: 'Cut slower, so that short lines are cut as long ones are, or give such pads a rule of their own.',
    };
  });
}

/**
 * Coupons cut with unlike power, speed, focus or film: one kerf against the other's. What one coupon differs by from day to
 * day is looked for elsewhere.
 */
export function otherSettings(lengths: readonly Observation[]): Candidate[][] {
  const sign = (length: Observation): number => KERF_SIGN[length.kind];
  const wide = lengths.filter((length) => sign(length) !== 0);
  const daysOf = grouped(wide, ({ coupon }) => coupon);
  const coupons = [...daysOf.keys()];
  // A coupon of several days holds what these differ by, too.
  if ([...daysOf.values()].some((own) => new Set(own.map(({ date }) => date)).size > 1)) return [];
  const changed =
    new Set(wide.map(({ date }) => date)).size > 1 ? ', or by a machine that changed between their days' : '';
  // Half of what inside jaws read too much, less that of outside ones, is a kerf wherever both grip windows.
  const byJaws = wide.some((length) => dimensional(length)?.by === 'jaws');
  const worn = byJaws ? ', or the inside jaws of the caliper read otherwise than its outside jaws' : '';
  const gap = byJaws ? ' Read something of known width with both pairs of jaws.' : '';
  return coupons.slice(1).flatMap((coupon) => [
    [axesInterchanged(lengths, coupon, coupons[0])],
    [
      {
        code: 'KERF_BY_COUPON',
        name: `kerf of ${coupon} that differs from that of ${coupons[0]}`,
        named: { size: 0.02, words: `${coupon} cut at another power than ${coupons[0]} (20 µm of kerf)` },
        terms: [termOf(`kerf of ${coupon}`, lengths, (length) => (length.coupon === coupon ? sign(length) : 0))],
        say: ([size]) =>
          `cuts of ${coupon} are ${um(size)} ${size < 0 ? 'narrower' : 'wider'} than those of ${coupons[0]}: they were cut with unlike power, speed, focus or film${changed}, or read with unlike gauges${worn}`,
        hint: `Cut both coupons with the settings of the stencils, one after the other, and read them with one gauge.${gap}`,
      },
    ],
  ]);
}

/** A ladder holds each width along both axes, so read with X for Y it only changes the kerfs: another coupon's must be like them. */
function axesInterchanged(lengths: readonly Observation[], coupon: string, other: string): Candidate {
  const difference = (length: Observation): number => {
    if (length.coupon !== coupon || (length.dx !== 0 && length.dy !== 0)) return 0;
    return (KERF_SIGN[length.kind] * (length.dy === 0 ? 1 : -1)) / 2;
  };
  return {
    code: 'KERF_AXES_INTERCHANGED',
    name: `X and Y of ${coupon} that are not those of ${other}`,
    named: { size: 0.02, words: `X and Y interchanged in ${coupon}, at kerfs that differ by 10 µm` },
    terms: [termOf(`axes of ${coupon}`, lengths, difference)],
    say: ([size]) =>
      `the kerf across X less that across Y is ${um(size)} ${size > 0 ? 'larger' : 'smaller'} in ${coupon} than in ${other}: X and Y of one of them were interchanged when it was read or cut, or they were cut in unlike ways`,
    hint: 'Lay both films as the worksheets show them, with their letters upright, and read again what was read the other way.',
  };
}
