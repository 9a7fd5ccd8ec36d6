import { IDENTITY, mapOpening, rotation } from '../../geometry/affine.js';
import { move } from '../../geometry/shape-cache.js';
import type { Affine, OpeningTag, Point, Region } from '../../geometry/types.js';
import type { PaintedObject } from '../compose.js';
import { type Aperture, defineAperture, parseDefinition, penRing } from './aperture.js';
import { type Arc, arcBetween, arcPoints, singleQuadrantCentre } from './arc.js';
import { AttributeState, parseAttribute } from './attributes.js';
import { fillRings } from './clip.js';
import { type CoordinateFormat, decodeCoordinate, parseFormat } from './coordinate-format.js';
import { type CoordinateMap, isPlainMap, mapCoordinate, plainCoordinates } from './coordinates.js';
import { type Command, shorten } from './lex.js';
import { isPlain, type LoadState, loadKey, loadMap, PLAIN_LOAD } from './load-state.js';
import { type Macro, parseMacro } from './macro.js';
import type { Notes } from './notes.js';
import { mapShape, type Shape } from './shape.js';
import { convexLine, convexPath, roundArc, roundLine } from './stroke.js';

/** What a layer draws, and what it says of itself. */
export interface Interpreted {
  readonly objects: readonly PaintedObject[];
  readonly attributes: AttributeState['file'];
  /** Centre lines of strokes in the order of drawing; only kept for outlines. */
  readonly paths: readonly Path[];
  /** Contours of regions, as drawn. */
  readonly contours: readonly (readonly Point[])[];
}

/** A stroke's centre line, points along arcs included. */
export interface Path {
  readonly points: readonly Point[];
  readonly line: number;
}

const MM_PER_INCH = 25.4;
/** A layer with more objects than this is no paste layer, and would not fit into memory. */
const MAX_OBJECTS = 1_000_000;
const MAX_POINTS = 20_000_000;
const MAX_DEPTH = 20;

type Mode = 'line' | 'clockwise' | 'counterclockwise';

interface Block {
  readonly kind: 'aperture' | 'repeat';
  readonly code: number;
  readonly line: number;
  readonly outer: PaintedObject[];
  readonly repeat?: { nx: number; ny: number; dx: number; dy: number };
}

/** Reads commands in order and gathers what they draw. One instance a file. */
export class Interpreter {
  private objects: PaintedObject[] = [];
  private readonly paths: Path[] = [];
  private readonly contours: Point[][] = [];
  private readonly attributes = new AttributeState();
  private readonly macros = new Map<string, Macro>();
  private readonly apertures = new Map<number, Aperture>();
  private readonly blocks = new Map<number, PaintedObject[]>();
  private readonly open: Block[] = [];
  private readonly shapes = new Map<string, Shape>();
  private readonly coordinates: CoordinateMap = plainCoordinates();
  private format: CoordinateFormat | undefined;
  private mm: number | undefined;
  private mode: Mode = 'line';
  private scaleOfMode = 1;
  private multiQuadrant: boolean | undefined;
  private incremental: boolean | undefined;
  private dark = true;
  private load: LoadState = PLAIN_LOAD;
  private current: number | undefined;
  private at: Point = [0, 0];
  private operation: 1 | 2 | 3 | undefined;
  private region: Point[][] | undefined;
  private imageTurnDeg = 0;
  private ended = false;
  private points = 0;
  private stopped = false;

  constructor(
    private readonly notes: Notes,
    private readonly keepPaths: boolean,
  ) {}

  run(commands: readonly Command[]): Interpreted {
    for (const command of commands) {
      if (this.stopped) break;
      if (this.ended) {
        this.notes.warnOnce(
          'AFTER_END',
          command.line,
          'there is data after the end of the file (M02); it is left out.',
        );
        break;
      }
      if (command.body) this.defineMacro(command);
      else if (command.extended) this.extended(command);
      else this.plain(command);
    }
    this.finish();
    return { objects: this.objects, attributes: this.attributes.file, paths: this.paths, contours: this.contours };
  }

