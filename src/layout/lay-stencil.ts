import type { DrilledHole } from '../artwork/drill/drill-program.js';
import { InputError, type Warning } from '../errors.js';
import { boundsOf, boxesNear, boxWithin, regionBounds } from '../geometry/bounds.js';
import { boxIndex } from '../geometry/box-index.js';
import { requireOpenings } from '../geometry/clean.js';
import { copyAt } from '../geometry/copies.js';
import { offsetByEllipse } from '../geometry/offset.js';
import { ellipse, rectangle, solid } from '../geometry/shapes.js';
import type { Box, Opening, Point, Ring } from '../geometry/types.js';
import { webBetween } from '../geometry/walls.js';
import {
  aboveZero,
  checkGiven,
  listOf,
  needed,
  objectOf,
  oneOf,
  someList,
  someNumber,
  someText,
  type Want,
  yesOrNo,
  zeroOrMore,
} from '../given.js';
import { present } from '../kept.js';
import { LETTERING_CHARACTERS } from '../lettering/glyphs.js';
import { letter, letteringLengthMm, smallestLetteringMm, spelt } from '../lettering/lettering.js';
import { firstOf, wrapWords } from '../text.js';
import type { LaidStencil, SheetOpening, SheetPart, StencilRequest } from './types.js';

/** Free film between text, marks, witness coupon and the film's edge, mm. */
const ROOM_MM = 2;
const TICK_WIDTH_MM = 0.3;
/** Film between the witness coupon and the film's edge, and between it and the corner mark, mm. */
const WITNESS_EDGE_MM = 1;
const WITNESS_ROOM_MM = 0.8;

const REQUEST: { readonly [key in keyof StencilRequest]-?: Want } = {
  name: needed(someText),
  openings: needed(someList),
  outline: listOf(someList),
  holes: listOf(objectOf({ x: someNumber, y: someNumber, diameterMm: aboveZero })),
  words: needed(listOf(someText)),
  cornerMarks: needed(yesOrNo),
  outlineTicks: needed(yesOrNo),
  marginMm: needed(zeroOrMore),
  handle: objectOf({ side: oneOf('left', 'right', 'top', 'bottom'), widthMm: zeroOrMore }),
  witnessMm: needed(zeroOrMore),
  letteringMm: needed(aboveZero),
  kerfMm: needed(zeroOrMore),
};

/**
 * Lays one stencil on a piece of film: the board in the middle, marks around it, words and witness in the margin.
 *
 * @example layStencil({ name: 'board', openings, words: ['board, top'], cornerMarks: true, outlineTicks: false, marginMm: 10, witnessMm: 0, letteringMm: 2, kerfMm: 0.12 }).widthMm
 */
