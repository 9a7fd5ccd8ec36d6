import { parseAttribute } from './attributes.js';
import { oldCommand, unknownCommand } from './extended.js';
import type { LayerState } from './layer-state.js';
import type { Command } from './lex.js';
import { type Coordinates, operate } from './operate.js';
import { endRegion } from './region.js';
import { MM_PER_INCH } from './units.js';
import { splitWords } from './words.js';

/** Obeys a command of function codes: comments, G, M and D codes, coordinates. */
export function obeyFunctionCodes(layer: LayerState, command: Command): void {
  const { text, line } = command;
  const comment = /^\s*(?:N\d+\s*)?G0*4(?!\d)([\s\S]*)$/i.exec(text);
  if (comment) {
    // Attributes may come as comments, for readers that know none: G04 #@! TF.FileFunction,Paste,Top
    const hidden = /^\s*#@!\s*(T[FAOD][\s\S]*)$/i.exec(comment[1]);
    const attribute = hidden && parseAttribute(hidden[1].trim());
    if (attribute) layer.attributes.apply(attribute);
    return;
  }
  const words = splitWords(text);
  if (!words?.every(({ letter }) => 'GMDXYIJN'.includes(letter))) {
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
        if (code !== undefined) {
          layer.notes.warn('STAR_MISSING', line, 'two operations stand in one command; read as two.');
          finish();
        }
        at[letter.toLowerCase() as keyof Coordinates] = digits;
    }
  }
  finish();
}

function general(layer: LayerState, code: number, command: Command): void {
  switch (code) {
    case 0:
    case 1:
      layer.mode = 'line';
      layer.scaleOfMode = 1;
      return;
    case 2:
    case 3:
      layer.mode = code === 2 ? 'clockwise' : 'counterclockwise';
      layer.scaleOfMode = 1;
      return;
    case 10:
    case 11:
    case 12:
      oldCommand(layer.notes, `G${code}`, command.line);
      layer.mode = 'line';
      layer.scaleOfMode = code === 10 ? 10 : code === 11 ? 0.1 : 0.01;
      return;
    case 36:
      layer.region ??= [];
      return;
    case 37:
      endRegion(layer, command.line);
      return;
    case 54:
    case 55:
      return;
    case 70:
      layer.setUnit(MM_PER_INCH, command.line);
      return;
    case 71:
      layer.setUnit(1, command.line);
      return;
    case 74:
    case 75:
      layer.multiQuadrant = code === 75;
      return;
    case 90:
    case 91:
      if (code === 91) oldCommand(layer.notes, `G${code}`, command.line);
      layer.incremental = code === 91;
      return;
    default:
      unknownCommand(layer.notes, command);
  }
}

function miscellaneous(layer: LayerState, code: number, command: Command): void {
  // M30 ends programs of other machines; some writers end layers with it.
  if (code === 0 || code === 2 || code === 30) layer.ended = true;
  else if (code !== 1) unknownCommand(layer.notes, command);
}