  private finish(): void {
    if (this.region) {
      this.notes.warn('REGION_OPEN', undefined, 'a region (G36) is not ended before the file is; it is ended here.');
      this.endRegion(0);
    }
    while (this.open.length > 0) {
      const { kind, line } = this.open[this.open.length - 1];
      this.notes.warn(
        'BLOCK_OPEN',
        line,
        `a ${kind === 'repeat' ? 'step and repeat (SR)' : 'block aperture (AB)'} is not ended before the file is; it is ended here.`,
      );
      this.closeBlock();
    }
    if (!this.ended) {
      this.notes.warn(
        'END_MISSING',
        undefined,
        'the file has no end command (M02); it may be cut off.',
        'Compare the number of openings, or export it again.',
      );
    }
    if (this.imageTurnDeg !== 0) {
      const turn = rotation(this.imageTurnDeg);
      this.objects = this.objects.map((object) => ({
        ...object,
        regions: object.regions.map((r) => mapOpening(turn, r)),
      }));
    }
  }

  private defineMacro(command: Command): void {
    const name = command.text.replace(/^\s*AM/i, '').trim();
    if (name === '') {
      this.notes.fail('MACRO_NAME', command.line, 'an aperture macro has no name.');
      return;
    }
    this.macros.set(name, parseMacro(name, command.line, command.body ?? [], this.notes));
  }

  // --- extended commands -------------------------------------------------------------------------------------------

  private extended({ text, line }: Command): void {
    const code = text.slice(0, 2).toUpperCase();
    const rest = text.slice(2).trim();
    switch (code) {
      case 'FS':
        this.setFormat(text, line);
        return;
      case 'MO':
        this.setUnit(/^MM/i.test(rest) ? 1 : /^IN/i.test(rest) ? MM_PER_INCH : undefined, text, line);
        return;
      case 'AD':
        this.defineAperture(text, line);
        return;
      case 'LP':
        if (/^[DC]/i.test(rest)) this.dark = /^D/i.test(rest);
        else this.unknown(text, line);
        return;
      case 'LM':
      case 'LR':
      case 'LS':
        this.setLoad(code, rest, text, line);
        return;
      case 'AB':
        this.apertureBlock(rest, text, line);
        return;
      case 'SR':
        this.stepRepeat(rest, text, line);
        return;
      case 'TF':
      case 'TA':
      case 'TO':
      case 'TD':
        this.attribute(text, line);
        return;
      case 'IP':
        if (/^NEG/i.test(rest)) {
          this.notes.fail(
            'IMAGE_NEGATIVE',
            line,
            'the layer is a negative (IPNEG): openings would be everything but what is drawn.',
            'Export the paste layer as a positive.',
          );
        }
        return;
      case 'IN':
      case 'LN':
        return;
      case 'MI':
      case 'SF':
      case 'OF':
      case 'AS':
      case 'IR':
        this.imageCommand(code, rest, text, line);
        return;
      default:
        // Old files put function codes between percent signs too.
        if (/^[GDMXYIJN][\d+-]/i.test(text)) this.plain({ text, line, extended: false });
        else this.unknown(text, line);
    }
  }

  private unknown(text: string, line: number): void {
    this.notes.warn(
      'UNKNOWN_COMMAND',
      line,
      `the command "${shorten(text)}" is not known and was left out.`,
      'Compare the result with the board.',
    );
  }

  private setFormat(text: string, line: number): void {
    const format = parseFormat(text);
    if (!format) {
      this.notes.fail(
        'FORMAT_UNREADABLE',
        line,
        `the coordinate format "${shorten(text)}" can't be read.`,
        'A valid one is FSLAX46Y46.',
      );
      return;
    }
    if (this.format && JSON.stringify(this.format) !== JSON.stringify(format)) {
      this.notes.warn(
        'FORMAT_AGAIN',
        line,
        'the coordinate format changes within the file; each part is read by its own.',
      );
    }
    this.format = format;
    this.incremental = format.incremental;
  }

  private setUnit(mm: number | undefined, text: string, line: number): void {
    if (mm === undefined) {
      this.notes.fail(
        'UNIT_UNKNOWN',
        line,
        `the unit "${shorten(text)}" is neither MM nor IN.`,
        'Export the file again.',
      );
      return;
    }
    if (this.mm !== undefined && this.mm !== mm)
      this.notes.warn('UNIT_AGAIN', line, 'the unit changes within the file; each part is read by its own.');
    this.mm = mm;
  }

