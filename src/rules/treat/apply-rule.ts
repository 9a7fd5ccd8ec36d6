import { type Copy, copyOf, tagged } from '../../geometry/copies.js';
import type { Opening, Point, Region } from '../../geometry/types.js';
import type { Measurer } from '../measure.js';
import { cutUnderChip } from './cut-under-chip.js';
import { keepWebs } from './keep-webs.js';
import { panes } from './panes.js';
import type { Piece, Proposals, Snapshot } from './piece.js';
import { grow, matchVolume, round, shrinkSides, widen } from './resize.js';
import { roundEnds } from './round-ends.js';
import type { Action, Rule } from './rule-types.js';
import type { Refusal, RuleChange } from './treat-result.js';

type Kind = Action['kind'];
type Act<K extends Kind> = (
  selected: readonly number[],
  action: Extract<Action, { kind: K }>,
  snapshot: Snapshot,
) => Proposals;

const ACTS: { readonly [K in Kind]: Act<K> } = {
  shrink: shrinkSides,
  grow,
  'round-corners': round,
  'match-volume': matchVolume,
  panes,
  'cut-under-chip': cutUnderChip,
  'round-ends': (selected, _, snapshot) => roundEnds(selected, snapshot),
  widen,
  'keep-webs': keepWebs,
  drop: (selected) => new Map(selected.map((i) => [i, { regions: [] }])),
  keep: () => new Map(),
};

/** Lets a rule act on the pieces it selected: the pieces afterwards, what changed, and what it left alone. */
export function applyRule(
  rule: Rule,
  selected: readonly number[],
  snapshot: Snapshot,
  measure: Measurer,
): { pieces: Piece[]; changes: RuleChange[]; refusals: Refusal[] } {
  const changes: RuleChange[] = [];
  const refusals: Refusal[] = [];
  if (selected.length === 0) return { pieces: [...snapshot.pieces], changes, refusals };
  const act = ACTS[rule.action.kind] as Act<Kind>;
  const proposals = act(selected, rule.action, snapshot);
  const locks = rule.action.kind === 'keep' ? new Set(selected) : undefined;
  const pieces = snapshot.pieces.flatMap((piece, i): Piece[] => {
    const proposal = proposals.get(i);
    if (!proposal) return [locks?.has(i) ? { ...piece, locked: true } : piece];
    if ('stays' in proposal) {
      refusals.push({ opening: piece.source, rule: rule.name, reason: proposal.stays });
      return [piece];
    }
    const { regions, note } = proposal;
    if (regions.length === 1 && sameRegion(regions[0], piece.opening)) return [piece];
    const { tag } = piece.opening;
    const after = regions.map((region) => tagged(region, tag));
    changes.push(changeOf(rule, piece, after, measure, note));
    return after.map((opening) => ({ ...piece, opening }));
  });
  return { pieces, changes, refusals };
}

const SAME_MM = 2e-6;

function sameRegion(p: Region, q: Region): boolean {
  // Copies are compared by their shapes, as far apart as they were laid: most differ in their number of corners.
  const [{ shape: s, dx: sx, dy: sy }, { shape: t, dx: tx, dy: ty }] = [p, q].map(asCopy);
  const [a, b] = [s, t].map(({ outer, islands }) => [outer, ...islands]);
  if (a.length !== b.length || a.some((ring, i) => ring.length !== b[i].length)) return false;
  const near = (one: Point, other: Point): boolean =>
    Math.abs(one[0] + sx - other[0] - tx) < SAME_MM && Math.abs(one[1] + sy - other[1] - ty) < SAME_MM;
  // Clippers may begin a ring at another corner.
  return a.every((ring, r) => {
    const start = b[r].findIndex((point) => near(ring[0], point));
    return start >= 0 && ring.every((point, i) => near(point, b[r][(start + i) % ring.length]));
  });
}

const asCopy = (region: Region): Copy => copyOf(region) ?? { shape: region, dx: 0, dy: 0 };

function changeOf(rule: Rule, piece: Piece, after: readonly Opening[], measure: Measurer, note?: string): RuleChange {
  const old = measure(piece.opening);
  const sizes = after.map(measure);
  const areaMm2 = sizes.reduce((sum, size) => sum + size.areaMm2, 0);
  const mean = (axis: 0 | 1): number => sizes.reduce((sum, s) => sum + s.centroid[axis] * s.areaMm2, 0) / areaMm2;
  return {
    opening: piece.source,
    rule: rule.name,
    action: rule.action.kind,
    before: { widthMm: old.widthMm, heightMm: old.heightMm, areaMm2: old.areaMm2, pieces: 1 },
    after: {
      widthMm: sizes[0]?.widthMm ?? 0,
      heightMm: sizes[0]?.heightMm ?? 0,
      areaMm2,
      pieces: after.length,
    },
    areaPercent: (100 * areaMm2) / old.areaMm2,
    centreMovedMm: after.length > 0 ? Math.hypot(mean(0) - old.centroid[0], mean(1) - old.centroid[1]) : 0,
    ...(note === undefined ? {} : { note }),
  };
}
