import { composeMaps, IDENTITY, scaling, translation } from '../../geometry/affine.js';
import type { Affine } from '../../geometry/types.js';
import { MM_PER_INCH } from '../../text.js';
import type { Diagnostics } from '../paint/diagnostics.js';
import { defineAperture, parseDefinition } from './aperture.js';
import { parseAttribute } from './attributes.js';
import { parseFormat } from './coordinate-format.js';
import type { LayerState } from './layer-state.js';
import { type Command, shorten } from './lex.js';
import { parseMacro } from './macro.js';

type Handler = (layer: LayerState, rest: string, command: Command) => void;

/** Says that a command was left out, and where. */
export function unknownCommand(notes: Diagnostics, { text }: Pick<Command, 'text'>): void {
  notes.warn(
    'UNKNOWN_COMMAND',
    `the command "${shorten(text)}" is not known and was left out.`,
    'Compare the result with the board.',
  );
}

/** Says that a command is one of those that were taken out of the standard. */
export function oldCommand(notes: Diagnostics, name: string): void {
  notes.warnOnce(
    'OLD_COMMAND',
    `the file uses the deprecated command ${name}, which programs read differently; it is obeyed.`,
    'Compare the result with the board.',
  );
}

/** Commands with two letters, as they stand between percent signs. */
const HANDLERS: Readonly<Record<string, Handler>> = {
  FS: setFormat,
  MO: setUnit,
  AD: addAperture,
  AM: addMacro,
  LP: setPolarity,
  LM: setMirror,
  LR: setRotation,
  LS: setScale,
  AB: apertureBlock,
  SR: stepRepeat,
  TF: attribute,
  TA: attribute,
  TO: attribute,
  TD: attribute,
  IP: imagePolarity,
  IN: nothing,
  LN: nothing,
  MI: imageCommand,
  SF: imageCommand,
  OF: imageCommand,
  AS: imageCommand,
  IR: imageCommand,
};

/** Whether a command has two letters that are known. */
export function isExtended(text: string): boolean {
  // Coordinates and codes go on with digits, and there are many of them.
  return !(text.charCodeAt(1) < 65) && text.slice(0, 2).toUpperCase() in HANDLERS;
}

/** Obeys an extended command; one that is not known is named in a warning. */
export function obeyExtended(layer: LayerState, command: Command): void {
  const handler = HANDLERS[command.text.slice(0, 2).toUpperCase()];
  if (handler) handler(layer, command.text.slice(2).trim(), command);
  else unknownCommand(layer.notes, command);
}

/** Names of layers and images, which draw nothing. */
function nothing(): void {}

function setFormat(layer: LayerState, _rest: string, { text }: Command): void {
  const format = parseFormat(text);
  if (!format) {
    layer.notes.fail(
      'FORMAT_UNREADABLE',
      `the coordinate format "${shorten(text)}" can't be read.`,
      'A valid one is FSLAX46Y46.',
    );
    return;
  }
  if (layer.format && JSON.stringify(layer.format) !== JSON.stringify(format)) {
    layer.notes.warn('FORMAT_AGAIN', 'the coordinate format changes within the file; each part is read by its own.');
  } else if (layer.format && layer.operation !== undefined) {
    layer.notes.warn(
      'FORMAT_AGAIN',
      'the file begins anew after it has drawn, with a coordinate format (FS): it may be two files in one, and all of it is read.',
      'Compare the number of openings, or export it again.',
    );
  }
  if (format.incremental) oldCommand(layer.notes, 'FS with I (incremental)');
  layer.format = format;
  layer.incremental = format.incremental;
}

function setUnit(layer: LayerState, rest: string, { text }: Command): void {
  if (/^MM/i.test(rest)) layer.setUnit(1);
  else if (/^IN/i.test(rest)) layer.setUnit(MM_PER_INCH);
  else layer.notes.fail('UNIT_UNKNOWN', `the unit "${shorten(text)}" is neither MM nor IN.`);
}

function addAperture(layer: LayerState, _rest: string, { text }: Command): void {
  const definition = parseDefinition(text, layer.macros);
  if (!definition || definition.code < 10) {
    layer.notes.fail(
      'APERTURE_DEFINITION',
      `the aperture definition "${shorten(text)}" can't be read.`,
      'A valid one is ADD10C,0.5.',
    );
    return;
  }
  const { code, template, parameters } = definition;
  const attributes = layer.attributes.apertureAttributes();
  layer.sink.blocks.delete(code);
  const mm = layer.unit();
  const made = defineAperture(template, parameters, layer.macros, mm, attributes, layer.notes);
  const known = layer.apertures.get(code);
  if (known && JSON.stringify(known.regions) !== JSON.stringify(made.regions))
    layer.notes.warn(
      'DEFINED_AGAIN',
      `aperture D${code} is defined again as another shape; each use takes the definition before it.`,
      'Compare the result with the board, or export the file again.',
    );
  layer.apertures.set(code, made);
}

function addMacro(layer: LayerState, rest: string, { line, body }: Command): void {
  if (rest === '') layer.notes.fail('MACRO_NAME', 'an aperture macro has no name.');
  else layer.macros.set(rest, parseMacro(rest, line, body ?? [], layer.notes));
}

function setPolarity(layer: LayerState, rest: string, command: Command): void {
  if (/^[DC]/i.test(rest)) layer.dark = /^D/i.test(rest);
  else unknownCommand(layer.notes, command);
}

function setMirror(layer: LayerState, rest: string, command: Command): void {
  const axes = rest.toUpperCase();
  if (!/^(N|X|Y|XY|YX)$/.test(axes)) unknownCommand(layer.notes, command);
  else layer.load = { ...layer.load, mirrorX: axes.includes('X'), mirrorY: axes.includes('Y') };
}

