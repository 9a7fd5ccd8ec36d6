import { type Candidate, candidatesOf } from './candidates.js';
import { type Changeable, type Choice, chooseAll, chooseOne, evenOut } from './choose.js';
import type { PixelShape } from './shape.js';
import type { Member, ShapeClass } from './shape-classes.js';
import type { Placed } from './stamp.js';
import { WEB_SLACK, type Web, webDeficit } from './webs.js';

type PerAxis = { readonly x: number; readonly y: number };

/** Openings of one shape in one group of neighbours, such as the pads of a chip: they always get equal dots. */
export interface Unit {
  readonly found: ShapeClass;
  readonly members: Member[];
  candidate: Candidate;
  /** Width and height errors may not exceed these, dots. */
  limit: PerAxis;
}

export interface Units {
  readonly all: readonly Unit[];
  /** Unit of each opening. */
  readonly at: readonly Unit[];
  /** Picks again for a unit whose limit has changed. */
  readonly choose: (unit: Unit) => void;
}

/** Equal openings that face each other across no more film than this belong to one part, dots: 1.5 mm at 1000 dpi. */
export const SAME_PART_DOTS = 60;

/** Where the beam widens every opening, area follows width more closely, and widths may be looked after more. */
const BURNT_AREA_UNIT_PERCENT = 1.4;

/**
 * Picks dots for every shape, the same for all its units but where the mean width needs evening out.
 *
 * @param facing - webs at least as wide as {@link SAME_PART_DOTS}
 */
export function chooseUnits(
  classes: readonly ShapeClass[],
  shapes: readonly PixelShape[],
  facing: readonly Web[],
  dot: PerAxis,
  burnt: boolean,
): Units {
  const all: Unit[] = [];
  const at: Unit[] = new Array(shapes.length);
  const candidates = new Map<ShapeClass, readonly Candidate[]>();
  const areaUnit = burnt ? { areaUnitPercent: BURNT_AREA_UNIT_PERCENT } : {};
  const choices = classes.map((found): Choice => {
    const list = candidatesOf(found);
    candidates.set(found, list);
    return { ...choiceOf(found, list, found.members.length), ...areaUnit };
  });
  const { chosen, pull } = chooseAll(choices, dot);
  const group = partsOf(classes, shapes, facing);
  classes.forEach((found, c) => {
    const units = new Map<number, Unit>();
    for (const member of found.members) {
      let unit = units.get(group[member.index]);
      if (!unit) {
        unit = { found, members: [], candidate: chosen[c], limit: { x: Infinity, y: Infinity } };
        units.set(group[member.index], unit);
        all.push(unit);
      }
      unit.members.push(member);
      at[member.index] = unit;
    }
  });
  const position = new Map(classes.map((found, c) => [found, c]));
  const changeable = all.map((unit): Changeable & { unit: Unit } => {
    const choice = choices[position.get(unit.found) ?? 0];
    return { unit, choice, candidate: unit.candidate, weight: choice.weight > 0 ? unit.members.length : 0 };
  });
  evenOut(changeable, dot);
  for (const { unit, candidate } of changeable) unit.candidate = candidate;
  const known = new Map<ShapeClass, Map<string, readonly Candidate[]>>();
  const stretchedCandidates = (found: ShapeClass, stretch: PerAxis): readonly Candidate[] => {
    const own = known.get(found) ?? new Map<string, readonly Candidate[]>();
    known.set(found, own);
    const key = `${stretch.x} ${stretch.y}`;
    const list = own.get(key) ?? candidatesOf(found, stretch);
    own.set(key, list);
    return list;
  };
  const choose = (unit: Unit): void => {
    const { found, limit } = unit;
    const list = within(found, candidates.get(found) ?? [], limit, stretchedCandidates);
    unit.candidate = chooseOne(choiceOf(found, list, unit.members.length), dot, pull);
  };
  return { all, at, choose };
}

/** Thinner openings take no part in evening out the mean width: a dot more is half as much again. */
const THIN_DOTS = 2;

function choiceOf(found: ShapeClass, candidates: readonly Candidate[], members: number): Choice {
  const counts = (found.mirrorX || found.mirrorY) && Math.min(found.size.width, found.size.height) > THIN_DOTS;
  return { candidates, weight: counts ? members : 0, narrowest: found.burnt.narrowest };
}

