import { FARTHEST_MM } from '../../geometry/clean.js';
import { arcBetween, arcPoints } from '../../geometry/shapes.js';
import type { Point } from '../../geometry/types.js';
import { digitsTooMany } from '../gerber/coordinate-format.js';
import type { Diagnostics } from '../paint/diagnostics.js';
import { type DrillFormat, type DrillLine, digitsAfter, drillNumber } from './drill-format.js';

/** More holes than this are no board's. */
const MAX_HOLES = 200_000;
/** Settings of machines that move no hole. */
const HARMLESS =
  /^(FMAT|VER|DETECT|ATC|TCST|OSET|OM48|BLKD|SBK|FSB|SG|UP|AFS|CCW|CP|Z|S\d|F\d|B\d|H\d|C\d|G40|G04|M06|M09|M47|M97|M98|M99|M127|R,)/;

/** Obeys the commands of one drill program. */
export class DrillProgram {
  readonly holes: DrilledHole[] = [];
  ended = false;
  private readonly tools: ToolTable;
  /** Diameter of the tool in hand, mm. */
  private tool: number | undefined;
  private at: Point = [0, 0];
  private zero: Point = [0, 0];
  private incremental = false;
  private header = false;
  private routing = false;
  private down = false;
  private arc: 'clockwise' | 'counterclockwise' | undefined;
  /** Holes since M25, to be repeated. */
  private pattern: { from: number; to: number; shift: Point } | undefined;

  constructor(
    private readonly format: DrillFormat,
    private readonly notes: Diagnostics,
  ) {
    this.tools = new ToolTable(format.mm, notes);
  }

  obey(command: DrillLine): void {
    if (command.comment) {
      this.tools.comment(command);
      return;
    }
    const text = command.text.replace(/^N\d+/, '');
    if (/^(METRIC|INCH|M7[12]$)/.test(text) || HARMLESS.test(text)) return;
    if (text === '%' || text === 'M95') this.header = false;
    else if (text === 'M48') this.header = true;
    else if (/^ICI/.test(text)) this.incremental = /ON/.test(text);
    else if (/^T\d/.test(text)) this.chooseTool(text);
    else if (/^R\d/.test(text)) this.repeat(text);
    // They have two digits: one alone is what is left of another where a file is cut off.
    else if (/^M\d\d/.test(text)) this.miscellaneous(Number(/^M(\d+)/.exec(text)?.[1]), text);
    else if (/^G\d/.test(text)) this.general(text);
    else if (/^[XY]/.test(text)) this.coordinates(text);
    else this.unknown(text);
  }

  private unknown(text: string): void {
    this.notes.warn('UNKNOWN_COMMAND', `the command "${text.slice(0, 40)}" is not known and was left out.`);
  }

  private chooseTool(text: string): void {
    const code = Number(/^T(\d+)/.exec(text)?.[1]);
    const size = digitsAfter(text, 'C');
    if (size !== undefined) this.tools.define(code, size);
    if (this.header || code === 0) return;
    this.tool = this.tools.get(code);
    if (this.tool || size !== undefined) return;
    this.notes.fail(
      'TOOL_UNDEFINED',
      `tool T${code} is used but its diameter is not stated.`,
      'Export the drill file with tool sizes in its header.',
    );
  }

  private miscellaneous(code: number, text: string): void {
    const count = this.holes.length;
    if (code === 30 || code === 0) this.ended = true;
    else if (code === 15 || code === 14) this.down = true;
    else if (code === 16 || code === 17) this.down = false;
    else if (code === 25) this.pattern = { from: count, to: count, shift: [0, 0] };
    else if (code === 1) {
      // Without a pattern it is an optional stop.
      if (this.pattern) this.pattern.to = count;
    } else if (code === 2 && this.pattern) this.repeatPattern(text, this.pattern);
    else if (code === 8) this.pattern = undefined;
    else this.unknown(text);
  }

  private general(text: string): void {
    const match = /^G(\d+)(.*)$/.exec(text) as RegExpExecArray;
    const [code, rest] = [Number(match[1]), match[2]];
    switch (code) {
      case 0:
        [this.routing, this.down, this.arc] = [true, false, undefined];
        break;
      case 1:
        this.arc = undefined;
        break;
      case 2:
      case 3:
        this.arc = code === 2 ? 'clockwise' : 'counterclockwise';
        break;
      case 5:
      case 81:
        [this.routing, this.arc] = [false, undefined];
        break;
      case 85:
        this.slot(this.at, rest);
        return;
      case 90:
      case 91:
        this.incremental = code === 91;
        break;
      case 93: {
        const zero = this.point(rest, false);
        if (zero) this.zero = zero;
        this.notes.warnOnce('ZERO_SET', 'the drill file moves its zero point (G93); it is followed.');
        return;
      }
      default:
        this.unknown(text);
        return;
    }
    if (/[XY]/.test(rest)) this.coordinates(rest);
  }

