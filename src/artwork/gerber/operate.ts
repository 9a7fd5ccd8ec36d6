import { FARTHEST_MM } from '../../geometry/clean.js';
import type { Point } from '../../geometry/types.js';
import { decodeCoordinate, digitsTooMany } from './coordinate-format.js';
import { drawTo } from './draw.js';
import { flash } from './flash.js';
import type { LayerState } from './layer-state.js';
import { type Command, shorten } from './lex.js';

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
  const { line } = command;
  if (code !== undefined) layer.operation = code as 1 | 2 | 3;
  else if (layer.operation === undefined) {
    notes.warn(
      'OPERATION_MISSING',
      line,
      `"${shorten(command.text)}" says neither draw, move nor flash; taken as a move.`,
    );
    layer.operation = 2;
  }
  // The standard knows integers only; one point says that the others of its command are no integers either.
  const isDecimal = [at.x, at.y, at.i, at.j].some((digits) => digits?.includes('.') === true);
  if (isDecimal) {
    notes.warnOnce(
      'DECIMAL_POINT',
      line,
      'coordinates have a decimal point, which the standard does not know; such a command is read in mm or inches as written.',
      'Compare the result with the board, or export the file again.',
    );
  }
  const target = pointOf(layer, at, isDecimal, line);
  if (!target) return;
  if (layer.operation === 1) {
    const centre = centreOf(layer, at, isDecimal, line);
    if (centre) drawTo(layer, target, centre, line);
  } else if (layer.region) {
    if (layer.operation === 2) layer.region.push([target]);
    else notes.warn('FLASH_IN_REGION', line, 'a flash within a region is not allowed; it is left out.');
  } else if (layer.operation === 3) flash(layer, target, line);
  layer.at = target;
}

/** The point that coordinates name, mm, before the image commands; undefined when they can't be read. */
function pointOf(layer: LayerState, at: Coordinates, isDecimal: boolean, line: number): Point | undefined {
  const x = at.x === undefined ? undefined : length(layer, at.x, 'x', isDecimal, line);
  const y = at.y === undefined ? undefined : length(layer, at.y, 'y', isDecimal, line);
  if (Number.isNaN(x) || Number.isNaN(y)) return undefined;
  const [px, py] = layer.at;
  if (layer.incremental) return [px + (x ?? 0), py + (y ?? 0)];
  return [x ?? px, y ?? py];
}

/** The offset I, J from the start of an arc to its centre, mm. */
function centreOf(layer: LayerState, at: Coordinates, isDecimal: boolean, line: number): Point | undefined {
  const i = at.i === undefined ? 0 : length(layer, at.i, 'x', isDecimal, line);
  const j = at.j === undefined ? 0 : length(layer, at.j, 'y', isDecimal, line);
  return Number.isNaN(i) || Number.isNaN(j) ? undefined : [i, j];
}

function length(layer: LayerState, digits: string, axis: 'x' | 'y', isDecimal: boolean, line: number): number {
  const { notes, format } = layer;
  if (!format && !isDecimal) {
    notes.fail(
      'FORMAT_MISSING',
      line,
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
      line,
      `"${axis.toUpperCase()}${shorten(digits)}" has more digits than the ${integers} + ${decimals} of the file's format (FS); it is read with the decimal point where the format puts it.`,
      'Compare the result with the board, or export the file again.',
    );
  }
  const value = decodeCoordinate(digits, isDecimal ? undefined : format?.[axis], format?.trailingOmitted ?? false);
  const mm = value * layer.unit(line) * layer.scaleOfMode;
  if (Number.isFinite(mm) && Math.abs(mm) <= FARTHEST_MM) return mm;
  notes.fail(
    'COORDINATE',
    line,
    Number.isFinite(mm)
      ? `"${axis.toUpperCase()}${shorten(digits)}" lies ${Math.round(mm / 1000)} m out.`
      : `"${axis.toUpperCase()}${shorten(digits)}" is no coordinate.`,
    'Export the file again.',
  );
  return Number.NaN;
}