  private unit(line: number): number {
    if (this.mm === undefined) {
      this.notes.warnOnce(
        'UNIT_ASSUMED',
        line,
        'the file does not state its unit; older versions of the format make it inch, and so it is read.',
        'Check the size of the board; a wrong unit is a factor of 25.4.',
      );
      this.mm = MM_PER_INCH;
    }
    return this.mm;
  }

  private defineAperture(text: string, line: number): void {
    const definition = parseDefinition(text);
    if (!definition || definition.code < 10) {
      this.notes.fail(
        'APERTURE_DEFINITION',
        line,
        `the aperture definition "${shorten(text)}" can't be read.`,
        'A valid one is ADD10C,0.5.',
      );
      return;
    }
    const { code, template, parameters } = definition;
    this.blocks.delete(code);
    this.apertures.set(
      code,
      defineAperture(
        template,
        parameters,
        this.macros,
        this.unit(line),
        this.attributes.apertureAttributes(),
        line,
        this.notes,
      ),
    );
    for (const key of [...this.shapes.keys()]) if (key.startsWith(`${code}:`)) this.shapes.delete(key);
  }

  private setLoad(code: string, rest: string, text: string, line: number): void {
    if (code === 'LM') {
      const mirror = rest.toUpperCase();
      if (!/^(N|X|Y|XY|YX)$/.test(mirror)) {
        this.unknown(text, line);
        return;
      }
      this.load = { ...this.load, mirrorX: mirror.includes('X'), mirrorY: mirror.includes('Y') };
      return;
    }
    const value = Number(rest);
    if (rest === '' || !Number.isFinite(value) || (code === 'LS' && value <= 0)) {
      this.unknown(text, line);
      return;
    }
    this.load = code === 'LR' ? { ...this.load, angleDeg: value } : { ...this.load, scale: value };
  }

  private attribute(text: string, line: number): void {
    const command = parseAttribute(text);
    if (command) this.attributes.apply(command);
    else this.unknown(text, line);
  }

  private imageCommand(code: string, rest: string, text: string, line: number): void {
    const values = [...rest.matchAll(/([AB])([+-]?[\d.]+)/gi)].map((m) => [m[1].toUpperCase(), Number(m[2])] as const);
    const value = (axis: string): number | undefined => values.find(([name]) => name === axis)?.[1];
    if (code === 'IR') {
      const turn = Number(rest);
      if (![0, 90, 180, 270].includes(turn)) {
        this.unknown(text, line);
        return;
      }
      this.imageTurnDeg = turn;
    } else if (code === 'AS') {
      this.coordinates.swapped = /^AYBX/i.test(rest);
    } else if (code === 'MI') {
      this.coordinates.mirrorA = value('A') === 1;
      this.coordinates.mirrorB = value('B') === 1;
    } else if (code === 'SF') {
      const [a, b] = [value('A') ?? 1, value('B') ?? 1];
      if (!(a > 0 && b > 0)) {
        this.unknown(text, line);
        return;
      }
      this.coordinates.scaleA = a;
      this.coordinates.scaleB = b;
    } else {
      this.coordinates.offsetA = (value('A') ?? 0) * this.unit(line);
      this.coordinates.offsetB = (value('B') ?? 0) * this.unit(line);
    }
    this.notes.warnOnce(
      'OLD_COMMAND',
      line,
      `the file uses the deprecated command ${code}; it is obeyed.`,
      'Compare the result with the board.',
    );
  }

  // --- blocks ------------------------------------------------------------------------------------------------------

  private apertureBlock(rest: string, text: string, line: number): void {
    if (rest === '') {
      if (this.open[this.open.length - 1]?.kind !== 'aperture') this.unknown(text, line);
      else this.closeBlock();
      return;
    }
    const code = Number(/^D?0*(\d+)$/i.exec(rest)?.[1] ?? Number.NaN);
    if (!(code >= 10)) {
      this.unknown(text, line);
      return;
    }
    if (this.open.length >= MAX_DEPTH) {
      this.tooMuch(line, `blocks are nested more than ${MAX_DEPTH} deep`);
      return;
    }
    this.open.push({ kind: 'aperture', code, line, outer: this.objects });
    this.objects = [];
  }