export function layStencil(request: StencilRequest): LaidStencil {
  checkGiven('request', request, REQUEST);
  requireOpenings(request.openings);
  const board = boardBox(request);
  const { marginMm, witnessMm, kerfMm } = request;
  refuseNoRoomForWitness(request);
  const handle = { left: 0, right: 0, top: 0, bottom: 0 };
  if (request.handle) handle[request.handle.side] = request.handle.widthMm;
  const left = marginMm + handle.left;
  const widthMm = left + board.maxX - board.minX + (marginMm + handle.right);
  const witnessX = widthMm - handle.right - witnessMm - WITNESS_EDGE_MM;
  const heightOfText = Math.max(request.letteringMm, smallestLetteringMm(kerfMm));
  const lettering = { heightMm: heightOfText, kerfAllowanceMm: kerfMm };
  const lineStep = LINE_STEP * heightOfText;
  const textRoom = (witnessMm > 0 ? witnessX : widthMm - ROOM_MM) - handle.left - 2 * ROOM_MM;
  const lines = wrap(request.words, textRoom, (text) => letteringLengthMm(text, lettering));
  const forWords = lines.length > 0 ? MARK_REACH_MM + 2 * ROOM_MM + lines.length * lineStep : 0;
  const bottom = Math.max(marginMm, forWords) + handle.bottom;
  const heightMm = bottom + board.maxY - board.minY + (marginMm + handle.top);
  const dx = left - board.minX;
  const dy = bottom - board.minY;
  const placed = (part: SheetPart, openings: readonly Opening[]): SheetOpening[] =>
    openings.map((opening, i) => ({
      part,
      opening: copyAt(opening, dx, dy, opening.tag),
      ...(part === 'paste' ? { number: i + 1 } : {}),
    }));
  const witnessAt: Point | undefined = witnessMm > 0 ? [witnessX, handle.bottom + WITNESS_EDGE_MM] : undefined;
  const firstLine = bottom - MARK_REACH_MM - ROOM_MM - heightOfText;
  const words = lines.flatMap((text, i) =>
    letter(text, { ...lettering, at: [handle.left + ROOM_MM, firstLine - i * lineStep] }),
  );
  const paste = placed('paste', request.openings);
  const { kept, leftOut } = clearOf(paste, kerfMm, [
    ...placed('corner mark', request.cornerMarks ? cornerMarks(board) : []),
    ...placed('outline tick', request.outlineTicks ? outlineTicks(board, TICK_WIDTH_MM) : []),
    ...placed('hole', holeOpenings(request.holes ?? [])),
    ...words.map((opening): SheetOpening => ({ part: 'lettering', opening })),
  ]);
  const openings = [...paste, ...kept];
  if (witnessAt) refusePasteOnWitness(paste, witnessAt, request);
  refuseOverhang(openings, widthMm, heightMm, request.name);
  return {
    name: request.name,
    widthMm,
    heightMm,
    openings,
    outline: (request.outline ?? []).map((ring) => ring.map(([x, y]): [number, number] => [x + dx, y + dy])),
    ...(witnessAt ? { witnessAt } : {}),
    warnings: [...collisions(openings, request.name), ...leftOutWarning(leftOut, request.name)],
  };
}

function boardBox(request: StencilRequest): Box {
  const rings: readonly Ring[] = request.outline ?? [];
  const box = rings.length > 0 ? boundsOf(rings.map((outer) => ({ outer, islands: [] }))) : boundsOf(request.openings);
  if (!box) {
    throw new InputError({
      code: 'NOTHING_TO_LAY',
      place: { file: request.name },
      message: 'there are no openings and no outline to lay out.',
      hint: 'Give the paste layer, and the board’s outline with --outline.',
    });
  }
  return box;
}

/** Printable characters only: what can't be cut as a letter, nor spelt out, becomes a dash. */
const cuttable = (text: string): string =>
  [...spelt(text)]
    .map((c) =>
      LETTERING_CHARACTERS.includes(c.toUpperCase()) || LETTERING_CHARACTERS.includes(c) || c === ' ' ? c : '-',
    )
    .join('');

/** Stands for the blank between a number and its unit, or before the mark of a job, which are not torn apart. */
const TIE = '\u00a0';
const untied = (line: string): string => line.replaceAll(TIE, ' ');

/** Lines broken at spaces to fit; a single word that is too long is cut off. */
function wrap(words: readonly string[], roomMm: number, measure: (text: string) => number): string[] {
  const fits = (line: string): boolean => measure(line) <= roomMm;
  const cutOff = (line: string): string => (line.length > 1 && !fits(line) ? cutOff(line.slice(0, -1)) : line);
  return words.flatMap((text) => {
    const plain = cuttable(text).split(' ').filter(Boolean).join(' ');
    const tied = plain.replace(/(?<=\d) (?=(?:[munµ]?m|in|%|dpi)(?![a-z0-9]))|(?<=\bjob) (?=[\da-f]{6}\b)/gi, TIE);
    return plain === '' ? [] : wrapWords(tied, (line) => fits(untied(line))).map((line) => cutOff(untied(line)));
  });
}

/** From a line of text to the next, in heights of a letter. */
const LINE_STEP = 1.6;