  private coordinates(text: string): void {
    const parts = text.split('G85');
    const to = this.point(parts[0], this.incremental);
    if (!to) return;
    if (parts.length > 1) {
      this.slot(to, parts[1]);
      return;
    }
    const from = this.at;
    this.at = to;
    if (!this.routing) this.drill(to);
    else if (this.down) for (const [p, q] of this.routed(from, to, text)) this.drill(p, q);
  }

  private slot(from: Point, text: string): void {
    this.at = from;
    const to = this.point(text, this.incremental);
    if (!to) return;
    this.at = to;
    this.drill(from, to);
  }

  /** Straight pieces from one point to another, along an arc when one is on. */
  private routed(from: Point, to: Point, text: string): (readonly [Point, Point])[] {
    if (!this.arc) return [[from, to]];
    const clockwise = this.arc === 'clockwise';
    const centre = this.centreOf(from, to, text, clockwise);
    if (!centre) {
      this.notes.warn('ROUTED_ARC', 'a routed arc has no radius and no centre; taken as straight.');
      return [[from, to]];
    }
    const points = arcPoints(arcBetween(from, to, centre, clockwise));
    return points.slice(1).map((p, i) => [points[i], p] as const);
  }

  /** Centre of a routed arc: by I and J from its start, or by the radius A, of which the shorter arc is meant. */
  private centreOf(from: Point, to: Point, text: string, clockwise: boolean): Point | undefined {
    const value = (letter: string): number | undefined => {
      const digits = digitsAfter(text, letter);
      return digits === undefined ? undefined : drillNumber(digits, this.format) * this.format.mm;
    };
    const [i, j, radius] = [value('I'), value('J'), value('A')];
    if (i !== undefined || j !== undefined) {
      const centre: Point = [from[0] + (i ?? 0), from[1] + (j ?? 0)];
      return Number.isFinite(centre[0] + centre[1]) ? centre : undefined;
    }
    const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    const chord = Math.hypot(dx, dy);
    if (radius === undefined || !(radius > 0) || chord === 0) return undefined;
    const height = Math.sqrt(Math.max(0, radius ** 2 - chord ** 2 / 4)) * (clockwise ? -1 : 1);
    return [from[0] + dx / 2 - (dy / chord) * height, from[1] + dy / 2 + (dx / chord) * height];
  }

  private repeat(text: string): void {
    const count = Number(/^R(\d+)/.exec(text)?.[1]);
    const step = this.offset(text);
    if (!step) return;
    if (count > MAX_HOLES) this.tooMany();
    for (let k = 0; k < count && !this.ended; k += 1) {
      this.at = [this.at[0] + step[0], this.at[1] + step[1]];
      this.drill(this.at);
    }
  }

  private repeatPattern(text: string, pattern: { from: number; to: number; shift: Point }): void {
    const step = this.offset(text);
    if (!step) return;
    if (/M[78]0|M90/.test(text)) this.unknown(text);
    const { from, to } = pattern;
    pattern.shift = [pattern.shift[0] + step[0], pattern.shift[1] + step[1]];
    const [dx, dy] = pattern.shift;
    for (const hole of this.holes.slice(from, to)) {
      const slotTo: Point | undefined = hole.slotTo && [hole.slotTo[0] + dx, hole.slotTo[1] + dy];
      this.keep({ ...hole, x: hole.x + dx, y: hole.y + dy, ...(slotTo ? { slotTo } : {}) });
    }
  }

  private tooMany(): void {
    this.notes.fail('TOO_MUCH', `there are more than ${MAX_HOLES} holes.`, 'Check that this is the right file.');
    this.ended = true;
  }

  /** X and Y as a step; an axis that is not there is 0. */
  private offset(text: string): Point | undefined {
    const x = this.number(text, 'X');
    const y = this.number(text, 'Y');
    return Number.isNaN(x) || Number.isNaN(y) ? undefined : [x ?? 0, y ?? 0];
  }

  private point(text: string, incremental: boolean): Point | undefined {
    const x = this.number(text, 'X');
    const y = this.number(text, 'Y');
    if (Number.isNaN(x) || Number.isNaN(y)) return undefined;
    const [px, py] = this.at;
    if (incremental) return [px + (x ?? 0), py + (y ?? 0)];
    return [x === undefined ? px : x + this.zero[0], y === undefined ? py : y + this.zero[1]];
  }