  private stepRepeat(rest: string, text: string, line: number): void {
    if (this.open[this.open.length - 1]?.kind === 'repeat') this.closeBlock();
    if (rest === '') return;
    const word = (letter: string): number =>
      Number(new RegExp(`${letter}([+-]?[\\d.]+)`, 'i').exec(rest)?.[1] ?? Number.NaN);
    const [nx, ny] = [word('X') || 1, word('Y') || 1];
    const mm = this.unit(line);
    const [dx, dy] = [(word('I') || 0) * mm, (word('J') || 0) * mm];
    if (!Number.isInteger(nx) || !Number.isInteger(ny) || nx < 1 || ny < 1) {
      this.unknown(text, line);
      return;
    }
    if (nx * ny > MAX_OBJECTS) {
      this.tooMuch(line, `a step and repeat asks for ${nx} x ${ny} copies`);
      return;
    }
    if (nx * ny === 1) return;
    if (this.open.length >= MAX_DEPTH) {
      this.tooMuch(line, `blocks are nested more than ${MAX_DEPTH} deep`);
      return;
    }
    this.open.push({ kind: 'repeat', code: 0, line, outer: this.objects, repeat: { nx, ny, dx, dy } });
    this.objects = [];
  }

  private closeBlock(): void {
    const block = this.open.pop();
    if (!block) return;
    const inner = this.objects;
    this.objects = block.outer;
    if (block.kind === 'aperture') {
      this.blocks.set(block.code, inner);
      this.apertures.delete(block.code);
      return;
    }
    const { nx, ny, dx, dy } = block.repeat ?? { nx: 1, ny: 1, dx: 0, dy: 0 };
    for (let i = 0; i < nx; i += 1) {
      for (let j = 0; j < ny; j += 1) {
        for (const object of inner)
          this.add({ ...object, regions: object.regions.map((r) => move(r, i * dx, j * dy)) }, block.line);
        if (this.stopped) return;
      }
    }
  }

  private tooMuch(line: number, what: string): void {
    this.notes.fail('TOO_MUCH', line, `${what}; no paste layer is that large.`, 'Check that this is the right file.');
    this.stopped = true;
  }

  private add(object: PaintedObject, line: number): void {
    if (object.regions.length === 0) return;
    this.objects.push(object);
    for (const region of object.regions) {
      this.points += region.outer.length + region.islands.reduce((n, ring) => n + ring.length, 0);
    }
    if (this.objects.length > MAX_OBJECTS || this.points > MAX_POINTS)
      this.tooMuch(line, 'the file draws more than a million objects');
  }

  // --- function codes ----------------------------------------------------------------------------------------------

  private plain({ text, line }: Command): void {
    const comment = /^\s*(?:N\d+\s*)?G0*4(?!\d)([\s\S]*)$/i.exec(text);
    if (comment) {
      // Attributes may come as comments, for readers that know none: G04 #@! TF.FileFunction,Paste,Top
      const hidden = /^\s*#@!\s*(T[FAOD][\s\S]*)$/i.exec(comment[1]);
      if (hidden) this.attribute(hidden[1].replace(/[\r\n]+/g, '').trim(), line);
      return;
    }
    const words = /([A-Za-z])\s*([+-]?[\d.]*)/g;
    const compact = text.replace(/\s+/g, '');
    let consumed = 0;
    let d: number | undefined;
    let [x, y, i, j]: (string | undefined)[] = [];
    for (const match of compact.matchAll(words)) {
      if (match.index !== consumed) break;
      consumed += match[0].length;
      const value = match[2];
      switch (match[1].toUpperCase()) {
        case 'G':
          this.general(Number(value), compact, line);
          break;
        case 'D':
          d = Number(value);
          break;
        case 'M':
          this.misc(Number(value), compact, line);
          break;
        case 'X':
          x = value;
          break;
        case 'Y':
          y = value;
          break;
        case 'I':
          i = value;
          break;
        case 'J':
          j = value;
          break;
        case 'N':
          break;
        default:
          this.unknown(text, line);
          return;
      }
    }
    if (consumed !== compact.length) {
      this.unknown(text, line);
      return;
    }
    if (d !== undefined && d >= 10) this.select(d, line);
    const moves = x !== undefined || y !== undefined || i !== undefined || j !== undefined;
    if ((d === undefined || d >= 10) && !moves) return;
    this.operate(d !== undefined && d < 10 ? d : undefined, { x, y, i, j }, compact, line);
  }