function refuseNoRoomForWitness({ name, marginMm, witnessMm }: StencilRequest): void {
  const needed = witnessMm > 0 ? witnessMm + WITNESS_EDGE_MM + WITNESS_ROOM_MM + MARK_REACH_MM : 0;
  if (marginMm >= needed) return;
  throw new InputError({
    code: 'MARGIN_TOO_SMALL',
    place: { file: name },
    message: `the margin of ${marginMm} mm has no room for the witness coupon, which needs ${needed.toFixed(1)} mm.`,
    hint: 'Give a larger --margin-mm, or leave the witness out with --no-witness.',
  });
}

function refusePasteOnWitness(
  paste: readonly SheetOpening[],
  [x, y]: Point,
  { witnessMm, kerfMm }: StencilRequest,
): void {
  const square: Box = { minX: x, minY: y, maxX: x + witnessMm, maxY: y + witnessMm };
  const on = paste.filter(({ opening }) => boxesNear(square, regionBounds(opening), kerfMm));
  if (on.length === 0) return;
  const named = firstOf(
    on.map(({ number }) => String(number)),
    8,
  );
  throw new InputError({
    code: 'PASTE_IN_MARGIN',
    message: `paste ${on.length === 1 ? 'opening' : 'openings'} ${named} lie${on.length === 1 ? 's' : ''} in the margin, where the witness coupon is cut.`,
    hint: 'Check that outline and paste layer share one origin, or leave the witness out with --no-witness.',
  });
}

function refuseOverhang(openings: readonly SheetOpening[], widthMm: number, heightMm: number, name: string): void {
  const film: Box = { minX: 0, minY: 0, maxX: widthMm, maxY: heightMm };
  const over = openings.filter(({ opening }) => !boxWithin(regionBounds(opening), film));
  if (over.length === 0) return;
  const parts = [...new Set(over.map(({ part }) => part))].join(', ');
  throw new InputError({
    code: 'OUTSIDE_FILM',
    place: { file: name },
    message: `${over.length === 1 ? 'one opening' : `${over.length} openings`} (${parts}) ${over.length === 1 ? 'lies' : 'lie'} outside the film of ${widthMm.toFixed(1)} x ${heightMm.toFixed(1)} mm.`,
    hint: 'Check that outline, holes and paste layer share one origin, or give a larger --margin-mm.',
  });
}

/** Marks and letters give way to paste: those that the beam would join to it are left out. Holes stay, and are told of. */
function clearOf(
  paste: readonly SheetOpening[],
  kerfMm: number,
  others: readonly SheetOpening[],
): { readonly kept: readonly SheetOpening[]; readonly leftOut: readonly SheetOpening[] } {
  const index = boxIndex(paste, ({ opening }) => regionBounds(opening));
  const meetsPaste = ({ part, opening }: SheetOpening): boolean =>
    part !== 'hole' && index.near(regionBounds(opening), kerfMm).some((i) => meet(paste[i].opening, opening, kerfMm));
  const leftOut = others.filter(meetsPaste);
  return { kept: others.filter((one) => !leftOut.includes(one)), leftOut };
}

/** Walls that touch lie no farther apart, mm. */
const SAME_PLACE_MM = 1e-6;

const meet = (p: Opening, q: Opening, gapMm: number): boolean => webBetween(p, q, gapMm) !== undefined;

function leftOutWarning(leftOut: readonly SheetOpening[], name: string): Warning[] {
  const parts = [...new Set(leftOut.map(({ part }) => part))].map((part) => {
    const count = leftOut.filter((one) => one.part === part).length;
    return `${count} x ${part}`;
  });
  return present(
    leftOut.length > 0 && {
      code: 'LEFT_OUT_FOR_PASTE',
      place: { file: name },
      message: `${parts.join(', ')} would run into paste openings: left out.`,
      hint: 'Give the outline of the board with --outline, or --board-mm and --board-at-mm, or leave marks out with --no-marks.',
    },
  );
}