  private number(text: string, axis: 'X' | 'Y'): number | undefined {
    const digits = digitsAfter(text, axis);
    if (digits === undefined) return undefined;
    const value = drillNumber(digits, this.format) * this.format.mm;
    if (!digits.includes('.') && digitsTooMany(digits, this.format, this.format.keeps === 'leading') > 0) {
      this.notes.warn(
        'DIGITS_TOO_MANY',
        `"${axis}${digits}" has more digits than the format of the file, ${this.format.integers}.${this.format.decimals}; it is read as ${value.toFixed(3)} mm.`,
        'Check the positions of the holes on the dry fit, or export the drill file with decimal points.',
      );
    }
    if (!(Math.abs(value) <= FARTHEST_MM)) {
      this.notes.fail('DRILL_NUMBER', `"${text.slice(0, 40)}" holds no readable ${axis}.`);
      return Number.NaN;
    }
    return value;
  }

  /** Steps add up: each may be possible, and their sum lie off every machine. */
  private keep(hole: DrilledHole): void {
    const { x, y, slotTo = [x, y] } = hole;
    const reach = Math.max(...[x, y, ...slotTo].map(Math.abs));
    if (reach <= FARTHEST_MM && this.holes.length < MAX_HOLES) {
      this.holes.push(hole);
      return;
    }
    this.ended = true;
    if (reach <= FARTHEST_MM) this.tooMany();
    else
      this.notes.fail(
        'DRILL_NUMBER',
        `a hole lies at ${x.toFixed(0)}, ${y.toFixed(0)} mm, farther off than any board.`,
        'Check the steps (G91, R, M02) in the file, or export it again.',
      );
  }

  private drill([x, y]: Point, slotTo?: Point): void {
    if (!this.tool) {
      this.notes.fail(
        'TOOL_UNDEFINED',
        'a hole comes before any tool with a diameter is chosen.',
        'Export the drill file with tool sizes in its header.',
      );
      return;
    }
    this.keep({ x, y, diameterMm: this.tool, ...(slotTo ? { slotTo } : {}) });
  }
}

/** No drill and no router is larger, mm. */
const LARGEST_MM = 100;
/** What rounding to mils or hundredths of a millimetre may make of one and the same diameter, mm. */
const SAME_MM = 0.026;

/** Diameters of a program's tools by number, mm. */
class ToolTable {
  private readonly tools = new Map<number, number>();

  constructor(
    private readonly mm: number,
    private readonly notes: Diagnostics,
  ) {}

  /** `T01`, also `T0101` with an offset number behind it. */
  get(code: number): number | undefined {
    return this.tools.get(code) ?? this.tools.get(Math.floor(code / 100));
  }

  /** Takes a definition such as `T01F085S05C0.8`. */
  define(code: number, size: string): void {
    const diameterMm = /^\+?(?:\d+\.?\d*|\.\d+)$/.test(size) ? Number(size) * this.mm : Number.NaN;
    if (!(diameterMm > 0 && diameterMm <= LARGEST_MM)) {
      this.notes.fail('DRILL_NUMBER', `tool T${code} has the diameter "${size}".`);
      return;
    }
    const known = this.tools.get(code) ?? diameterMm;
    if (Math.abs(known - diameterMm) > SAME_MM) {
      this.notes.warn(
        'DEFINED_AGAIN',
        `tool T${code} has the diameter ${known.toFixed(3)} mm and, from here on, ${diameterMm.toFixed(3)} mm; each hole takes the one before it.`,
        'Measure the holes on the board, or export the drill file again.',
      );
    }
    this.tools.set(code, diameterMm);
  }

  /** Takes a row of a table of tools, as comments hold them. */
  comment({ text }: DrillLine): void {
    const row = /holesize\s+(\d+)\.?\s*=\s*([\d.]+).*?\b(MILS|MM|MILLIMETERS|INCH(?:ES)?)\b/i.exec(text);
    if (!row) return;
    const mm = /^MIL/i.test(row[3]) && !/^MILLI/i.test(row[3]) ? 0.0254 : /^IN/i.test(row[3]) ? 25.4 : 1;
    const diameterMm = Number(row[2]) * mm;
    if (!(diameterMm > 0)) this.notes.warn('UNKNOWN_COMMAND', 'a table of tools in a comment could not be read.');
    else this.tools.set(Number(row[1]), diameterMm);
  }
}

/** A drilled hole or slot, mm. */
export interface DrilledHole {
  readonly x: number;
  readonly y: number;
  readonly diameterMm: number;
  /** The other end of a slot. A routed arc comes as several slots end to end. */
  readonly slotTo?: Point;
}
