import { counterClockwise, rotation } from '../../geometry/affine.js';
import { ringArea } from '../../geometry/area.js';
import { isConvex } from '../../geometry/convex.js';
import { solid } from '../../geometry/shapes.js';
import type { Point, Region } from '../../geometry/types.js';
import { MM_PER_INCH } from '../../text.js';
import type { PaintedObject } from '../paint/compose.js';
import type { Diagnostics } from '../paint/diagnostics.js';
import { unionOfRings, unite } from '../paint/unite.js';
import { parseAttribute, type Values } from './attributes.js';
import { findUnit } from './coordinate-format.js';
import { isExtended, obeyExtended, oldCommand, unknownCommand } from './extended.js';
import { LayerState } from './layer-state.js';
import type { Command } from './lex.js';
import { type Coordinates, operate } from './operate.js';

/** What a layer draws, and what it says of itself. */
export interface Interpreted {
  readonly objects: readonly PaintedObject[];
  readonly attributes: ReadonlyMap<string, Values>;
  /** Functions of the apertures (.AperFunction) that were defined. */
  readonly apertureFunctions: readonly string[];
}

/**
 * Obeys a layer's commands in order and gathers what they draw. Problems and warnings go to the notes.
 *
 * @param stripMm - draw lines as strips of this width whatever their aperture, for outlines
 */
export function interpret(commands: readonly Command[], notes: Diagnostics, stripMm?: number): Interpreted {
  notes.line = undefined;
  const layer = new LayerState(notes, stripMm, findUnit(commands, notes));
  for (const command of commands) {
    notes.line = command.line;
    if (layer.sink.full) break;
    if (layer.ended) {
      // Old files say the end twice, and comments are no data.
      if (/^(M0*[0-3]|M30|G0*4)(?!\d)/i.test(command.text)) continue;
      notes.warnOnce('AFTER_END', 'there is data after the end of the file (M02); it is left out.');
      break;
    }
    obey(layer, command);
  }
  notes.line = commands.at(-1)?.line ?? 1;
  finish(layer);
  return {
    objects: layer.sink.all,
    attributes: layer.attributes.file,
    apertureFunctions: [...layer.apertures.values()].flatMap(
      (a) => a.attributes.get('.AperFunction')?.slice(0, 1) ?? [],
    ),
  };
}

function obey(layer: LayerState, command: Command): void {
  // Files that lost a percent sign hold either kind in the other's place; what they mean is clear from their letters.
  if (isExtended(command.text)) {
    if (!command.extended) {
      layer.notes.warn(
        'PERCENT_MISSING',
        `"${command.text.slice(0, 2)}" does not stand between percent signs; obeyed as if it did.`,
      );
    }
    obeyExtended(layer, command);
  } else if (command.extended && !/^[GDMXYIJN]\s*[\d.+-]/i.test(command.text)) {
    unknownCommand(layer.notes, command);
  } else obeyFunctionCodes(layer, command);
}

function finish(layer: LayerState): void {
  const { notes, sink } = layer;
  // Without its end as well, a part of the file is missing, and nobody can tell what stood in it.
  const cutOff = (what: string): void =>
    notes.fail('FILE_CUT_OFF', `the file ends within ${what}.`, 'Export or copy the file again.');
  if (layer.region) {
    if (layer.ended) notes.warn('REGION_OPEN', 'a region (G36) is not ended before the file is; it is ended here.');
    else cutOff('a region (G36), before its G37');
    endRegion(layer);
  }
  for (let block = sink.innermost; block; block = sink.innermost) {
    // Old files end with their step and repeat still on.
    if (block.kind === 'aperture' && !layer.ended) cutOff(`the block aperture that begins on line ${block.line}`);
    else if (block.kind === 'aperture') {
      notes.line = block.line;
      notes.warn('BLOCK_OPEN', 'a block aperture (AB) is not ended before the file is; it is ended here.');
    }
    sink.closeBlock();
  }
  notes.line = undefined;
  if (!layer.ended) {
    notes.warn(
      'END_MISSING',
      'the file has no end command (M02); it may be cut off.',
      'Compare the number of openings, or export it again.',
    );
  }
  if (layer.imageTurnDeg !== 0) sink.turn(rotation(layer.imageTurnDeg));
}

/** Obeys a command of function codes: comments, G, M and D codes, coordinates. */
function obeyFunctionCodes(layer: LayerState, command: Command): void {
  const { text } = command;
  const comment = /^\s*(?:N\d+\s*)?G0*4(?!\d)([\s\S]*)$/i.exec(text);
  if (comment) {
    // Attributes may come as comments, for readers that know none: G04 #@! TF.FileFunction,Paste,Top
    const hidden = /^\s*#@!\s*(T[FAOD][\s\S]*)$/i.exec(comment[1]);
    const attribute = hidden && parseAttribute(hidden[1].trim());
    if (attribute) layer.attributes.apply(attribute);
    return;
  }
  const words = wordsOf(text);
  if (!words) {
    unknownCommand(layer.notes, command);
    return;
  }
  let at: Coordinates = {};
  let code: number | undefined;
  const finish = (): void => {
    if (code !== undefined || Object.keys(at).length > 0) operate(layer, code, at, command);
    at = {};
    code = undefined;
  };
  for (const { letter, digits } of words) {
    if (code !== undefined) {
      layer.notes.warn('STAR_MISSING', 'two commands stand in one; read as two.');
      finish();
    }
    switch (letter) {
      case 'G':
        general(layer, Number(digits), command);
        break;
      case 'M':
        miscellaneous(layer, Number(digits), command);
        break;
      case 'D': {
        const d = digits === '' ? Number.NaN : Number(digits);
        if (d >= 10) layer.aperture = d;
        else if (d >= 1 && d <= 3) code = d;
        else unknownCommand(layer.notes, command);
        break;
      }
      case 'N':
        break;
      default:
        at[letter.toLowerCase() as keyof Coordinates] = digits;
    }
  }
  finish();
}