/** Paste and holes that run into each other: the sheet is still made, but the user must know. */
function collisions(openings: readonly SheetOpening[], name: string): Warning[] {
  const holes = openings.filter(({ part }) => part === 'hole').map(({ opening }) => opening);
  const index = boxIndex(holes, regionBounds);
  const hit = openings.filter(
    ({ part, opening }) =>
      part === 'paste' && index.near(regionBounds(opening), 0).some((i) => meet(holes[i], opening, SAME_PLACE_MM)),
  );
  return present(
    hit.length > 0 && {
      code: 'HOLE_ON_PASTE',
      place: { file: name },
      message: `${hit.length === 1 ? 'one paste opening lies' : `${hit.length} paste openings lie`} on a hole.`,
      hint: 'Choose which holes to cut with --hole-mm.',
      openings: hit.map(({ number }) => number ?? 0),
    },
  );
}

/** Distance of a mark's inner edge from the board's edge, mm: the board's edge shows as an even line of light. */
export const MARK_CLEARANCE_MM = 0.3;
const ARM_WIDTH_MM = 0.5;
const ARM_LENGTH_MM = 5;
const TICK_LENGTH_MM = 3;

/** How far marks reach from the board, mm. */
const MARK_REACH_MM = MARK_CLEARANCE_MM + ARM_WIDTH_MM;

/** Four angles that hug the corners of the board from outside, to lay the film on by eye. */
export function cornerMarks(board: Box): Opening[] {
  const inner = MARK_CLEARANCE_MM;
  const outer = MARK_REACH_MM;
  const length = Math.min(ARM_LENGTH_MM, (board.maxX - board.minX) / 3, (board.maxY - board.minY) / 3);
  const corners: [number, number, 1 | -1, 1 | -1][] = [
    [board.minX, board.minY, 1, 1],
    [board.maxX, board.minY, -1, 1],
    [board.maxX, board.maxY, -1, -1],
    [board.minX, board.maxY, 1, -1],
  ];
  return corners.map(([x, y, sx, sy]) => {
    const ring: [number, number][] = [
      [x - sx * outer, y - sy * outer],
      [x + sx * length, y - sy * outer],
      [x + sx * length, y - sy * inner],
      [x - sx * inner, y - sy * inner],
      [x - sx * inner, y + sy * length],
      [x - sx * outer, y + sy * length],
    ];
    return solid(sx * sy > 0 ? ring : ring.toReversed());
  });
}

/** Narrow slots along the middle of each side, in line with the corner marks. */
export function outlineTicks(board: Box, widthMm: number): Opening[] {
  const cx = (board.minX + board.maxX) / 2;
  const cy = (board.minY + board.maxY) / 2;
  const half = TICK_LENGTH_MM / 2;
  const near = MARK_CLEARANCE_MM;
  return [
    rectangle(cx - half, board.minY - near - widthMm, cx + half, board.minY - near),
    rectangle(cx - half, board.maxY + near, cx + half, board.maxY + near + widthMm),
    rectangle(board.minX - near - widthMm, cy - half, board.minX - near, cy + half),
    rectangle(board.maxX + near, cy - half, board.maxX + near + widthMm, cy + half),
  ].map(solid);
}

/** Holes for tooling pins or screws as openings; a slot becomes an obround. */
export function holeOpenings(holes: readonly DrilledHole[]): Opening[] {
  return holes.map(({ x, y, diameterMm, slotTo }) => {
    if (!slotTo || (slotTo[0] === x && slotTo[1] === y)) return solid(ellipse(x, y, diameterMm / 2));
    // The centre line as a hair-thin rectangle, grown by the drill.
    const dx = slotTo[0] - x;
    const dy = slotTo[1] - y;
    const hair = 1e-4 / Math.hypot(dx, dy);
    const line = solid([
      [x + dy * hair, y - dx * hair],
      [slotTo[0] + dy * hair, slotTo[1] - dx * hair],
      [slotTo[0] - dy * hair, slotTo[1] + dx * hair],
      [x - dy * hair, y + dx * hair],
    ]);
    const [grown] = offsetByEllipse(line, diameterMm - 2e-4, diameterMm - 2e-4, 1);
    return grown;
  });
}
