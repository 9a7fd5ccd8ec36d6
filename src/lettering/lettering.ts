import { InputError } from '../errors.js';
import { subtractRegions, unionRegions } from '../geometry/boolean.js';
import { convexHull } from '../geometry/oriented-box.js';
import { rectangle, solid } from '../geometry/shapes.js';
import type { PerAxis, Point, Region, Ring } from '../geometry/types.js';
import { kept } from '../kept.js';
import { type Glyph, glyphOf, LETTERING_CHARACTERS } from './glyphs.js';

export interface LetteringOptions {
  /** Cap height, outside to outside, mm. */
  readonly heightMm: number;
  /** Lower left corner of the text, mm; default [0, 0]. */
  readonly at?: Point;
  /** Dot spacing to snap to, mm; default 0.01 both ways. */
  readonly pitch?: PerAxis;
  /** The widest kerf after which the text must still be legible and in one sheet, mm; default 0.2. */
  readonly kerfAllowanceMm?: number;
  /** Reading direction: 0 to the right (default), 90 upwards. */
  readonly turnDeg?: 0 | 90;
}

/** Allowed for when nothing else is known: the widest kerf that this project expects of a cheap laser, mm. */
const DEFAULT_KERF_ALLOWANCE_MM = 0.2;

/** Film that must be left of a bridge after the kerf took its share, mm: the thickness of usual film and half more. */
const BRIDGE_LEFT_MM = 0.15;
/** Film that must be left between two characters, mm. */
const SPACING_LEFT_MM = 0.25;

/** The smallest cap height that stays legible when cut with this kerf, mm. */
export function smallestLetteringMm(kerfMm: number): number {
  return 0.65 + 4.5 * kerfMm;
}

/** All lengths of a text's drawing, in whole dots. */
interface Pen {
  readonly nib: readonly [number, number];
  readonly diagonalNib: readonly [number, number];
  readonly bridge: readonly [number, number];
  /** Dots per unit of the glyphs. */
  readonly unit: readonly [number, number];
  readonly spacing: number;
}

function penFor(heightMm: number, kerfMm: number, pitch: readonly [number, number]): Pen {
  const strokeMm = Math.max(heightMm / 9, 0.1);
  const unitMm = (heightMm - strokeMm) / 4;
  const dots = (mm: number, axis: 0 | 1): number => Math.max(1, Math.round(mm / pitch[axis]));
  const up = (mm: number, axis: 0 | 1): number => Math.ceil(mm / pitch[axis] - 1e-9);
  return {
    nib: [dots(strokeMm, 0), dots(strokeMm, 1)],
    diagonalNib: [dots(strokeMm * 0.75, 0), dots(strokeMm * 0.75, 1)],
    bridge: [up(kerfMm + BRIDGE_LEFT_MM, 0), up(kerfMm + BRIDGE_LEFT_MM, 1)],
    unit: [unitMm / pitch[0], unitMm / pitch[1]],
    spacing: up(Math.max(kerfMm + SPACING_LEFT_MM, unitMm), 0),
  };
}

/** What a rectangular nib sweeps between two nodes; nodes are the nib's lower left corner in dots. */
function sweep([ax, ay]: Point, [bx, by]: Point, pen: Pen): Ring {
  if (ax === bx || ay === by) {
    const [w, h] = pen.nib;
    return rectangle(Math.min(ax, bx), Math.min(ay, by), Math.max(ax, bx) + w, Math.max(ay, by) + h);
  }
  const [w, h] = pen.diagonalNib;
  const ox = Math.floor((pen.nib[0] - w) / 2);
  const oy = Math.floor((pen.nib[1] - h) / 2);
  const nibAt = (x: number, y: number): Ring => rectangle(x + ox, y + oy, x + ox + w, y + oy + h);
  return convexHull([...nibAt(ax, ay), ...nibAt(bx, by)]);
}

function drawGlyph(glyph: Glyph, pen: Pen): Region[] {
  const node = ([x, y]: readonly [number, number]): Point => [Math.round(x * pen.unit[0]), Math.round(y * pen.unit[1])];
  const swept = glyph.strokes.flatMap((stroke) => {
    const nodes = stroke.map(node);
    return nodes.length === 1
      ? [solid(sweep(nodes[0], nodes[0], pen))]
      : nodes.slice(1).map((to, i) => solid(sweep(nodes[i], to, pen)));
  });
  const cuts = glyph.bridges.map(({ at, across }) => {
    const [x, y] = node(at);
    const [w, h] = pen.nib;
    const left = x + Math.floor((w - pen.bridge[0]) / 2);
    const low = y + Math.floor((h - pen.bridge[1]) / 2);
    const ring =
      across === 'bar'
        ? rectangle(left, y - 1, left + pen.bridge[0], y + h + 1)
        : rectangle(x - 1, low, x + w + 1, low + pen.bridge[1]);
    return solid(ring);
  });
  const drawn = unionRegions(swept);
  const bridged = cuts.length > 0 ? subtractRegions(drawn, cuts) : drawn;
  const whole = (ring: Ring): Ring => ring.map(([x, y]): Point => [Math.round(x), Math.round(y)]);
  return bridged.map(({ outer, islands }) => ({ outer: whole(outer), islands: islands.map(whole) }));
}