/** A number for each opening, the same for equal openings of one part. */
function partsOf(classes: readonly ShapeClass[], shapes: readonly PixelShape[], facing: readonly Web[]): Int32Array {
  const classAt = new Int32Array(shapes.length);
  classes.forEach(({ members }, c) => {
    for (const { index } of members) classAt[index] = c;
  });
  const parent = Int32Array.from(shapes, (_, i) => i);
  const find = (i: number): number => {
    let root = i;
    while (parent[root] !== root) root = parent[root];
    while (parent[i] !== root) [parent[i], i] = [root, parent[i]];
    return root;
  };
  for (const { first, second, asked } of facing) {
    if (asked > SAME_PART_DOTS) continue;
    if (classAt[first] === classAt[second]) parent[find(first)] = find(second);
  }
  return parent.map((_, i) => find(i));
}

const MAX_ROUNDS = 8;

/** While webs lose too much, narrows the openings beside them, all equal ones of a group alike. */
export function keepWebs(
  units: Units,
  webs: readonly Web[],
  placed: readonly Placed[],
  lay: (unit: Unit) => void,
): void {
  for (let round = 0; round < MAX_ROUNDS; round += 1) {
    const narrowed = new Set<Unit>();
    for (const web of webs) {
      const over = webDeficit(web, placed) - WEB_SLACK;
      if (over <= 1e-6) continue;
      for (const unit of new Set([units.at[web.first], units.at[web.second]])) {
        const error = web.axis === 'x' ? unit.candidate.widthError : unit.candidate.heightError;
        const most = error - Math.min(over, 1);
        if (most >= unit.limit[web.axis] || most < -MAX_NARROWING) continue;
        unit.limit = { ...unit.limit, [web.axis]: most };
        narrowed.add(unit);
      }
    }
    if (narrowed.size === 0) return;
    for (const unit of narrowed) {
      units.choose(unit);
      lay(unit);
    }
  }
}

/** No opening is narrowed by more than this for a web, dots. */
const MAX_NARROWING = 1.5;

/** An area error that is taken for a web, percent; beyond it the opening is made longer the other way. */
const AREA_FOR_WEB_PERCENT = 0.7;

/** An area error above this is worse than a web that lost more than half a dot, percent. */
const WORST_AREA_PERCENT = 3;

/** A narrowed opening is made longer by no more than this: beyond it a web that lost a dot is the lesser evil. */
const MAX_LENGTHENING_DOTS = 4;
const MAX_LENGTHENING = 1.13;

/** Candidates that keep to the limits; if their area is off, those of the shape made narrower and longer. */
function within(
  found: ShapeClass,
  all: readonly Candidate[],
  limit: PerAxis,
  stretchedCandidates: (found: ShapeClass, stretch: PerAxis) => readonly Candidate[],
): readonly Candidate[] {
  const fits = (one: Candidate): boolean =>
    one.widthError <= limit.x + 1e-9 &&
    one.heightError <= limit.y + 1e-9 &&
    Math.min(one.widthError, one.heightError) >= -MAX_NARROWING - 1;
  const areaWithin = (most: number) => (one: Candidate) => Math.abs(one.areaErrorPercent) <= most;
  const kept = all.filter(fits);
  if (kept.some(areaWithin(AREA_FOR_WEB_PERCENT))) return kept;
  const { width, height } = found.size;
  const narrow = { x: narrowedTo(width, limit.x) / width, y: narrowedTo(height, limit.y) / height };
  const stretch = {
    x: limit.x === Infinity ? 1 / narrow.y : narrow.x,
    y: limit.y === Infinity ? 1 / narrow.x : narrow.y,
  };
  const longer = Math.max((stretch.x - 1) * width, (stretch.y - 1) * height);
  const allowed = longer <= MAX_LENGTHENING_DOTS && Math.max(stretch.x, stretch.y) <= MAX_LENGTHENING;
  const made = allowed ? stretchedCandidates(found, stretch).filter(fits) : [];
  const good = [...kept, ...made].filter(areaWithin(WORST_AREA_PERCENT));
  return good.length > 0 ? good : nearestToLimit(all.filter(areaWithin(WORST_AREA_PERCENT)), all, limit);
}

const narrowedTo = (size: number, room: number): number => Math.min(size, Math.max(1, Math.floor(size + room + 1e-9)));

/** Nothing fits: of what would do without a limit, that which goes over it the least. */
function nearestToLimit(good: readonly Candidate[], all: readonly Candidate[], limit: PerAxis): Candidate[] {
  const over = (one: Candidate): number =>
    Math.max(0, one.widthError - limit.x) + Math.max(0, one.heightError - limit.y);
  const sizeOff = (one: Candidate): number => Math.max(Math.abs(one.widthError), Math.abs(one.heightError));
  const sane = good.filter((one) => sizeOff(one) <= MAX_NARROWING);
  const from = sane.length > 0 ? sane : all.filter((one) => sizeOff(one) <= MAX_NARROWING);
  if (from.length === 0) return [...all];
  return [from.reduce((best, one) => (over(one) < over(best) - 1e-9 ? one : best))];
}