  private general(code: number, text: string, line: number): void {
    switch (code) {
      case 0:
      case 1:
        this.mode = 'line';
        this.scaleOfMode = 1;
        return;
      case 2:
        this.mode = 'clockwise';
        return;
      case 3:
        this.mode = 'counterclockwise';
        return;
      case 10:
      case 11:
      case 12:
        this.mode = 'line';
        this.scaleOfMode = code === 10 ? 10 : code === 11 ? 0.1 : 0.01;
        return;
      case 36:
        this.region ??= [];
        return;
      case 37:
        this.endRegion(line);
        return;
      case 54:
      case 55:
        return;
      case 70:
        this.setUnit(MM_PER_INCH, text, line);
        return;
      case 71:
        this.setUnit(1, text, line);
        return;
      case 74:
        this.multiQuadrant = false;
        return;
      case 75:
        this.multiQuadrant = true;
        return;
      case 90:
        this.incremental = false;
        return;
      case 91:
        this.incremental = true;
        return;
      default:
        this.unknown(text, line);
    }
  }

  private misc(code: number, text: string, line: number): void {
    if (code === 0 || code === 2) this.ended = true;
    else if (code === 1)
      this.notes.warnOnce('OPTIONAL_STOP', line, 'the file holds an optional stop (M01); reading goes on.');
    else this.unknown(text, line);
  }

  private select(code: number, line: number): void {
    if (!this.apertures.has(code) && !this.blocks.has(code)) {
      this.notes.fail(
        'APERTURE_UNDEFINED',
        line,
        `aperture D${code} is used but never defined before.`,
        'The file may need a separate aperture list; export it with embedded apertures (RS-274X).',
      );
      return;
    }
    this.current = code;
  }

  private operate(
    code: number | undefined,
    words: Record<'x' | 'y' | 'i' | 'j', string | undefined>,
    text: string,
    line: number,
  ): void {
    if (code !== undefined && (code < 1 || code > 3)) {
      this.unknown(text, line);
      return;
    }
    if (code !== undefined) this.operation = code as 1 | 2 | 3;
    else if (this.operation === undefined) {
      this.notes.warn(
        'OPERATION_MISSING',
        line,
        `"${shorten(text)}" says neither draw, move nor flash; taken as a move.`,
      );
      this.operation = 2;
    }
    const target = this.target(words, line);
    if (!target) return;
    if (this.operation === 2) {
      if (this.region) this.region.push([target]);
    } else if (this.operation === 3) {
      if (this.region)
        this.notes.warn('FLASH_IN_REGION', line, 'a flash within a region is not allowed; it is left out.');
      else this.flash(target, line);
    } else this.draw(target, words, line);
    this.at = target;
  }

  /** The point that coordinates name, mm, before the image commands. */
  private target(words: Record<'x' | 'y', string | undefined>, line: number): Point | undefined {
    const [x, y] = (['x', 'y'] as const).map((axis) =>
      words[axis] === undefined ? undefined : this.number(words[axis], axis, line),
    );
    if (Number.isNaN(x) || Number.isNaN(y)) return undefined;
    if (this.incremental) return [this.at[0] + (x ?? 0), this.at[1] + (y ?? 0)];
    return [x ?? this.at[0], y ?? this.at[1]];
  }