/** A letter and the number after it, as `X` and `-2500`; blanks between them mean nothing. */
const WORD = /([GMDXYIJN])\s*([+-]?[\d.]*)\s*/iy;

/** The words of a function code command, as `G01X100Y-20D01`; undefined when it holds anything else. */
function wordsOf(text: string): { letter: string; digits: string }[] | undefined {
  const words: { letter: string; digits: string }[] = [];
  for (let end = 0; end < text.length; end = WORD.lastIndex) {
    WORD.lastIndex = end;
    const word = WORD.exec(text);
    if (!word) return undefined;
    words.push({ letter: word[1].toUpperCase(), digits: word[2] });
  }
  return words;
}

/** Makes what follows lines of some scale (G10, G11 and G12 are of the oldest files), or arcs. */
const drawing =
  (mode: LayerState['mode'], scale = 1) =>
  (layer: LayerState): void => {
    layer.mode = mode;
    layer.scaleOfMode = scale;
  };

const GENERAL: Readonly<Record<number, (layer: LayerState) => void>> = {
  0: drawing('line'),
  1: drawing('line'),
  2: drawing('clockwise'),
  3: drawing('counterclockwise'),
  10: drawing('line', 10),
  11: drawing('line', 0.1),
  12: drawing('line', 0.01),
  36: (layer) => (layer.region ??= []),
  37: endRegion,
  54: () => {},
  55: () => {},
  70: (layer) => layer.setUnit(MM_PER_INCH),
  71: (layer) => layer.setUnit(1),
  74: (layer) => (layer.multiQuadrant = false),
  75: (layer) => (layer.multiQuadrant = true),
  90: (layer) => (layer.incremental = false),
  91: (layer) => (layer.incremental = true),
};
const OLD = [10, 11, 12, 91];

function general(layer: LayerState, code: number, command: Command): void {
  if (OLD.includes(code)) oldCommand(layer.notes, `G${code}`);
  if (Object.hasOwn(GENERAL, code)) GENERAL[code](layer);
  else unknownCommand(layer.notes, command);
}

function miscellaneous(layer: LayerState, code: number, command: Command): void {
  // M30 ends programs of other machines; some writers end layers with it.
  if (code === 0 || code === 2 || code === 30) layer.ended = true;
  else if (code !== 1) unknownCommand(layer.notes, command);
}

/** Ends of a contour nearer than this are one point, mm. */
const CLOSED_MM = 1e-6;
/** A contour whose fillings differ by more than this share crosses itself. */
const SELF_CROSSING = 1e-6;

/** Ends a region (G37): fills its contours one by one and paints their union. */
function endRegion(layer: LayerState): void {
  const contours = (layer.region ?? []).filter((contour) => contour.length > 1);
  layer.region = undefined;
  const rings = contours.map((contour) => closedRing(layer, contour)).filter((ring) => ring.length >= 3);
  // Each contour is filled on its own, and the fillings are united: the direction of a contour means nothing.
  const fillings = rings.flatMap((ring) => fillContour(layer, ring));
  const regions = rings.length === 1 ? fillings : unite(fillings);
  if (regions.length === 0) {
    layer.notes.warn('REGION_EMPTY', 'a region (G36 to G37) encloses no area.');
    return;
  }
  layer.sink.add({
    dark: layer.dark,
    regions,
    tag: { ...layer.attributes.regionTag(), drawn: 'region', line: layer.notes.line },
  });
}

function closedRing(layer: LayerState, contour: readonly Point[]): Point[] {
  const [first, last] = [contour[0], contour[contour.length - 1]];
  const gapMm = Math.hypot(first[0] - last[0], first[1] - last[1]);
  if (gapMm > CLOSED_MM) {
    layer.notes.warn(
      'CONTOUR_OPEN',
      `a contour ends ${gapMm.toFixed(3)} mm from where it begins; it is closed with a straight line.`,
    );
  }
  const ring = gapMm > CLOSED_MM ? [...contour] : contour.slice(0, -1);
  const distinct = ring.filter((p, i) => i === 0 || p[0] !== ring[i - 1][0] || p[1] !== ring[i - 1][1]);
  return distinct.map((p) => layer.place(p));
}

function fillContour(layer: LayerState, ring: readonly Point[]): Region[] {
  const area = ringArea(ring);
  const turned = counterClockwise(ring);
  // Most contours are lands: convex ones need no clipper and keep their points to the last digit.
  if (area !== 0 && isConvex(turned)) return [solid(turned)];
  const regions = unionOfRings([ring]);
  const filled = regions.reduce(
    (sum, r) => sum + ringArea(r.outer) + r.islands.reduce((s, i) => s + ringArea(i), 0),
    0,
  );
  if (filled - Math.abs(area) > SELF_CROSSING * Math.max(filled, 1e-3)) {
    layer.notes.warn(
      'CONTOUR_CROSSES',
      'a contour crosses itself, which the standard forbids; all that it winds around is filled.',
    );
  }
  return regions;
}
