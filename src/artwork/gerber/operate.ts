import { FARTHEST_MM } from '../../geometry/clean.js';
import { type Arc, arcBetween, arcPoints, singleQuadrantCentre } from '../../geometry/shapes.js';
import type { OpeningTag, Point, Region } from '../../geometry/types.js';
import { kept } from '../../kept.js';
import { strips } from '../paint/enclosed.js';
import { unionOfRings } from '../paint/unite.js';
import type { Aperture } from './aperture.js';
import { decodeCoordinate, digitsTooMany } from './coordinate-format.js';
import { type LayerState, loadKey } from './layer-state.js';
import { type Command, shorten } from './lex.js';
import { convexPath, roundArc, roundLine } from './standard-shape.js';

/** The coordinates of one operation, as digits. */
export interface Coordinates {
  x?: string;
  y?: string;
  i?: string;
  j?: string;
}

/**
 * Draws, moves or flashes: the operations D01, D02 and D03. A code that is left out is the one before.
 *
 * @param code - 1, 2 or 3 as the command gives it
 */
export function operate(layer: LayerState, code: number | undefined, at: Coordinates, command: Command): void {
  const { notes } = layer;
  if (code !== undefined) layer.operation = code as 1 | 2 | 3;
  else if (layer.operation === undefined) {
    notes.warn('OPERATION_MISSING', `"${shorten(command.text)}" says neither draw, move nor flash; taken as a move.`);
    layer.operation = 2;
  }
  // The standard knows integers only; one point says that the others of its command are no integers either.
  const isDecimal = [at.x, at.y, at.i, at.j].some((digits) => digits?.includes('.') === true);
  if (isDecimal) {
    notes.warnOnce(
      'DECIMAL_POINT',
      'coordinates have a decimal point, which the standard does not know; such a command is read in mm or inches as written.',
      'Compare the result with the board, or export the file again.',
    );
  }
  const target = pointOf(layer, at, isDecimal);
  if (!target) return;
  if (layer.operation === 1) {
    const centre = centreOf(layer, at, isDecimal);
    if (centre) drawTo(layer, target, centre);
  } else if (layer.region) {
    if (layer.operation === 2) layer.region.push([target]);
    else notes.warn('FLASH_IN_REGION', 'a flash within a region is not allowed; it is left out.');
  } else if (layer.operation === 3) flash(layer, target);
  layer.at = target;
}

/** The point that coordinates name, mm, before the image commands; undefined when they can't be read. */
function pointOf(layer: LayerState, at: Coordinates, isDecimal: boolean): Point | undefined {
  const x = at.x === undefined ? undefined : length(layer, at.x, 'x', isDecimal);
  const y = at.y === undefined ? undefined : length(layer, at.y, 'y', isDecimal);
  if (Number.isNaN(x) || Number.isNaN(y)) return undefined;
  const [px, py] = layer.at;
  if (layer.incremental) return [px + (x ?? 0), py + (y ?? 0)];
  return [x ?? px, y ?? py];
}

/** The offset I, J from the start of an arc to its centre, mm. */
function centreOf(layer: LayerState, at: Coordinates, isDecimal: boolean): Point | undefined {
  const i = at.i === undefined ? 0 : length(layer, at.i, 'x', isDecimal);
  const j = at.j === undefined ? 0 : length(layer, at.j, 'y', isDecimal);
  return Number.isNaN(i) || Number.isNaN(j) ? undefined : [i, j];
}