  private number(digits: string, axis: 'x' | 'y', line: number): number {
    if (!this.format && !digits.includes('.')) {
      this.notes.warnOnce(
        'FORMAT_MISSING',
        line,
        'the file states no coordinate format (FS) before its first coordinate.',
      );
      this.notes.fail(
        'FORMAT_MISSING',
        line,
        'the file states no coordinate format (FS), so its size is unknown.',
        'Export it as RS-274X (extended Gerber).',
      );
      this.stopped = true;
      return Number.NaN;
    }
    const format = this.format ?? {
      x: { integers: 2, decimals: 4 },
      y: { integers: 2, decimals: 4 },
      trailingOmitted: false,
      incremental: false,
    };
    const value = decodeCoordinate(digits, format[axis], format.trailingOmitted) * this.unit(line) * this.scaleOfMode;
    if (!Number.isFinite(value)) {
      this.notes.fail(
        'COORDINATE',
        line,
        `"${shorten(`${axis}${digits}`)}" is no coordinate.`,
        'Export the file again.',
      );
      return Number.NaN;
    }
    return value;
  }

  // --- drawing -----------------------------------------------------------------------------------------------------

  private flash(raw: Point, line: number): void {
    if (this.current === undefined) {
      this.notes.fail(
        'APERTURE_NONE',
        line,
        'a flash comes before any aperture is chosen.',
        'Export the file with embedded apertures (RS-274X).',
      );
      return;
    }
    const [x, y] = mapCoordinate(this.coordinates, raw);
    const block = this.blocks.get(this.current);
    if (block) {
      const map: Affine = { ...loadMap(this.load), e: x, f: y };
      for (const object of block) {
        this.add(
          { ...object, dark: object.dark === this.dark, regions: object.regions.map((r) => mapOpening(map, r)) },
          line,
        );
        if (this.stopped) return;
      }
      return;
    }
    const aperture = this.apertures.get(this.current) as Aperture;
    const shape = this.loaded(this.current, aperture);
    if (shape.regions.length === 0) {
      this.notes.warnOnce(
        'APERTURE_EMPTY',
        line,
        `aperture D${this.current} has no size; what it flashes is not there.`,
      );
    }
    this.add(
      { dark: this.dark, regions: shape.regions.map((r) => move(r, x, y)), tag: this.tag('flash', aperture, line) },
      line,
    );
  }

  /** An aperture's image under the load state, worked out once. */
  private loaded(code: number, aperture: Aperture): Shape {
    if (isPlain(this.load)) return aperture.shape;
    const key = `${code}:${loadKey(this.load)}`;
    const known = this.shapes.get(key);
    if (known) return known;
    const shape = mapShape({ ...IDENTITY, ...loadMap(this.load) }, aperture.shape);
    this.shapes.set(key, shape);
    return shape;
  }

  private draw(target: Point, words: Record<'i' | 'j', string | undefined>, line: number): void {
    const arc = this.mode === 'line' ? undefined : this.arcTo(target, words, line);
    const points = this.mapped(arc ? arcPoints(arc) : [this.at, target]);
    if (this.region) {
      if (this.region.length === 0) this.region.push([this.at]);
      this.region[this.region.length - 1].push(...(arc ? arcPoints(arc).slice(1, -1) : []), target);
      return;
    }
    if (this.keepPaths && points.length > 0) this.paths.push({ points, line });
    if (this.current === undefined) {
      this.notes.fail(
        'APERTURE_NONE',
        line,
        'a stroke comes before any aperture is chosen.',
        'Export the file with embedded apertures (RS-274X).',
      );
      return;
    }
    const aperture = this.apertures.get(this.current);
    if (!aperture) {
      this.notes.warn(
        'BLOCK_STROKE',
        line,
        `block aperture D${this.current} can't be used for a stroke; it is left out.`,
      );
      return;
    }
    const regions = this.stroke(points, arc, aperture, line);
    this.add({ dark: this.dark, regions, tag: this.tag('stroke', aperture, line) }, line);
  }