/** Letters of German and Scandinavian names that have spellings of their own; other accents are left out. */
const SPELT: Readonly<Record<string, string>> = {
  ä: 'ae',
  ö: 'oe',
  ü: 'ue',
  ß: 'ss',
  æ: 'ae',
  ø: 'oe',
  å: 'aa',
  œ: 'oe',
};

/** Text in letters that can be cut: umlauts spelt out, accents left out. */
export function spelt(text: string): string {
  return text
    .normalize('NFC')
    .replace(/[äöüßæøåœ]/gi, (letter) => SPELT[letter.toLowerCase()])
    .normalize('NFD')
    .replace(/\p{Mn}/gu, '');
}

function checkText(text: string, { heightMm, kerfAllowanceMm = DEFAULT_KERF_ALLOWANCE_MM }: LetteringOptions): void {
  const unknown = [...new Set([...text])].filter((character) => glyphOf(character) === undefined);
  if (unknown.length > 0) {
    throw new InputError({
      code: 'LETTERING_CHARACTER',
      message: `can't cut the character ${unknown.map((c) => JSON.stringify(c)).join(', ')} of "${text}".`,
      hint: `Use only ${LETTERING_CHARACTERS.join('').trim()} and spaces.`,
    });
  }
  const smallest = smallestLetteringMm(kerfAllowanceMm);
  if (!(heightMm >= smallest - 1e-9)) {
    throw new InputError({
      code: 'LETTERING_TOO_SMALL',
      message: `letters ${heightMm} mm high would close or fall out after a kerf of ${Number(kerfAllowanceMm.toFixed(3))} mm.`,
      hint: `Make them at least ${smallest.toFixed(2)} mm high.`,
    });
  }
}

/** Characters drawn with the last pen: the labels of a coupon are many short texts of one size. */
let last = { pen: '', drawn: new Map<string, readonly Region[]>() };

function drawnBy(pen: Pen): Map<string, readonly Region[]> {
  const key = JSON.stringify(pen);
  if (last.pen !== key) last = { pen: key, drawn: new Map() };
  return last.drawn;
}

/** A text as it will be cut: its pen, where each character starts and how long all of it is, in dots. */
function set(wanted: string, options: LetteringOptions) {
  const text = spelt(wanted);
  checkText(text, options);
  const { x, y } = options.pitch ?? { x: 0.01, y: 0.01 };
  const pitch: readonly [number, number] = options.turnDeg === 90 ? [y, x] : [x, y];
  const pen = penFor(options.heightMm, options.kerfAllowanceMm ?? DEFAULT_KERF_ALLOWANCE_MM, pitch);
  let at = 0;
  const characters = [...text].map((character) => {
    const [start, glyph] = [at, glyphOf(character) as Glyph];
    at += Math.round(glyph.width * pen.unit[0]) + pen.nib[0] + pen.spacing;
    return { character, glyph, start };
  });
  return { characters, pitch, pen, length: Math.max(0, at - pen.spacing) };
}

/**
 * Length of a text along its reading direction, mm.
 *
 * @throws {InputError} LETTERING_CHARACTER, LETTERING_TOO_SMALL
 */
export function letteringLengthMm(wanted: string, options: LetteringOptions): number {
  const { length, pitch } = set(wanted, options);
  return length * pitch[0];
}

/**
 * Cuts a text as stencil strokes: no part of the film inside a character is loose, also not after the kerf has widened
 * every stroke by `kerfAllowanceMm`. Small letters become capitals.
 *
 * @param wanted - 0-9, A-Z, a-z, space and - _ . : % / + = ( ); umlauts are spelt out, accents left out
 * @returns openings in mm with every corner on the pitch, without islands; empty for an empty text
 * @throws {InputError} LETTERING_CHARACTER, LETTERING_TOO_SMALL
 */
export function letter(wanted: string, options: LetteringOptions): Region[] {
  const { characters, pitch, pen } = set(wanted, options);
  const at = options.at ?? [0, 0];
  const turned = options.turnDeg === 90;
  const x0 = Math.round(at[0] / (turned ? pitch[1] : pitch[0]));
  const y0 = Math.round(at[1] / (turned ? pitch[0] : pitch[1]));
  const heightDots = Math.round(4 * pen.unit[1]) + pen.nib[1];
  const place = ([s, t]: Point): Point =>
    turned
      ? [tidy((x0 + heightDots - t) * pitch[1]), tidy((y0 + s) * pitch[0])]
      : [tidy((x0 + s) * pitch[0]), tidy((y0 + t) * pitch[1])];
  const drawn = drawnBy(pen);
  return characters.flatMap(({ character, glyph, start }) => {
    const move = (ring: Ring): Ring => ring.map(([s, t]) => place([s + start, t]));
    return kept(drawn, character, () => drawGlyph(glyph, pen)).map(({ outer, islands }) => ({
      outer: move(outer),
      islands: islands.map(move),
    }));
  });
}

/** Takes away what doubles add to a multiple of the pitch; a picometre is far below any laser. */
const tidy = (mm: number): number => Math.round(mm * 1e9) / 1e9;