function length(layer: LayerState, digits: string, axis: 'x' | 'y', isDecimal: boolean): number {
  const { notes, format } = layer;
  if (!format && !isDecimal) {
    notes.fail(
      'FORMAT_MISSING',
      'the file states no coordinate format (FS), so its size is unknown.',
      'Export it as RS-274X (extended Gerber).',
    );
    layer.sink.full = true;
    return Number.NaN;
  }
  if (format && !isDecimal && digitsTooMany(digits, format[axis], format.trailingOmitted) > 0) {
    const { integers, decimals } = format[axis];
    notes.warn(
      'DIGITS_TOO_MANY',
      `"${axis.toUpperCase()}${shorten(digits)}" has more digits than the ${integers} + ${decimals} of the file's format (FS); it is read with the decimal point where the format puts it.`,
      'Compare the result with the board, or export the file again.',
    );
  }
  const value = decodeCoordinate(digits, isDecimal ? undefined : format?.[axis], format?.trailingOmitted ?? false);
  const mm = value * layer.unit() * layer.scaleOfMode;
  if (Number.isFinite(mm) && Math.abs(mm) <= FARTHEST_MM) return mm;
  notes.fail(
    'COORDINATE',
    Number.isFinite(mm)
      ? `"${axis.toUpperCase()}${shorten(digits)}" lies ${Math.round(mm / 1000)} m out.`
      : `"${axis.toUpperCase()}${shorten(digits)}" is no coordinate.`,
  );
  return Number.NaN;
}

/** Radii of an arc's two ends may differ by rounding; more than this and the file is odd, mm and share. */
const RADII_DIFFER = { mm: 0.05, share: 0.02 };
/** What two readings of an arc may miss its end by, to tell which is meant, mm. */
const RADII_AGREE_MM = 0.002;

/**
 * Draws from the current point to the target: a stroke, or an edge of a contour within a region.
 *
 * @param offset - I and J, mm; only for arcs
 */
function drawTo(layer: LayerState, target: Point, offset: Point): void {
  const arc = layer.mode === 'line' ? undefined : arcTo(layer, target, offset);
  const { region } = layer;
  if (region) {
    if (region.length === 0) region.push([layer.at]);
    const contour = region[region.length - 1];
    if (arc) contour.push(...arcPoints(arc).slice(1, -1));
    contour.push(target);
    return;
  }
  const points = (arc ? arcPoints(arc) : [layer.at, target]).map((p) => layer.place(p));
  const aperture = apertureInForce(layer, 'a stroke');
  if (!aperture) return;
  const tag = tagOf(layer, 'stroke', aperture);
  const { dark, sink } = layer;
  if (arc) {
    const regions = strokeRegions(layer, points, layer.map ? undefined : arc, aperture);
    sink.add({ dark, regions, tag });
    return;
  }
  const at = points[0];
  const regions = straightStroke(layer, at, points[1], aperture);
  sink.add({ dark, regions, at, tag });
}

const ORIGIN: Point = [0, 0];
/** More different strokes of one pen than this are not remembered. */
const MAX_STROKES = 20_000;

/** What the pen leaves from the origin to the end of a line, remembered for the next line of the same kind. */
function straightStroke(layer: LayerState, [x0, y0]: Point, [x1, y1]: Point, aperture: Aperture): readonly Region[] {
  // Ends are sums of decimal numbers: a pad's lines differ in the last bits, which are no difference.
  const [dx, dy] = [Math.round((x1 - x0) * 1e9) / 1e9, Math.round((y1 - y0) * 1e9) / 1e9];
  const key = `${loadKey(layer.load)} ${dx} ${dy}`;
  const strokes = kept(layer.strokes, aperture, () => new Map());
  const known = strokes.get(key);
  if (known) return known;
  const made = strokeRegions(layer, [ORIGIN, [dx, dy]], undefined, aperture);
  if (strokes.size < MAX_STROKES) strokes.set(key, made);
  return made;
}

function strokeRegions(
  layer: LayerState,
  points: readonly Point[],
  arc: Arc | undefined,
  aperture: Aperture,
): Region[] {
  if (layer.stripMm !== undefined) return strips(points, layer.stripMm);
  if (aperture.diameterMm !== undefined) {
    const diameterMm = aperture.diameterMm * layer.load.scale;
    if (diameterMm === 0) {
      layer.notes.warnOnce('APERTURE_EMPTY', `aperture D${layer.aperture} has no size; what it draws is not there.`);
      return [];
    }
    if (arc) return roundArc(arc, diameterMm);
    return points.length === 2
      ? roundLine(points[0], points[1], diameterMm)
      : unionOfRings(points.slice(1).flatMap((p, k) => roundLine(points[k], p, diameterMm).map(({ outer }) => outer)));
  }
  const image = layer.sink.loaded(aperture.regions, layer.load);
  const isPen = image.length === 1 && image[0].islands.length === 0 && aperture.family === 'rectangle';
  if (image.length > 0 && !isPen) {
    layer.notes.warnOnce(
      'PEN',
      `strokes with the aperture D${layer.aperture} (${aperture.family}) are not in the standard; drawn as its hull from end to end.`,
    );
  }
  const pen = image.flatMap(({ outer }) => outer);
  return pen.length === 0 ? [] : convexPath(pen, points);
}