  private stroke(points: readonly Point[], arc: Arc | undefined, aperture: Aperture, line: number): Region[] {
    const diameter = aperture.diameterMm === undefined ? undefined : aperture.diameterMm * this.load.scale;
    if (diameter !== undefined) {
      if (diameter === 0) return [];
      if (arc && isPlainMap(this.coordinates)) return roundArc(arc, diameter);
      return points.slice(1).flatMap((p, k) => roundLine(points[k], p, diameter));
    }
    const shape = this.loaded(this.current as number, aperture);
    const pen = penRing(shape);
    if (!pen) {
      if (shape.regions.length > 0)
        this.notes.warn(
          'PEN',
          line,
          `aperture D${this.current} (${aperture.family}) is no pen for a stroke; only its ends are drawn.`,
        );
      return fillRings(
        [points[0], points[points.length - 1]].flatMap(([x, y]) => shape.regions.map((r) => move(r, x, y).outer)),
      );
    }
    if (aperture.family !== 'rectangle') {
      this.notes.warnOnce(
        'PEN',
        line,
        `strokes with the aperture D${this.current} (${aperture.family}) are not in the standard; drawn as its hull from end to end.`,
      );
    }
    return points.length === 2 ? convexLine(pen, points[0], points[1]) : convexPath(pen, points);
  }

  private mapped(points: readonly Point[]): Point[] {
    return isPlainMap(this.coordinates) ? [...points] : points.map((p) => mapCoordinate(this.coordinates, p));
  }

  private arcTo(target: Point, words: Record<'i' | 'j', string | undefined>, line: number): Arc | undefined {
    const i = words.i === undefined ? 0 : this.number(words.i, 'x', line);
    const j = words.j === undefined ? 0 : this.number(words.j, 'y', line);
    if (Number.isNaN(i) || Number.isNaN(j)) return undefined;
    const clockwise = this.mode === 'clockwise';
    if (this.multiQuadrant === undefined) {
      this.notes.warnOnce(
        'QUADRANT_MODE',
        line,
        'arcs are drawn before the file says how (G74 or G75); read as multi-quadrant (G75).',
      );
    }
    if (i === 0 && j === 0) {
      this.notes.warnOnce('ARC_WITHOUT_CENTRE', line, 'an arc has no centre; drawn as a straight line.');
      return undefined;
    }
    const single = this.multiQuadrant === false;
    if (single && this.at[0] === target[0] && this.at[1] === target[1]) return undefined;
    const centre: Point = single
      ? singleQuadrantCentre(this.at, target, i, j, clockwise)
      : [this.at[0] + i, this.at[1] + j];
    const arc = arcBetween(this.at, target, centre, clockwise);
    if (Math.abs(arc.startRadius - arc.endRadius) > 0.05 + 0.02 * Math.max(arc.startRadius, arc.endRadius)) {
      this.notes.warn(
        'ARC_RADII',
        line,
        `an arc begins with a radius of ${arc.startRadius.toFixed(3)} mm and ends with ${arc.endRadius.toFixed(3)} mm; drawn as a spiral between them.`,
      );
    }
    return arc;
  }

  private endRegion(line: number): void {
    const contours = (this.region ?? []).filter((contour) => contour.length > 1);
    this.region = undefined;
    const rings = contours.map((contour) => {
      const [first, last] = [contour[0], contour[contour.length - 1]];
      const closed = Math.hypot(first[0] - last[0], first[1] - last[1]) <= 1e-6;
      if (!closed)
        this.notes.warn(
          'CONTOUR_OPEN',
          line,
          'a contour does not end where it begins; it is closed with a straight line.',
        );
      return this.mapped(closed ? contour.slice(0, -1) : contour);
    });
    const filled = rings.filter((ring) => ring.length >= 3);
    if (this.keepPaths) this.contours.push(...filled);
    if (filled.length === 0) return;
    // Each contour is filled on its own, and the fillings are united: the direction of a contour means nothing.
    const fills = filled.flatMap((ring) => fillRings([ring]));
    const regions = filled.length === 1 ? fills : fillRings(fills.flatMap((r) => [r.outer, ...r.islands]));
    this.add({ dark: this.dark, regions, tag: { ...this.attributes.regionTag(), drawn: 'region', line } }, line);
  }

  private tag(drawn: 'flash' | 'stroke', aperture: Aperture, line: number): OpeningTag {
    return { ...this.attributes.tag(aperture.attributes), drawn, shape: aperture.family, line };
  }
}