function setRotation(layer: LayerState, rest: string, command: Command): void {
  const angleDeg = Number(rest);
  if (rest === '' || !Number.isFinite(angleDeg)) unknownCommand(layer.notes, command);
  else layer.load = { ...layer.load, angleDeg };
}

function setScale(layer: LayerState, rest: string, command: Command): void {
  const scale = Number(rest);
  if (!(scale > 0 && scale < Infinity)) unknownCommand(layer.notes, command);
  else layer.load = { ...layer.load, scale };
}

function apertureBlock(layer: LayerState, rest: string, command: Command): void {
  if (rest === '') {
    // A step and repeat left on within the block ends with it.
    if (layer.sink.inAperture && layer.sink.innermost?.kind === 'repeat') layer.sink.closeBlock();
    if (layer.sink.innermost?.kind === 'aperture') layer.sink.closeBlock();
    else unknownCommand(layer.notes, command);
    return;
  }
  const code = Number(/^D?0*(\d+)$/i.exec(rest)?.[1]);
  if (!(code >= 10)) {
    unknownCommand(layer.notes, command);
    return;
  }
  layer.apertures.delete(code);
  layer.sink.openBlock({ code });
}

function numberAfter(letter: string, text: string): number | undefined {
  const found = new RegExp(`${letter}([+-]?[\\d.]+)`, 'i').exec(text)?.[1];
  return found === undefined ? undefined : Number(found);
}

function stepRepeat(layer: LayerState, rest: string, command: Command): void {
  const { sink } = layer;
  if (sink.innermost?.kind === 'repeat') sink.closeBlock();
  if (rest === '') return;
  const [nx, ny] = [numberAfter('X', rest) ?? 1, numberAfter('Y', rest) ?? 1];
  const mm = layer.unit();
  const [dx, dy] = [(numberAfter('I', rest) ?? 0) * mm, (numberAfter('J', rest) ?? 0) * mm];
  if (!Number.isInteger(nx) || !Number.isInteger(ny) || nx < 1 || ny < 1 || !Number.isFinite(dx + dy)) {
    layer.notes.fail(
      'STEP_REPEAT',
      `the step and repeat "${shorten(command.text)}" can't be read.`,
      'A valid one is SRX2Y3I50J40.',
    );
    return;
  }
  if (nx * ny > 1) sink.openBlock({ repeat: { nx, ny, dx, dy } });
}

function attribute(layer: LayerState, _rest: string, command: Command): void {
  const parsed = parseAttribute(command.text);
  if (parsed) layer.attributes.apply(parsed);
  else unknownCommand(layer.notes, command);
}

function imagePolarity(layer: LayerState, rest: string, command: Command): void {
  if (/^NEG/i.test(rest)) {
    layer.notes.fail(
      'IMAGE_NEGATIVE',
      'the layer is a negative (IPNEG): openings would be everything but what is drawn.',
      'Export the paste layer as a positive.',
    );
  } else if (!/^POS/i.test(rest)) unknownCommand(layer.notes, command);
}

/** The deprecated commands that move, mirror, scale or turn the whole image. Most files only state that nothing is changed. */
function imageCommand(layer: LayerState, rest: string, command: Command): void {
  const code = command.text.slice(0, 2).toUpperCase();
  if (code === 'IR') {
    const turnDeg = Number(rest);
    if (![0, 90, 180, 270].includes(turnDeg)) {
      layer.notes.fail('IMAGE_ROTATION', `the image is turned by "${shorten(rest)}", not by 0, 90, 180 or 270.`);
      return;
    }
    layer.imageTurnDeg = turnDeg;
    if (turnDeg !== 0) oldCommand(layer.notes, code);
    return;
  }
  const [a, b] = [numberAfter('A', rest), numberAfter('B', rest)];
  if (!isUsable(a) || !isUsable(b) || (code === 'SF' && !((a ?? 1) > 0 && (b ?? 1) > 0))) {
    layer.notes.fail('IMAGE_SCALE', `the numbers of "${shorten(command.text)}" can't be read.`);
    return;
  }
  const map = coordinateMap(code, rest, a, b, code === 'OF' ? layer.unit() : 1);
  layer.image = { ...layer.image, [code]: map };
  // Mirrored, scaled, shifted, then put on the axes, in the order that the specification states.
  const { MI, SF, OF, AS } = layer.image;
  layer.map = [MI, SF, OF, AS].reduce<Affine | undefined>((inner, outer) => {
    return inner && outer ? composeMaps(outer, inner) : (outer ?? inner);
  }, undefined);
  if (map) oldCommand(layer.notes, code);
}

/** No image is moved or scaled by more; a number that is none would not be seen until places are compared. */
const isUsable = (value = 0): boolean => Math.abs(value) <= 1e6;

/** What an image command does to coordinates (not to apertures); undefined when that is nothing. */
function coordinateMap(code: string, rest: string, a: number | undefined, b: number | undefined, mm: number) {
  if (code === 'AS') return /^AYBX/i.test(rest) ? { ...IDENTITY, a: 0, b: 1, c: 1, d: 0 } : undefined;
  if (code === 'OF') return a || b ? translation((a ?? 0) * mm, (b ?? 0) * mm) : undefined;
  const [x, y] = code === 'MI' ? [a === 1 ? -1 : 1, b === 1 ? -1 : 1] : [a ?? 1, b ?? 1];
  return x === 1 && y === 1 ? undefined : scaling(x, y);
}