function arcTo(layer: LayerState, target: Point, offset: Point): Arc | undefined {
  const { at, notes } = layer;
  const clockwise = layer.mode === 'clockwise';
  if (offset[0] === 0 && offset[1] === 0) {
    notes.warnOnce('ARC_WITHOUT_CENTRE', 'an arc has no centre; drawn as a straight line.');
    return undefined;
  }
  const multi = arcBetween(at, target, [at[0] + offset[0], at[1] + offset[1]], clockwise);
  const single = (): Arc =>
    arcBetween(at, target, singleQuadrantCentre(at, target, offset[0], offset[1], clockwise), clockwise);
  let arc = multi;
  if (layer.multiQuadrant === undefined) {
    const quarter = single();
    const meant = radiiDiffer(multi) > RADII_AGREE_MM && radiiDiffer(quarter) < radiiDiffer(multi);
    if (meant) arc = quarter;
    notes.warnOnce(
      'QUADRANT_MODE',
      `arcs are drawn before the file says how (G74 or G75); each is read as the one of both that meets its end.`,
    );
  } else if (!layer.multiQuadrant) {
    // A full turn can't be written in this mode: start and end at one point are a dot.
    if (at[0] === target[0] && at[1] === target[1]) return undefined;
    arc = single();
  }
  const larger = Math.max(arc.startRadius, arc.endRadius);
  if (radiiDiffer(arc) > RADII_DIFFER.mm + RADII_DIFFER.share * larger) {
    notes.warn(
      'ARC_RADII',
      `an arc begins with a radius of ${arc.startRadius.toFixed(3)} mm and ends with ${arc.endRadius.toFixed(3)} mm; drawn as a spiral between them.`,
    );
  }
  return arc;
}

const radiiDiffer = (arc: Arc): number => Math.abs(arc.startRadius - arc.endRadius);

/** Puts the aperture in force at a point. */
function flash(layer: LayerState, target: Point): void {
  const at = layer.place(target);
  const block = layer.aperture === undefined ? undefined : layer.sink.blocks.get(layer.aperture);
  if (block) {
    layer.sink.flashBlock(block, layer.load, at, layer.dark, layer.attributes.tag(undefined));
    return;
  }
  const aperture = apertureInForce(layer, 'a flash');
  if (!aperture) return;
  const regions = layer.sink.loaded(aperture.regions, layer.load);
  if (regions.length === 0) {
    layer.notes.warnOnce('APERTURE_EMPTY', `aperture D${layer.aperture} has no size; what it flashes is not there.`);
  }
  layer.sink.add({ dark: layer.dark, regions, at, tag: tagOf(layer, 'flash', aperture) });
}

/** The aperture chosen last. One that was never defined is a problem where it is used. */
function apertureInForce(layer: LayerState, what: string): Aperture | undefined {
  const code = layer.aperture;
  const aperture = code === undefined ? undefined : layer.apertures.get(code);
  if (aperture) return aperture;
  if (code === undefined) {
    layer.notes.fail(
      'APERTURE_NONE',
      `${what} comes before any aperture is chosen.`,
      'Export the file with embedded apertures (RS-274X).',
    );
  } else if (layer.sink.blocks.has(code)) {
    layer.notes.warn('BLOCK_STROKE', `block aperture D${code} can't draw ${what}; it is left out.`);
  } else {
    layer.notes.fail(
      'APERTURE_UNDEFINED',
      `aperture D${code} is used but never defined before.`,
      'The file may need a separate aperture list; export it with embedded apertures (RS-274X).',
    );
  }
  return undefined;
}

function tagOf(layer: LayerState, drawn: 'flash' | 'stroke', aperture: Aperture): OpeningTag {
  return { ...layer.attributes.tag(aperture.attributes), drawn, shape: aperture.family, line: layer.notes.line };
}
