import { InputError, type Problem, type Warning } from '../../errors.js';
import type { Point } from '../../geometry/types.js';
import { decodeText } from '../gerber/lex.js';
import { sniff } from '../sniff.js';
import { drillNumbers, type NumberFormat } from './numbers.js';

/** A drilled hole or slot, mm. */
export interface DrilledHole {
  readonly x: number;
  readonly y: number;
  readonly diameterMm: number;
  /** The other end of a slot. */
  readonly slotTo?: Point;
  /** What the file says of its wall, where it says so. */
  readonly plated?: boolean;
}

export interface Drilled {
  readonly holes: readonly DrilledHole[];
  readonly warnings: readonly Warning[];
}

/** More holes than this are no board's. */
const MAX_HOLES = 500_000;
const MM_PER_INCH = 25.4;

interface Tool {
  readonly diameterMm: number;
  readonly plated?: boolean;
}

/**
 * Reads a drill file (Excellon, XNC) into holes.
 *
 * @param bytes - the whole file
 * @returns holes and slots in mm, in the order of drilling; what was assumed as warnings
 * @throws {InputError} NOT_A_DRILL_FILE, TOOL_UNDEFINED, DRILL_NUMBER, NO_HOLES with line numbers
 */
export async function readDrill(bytes: Uint8Array, options: { readonly name?: string } = {}): Promise<Drilled> {
  const format = sniff(bytes);
  if (format !== 'drill') {
    throw new InputError({
      code: 'NOT_A_DRILL_FILE',
      place: { file: options.name },
      message: `expected a drill file (Excellon or XNC), found ${format === 'unknown' ? 'something else' : `a file of the kind ${format}`}.`,
      hint: 'Give the drill file, or holes by hand with --hole x,y,d.',
    });
  }
  return new DrillReader(options.name).read(decodeText(bytes));
}

/** Reads one file line by line. */
class DrillReader {
  private readonly tools = new Map<number, Tool>();
  private readonly holes: DrilledHole[] = [];
  private readonly warnings: Warning[] = [];
  private readonly problems: Problem[] = [];
  private readonly said = new Set<string>();
  private mm: number | undefined;
  private format: NumberFormat = {};
  private tool: Tool | undefined;
  private at: Point = [0, 0];
  private incremental = false;
  private header = false;
  private routing = false;
  private toolDown = false;
  private plated: boolean | undefined;
  private line = 0;

  constructor(private readonly file: string | undefined) {}

  read(text: string): Drilled {
    const lines = text.split(/\r\n|\r|\n/);
    const body = lines.map((raw) => raw.trim());
    for (const raw of body) {
      this.line += 1;
      if (this.holes.length > MAX_HOLES) {
        this.fail('TOO_MUCH', `there are more than ${MAX_HOLES} holes.`, 'Check that this is the right file.');
        break;
      }
      if (raw === '') continue;
      if (raw.startsWith(';')) this.comment(raw);
      else if (/^M30|^M00$/i.test(raw)) break;
      else this.command(raw.toUpperCase().replace(/\s+/g, ''));
    }
    if (!body.some((raw) => /^M30|^M00$/i.test(raw))) {
      this.warn('END_MISSING', 'the drill file has no end command (M30); it may be cut off.');
    }
    if (this.problems.length > 0) throw new InputError(this.problems.slice(0, 20));
    if (this.holes.length === 0) {
      throw new InputError({
        code: 'NO_HOLES',
        place: { file: this.file },
        message: 'the drill file holds no holes.',
        hint: 'Check that this is the right file.',
      });
    }
    return { holes: this.holes, warnings: this.warnings };
  }

  private fail(code: string, message: string, hint?: string): void {
    this.problems.push({ code, message, hint, place: { file: this.file, line: this.line } });
  }

  private warn(code: string, message: string, hint?: string): void {
    if (this.said.has(code)) return;
    this.said.add(code);
    this.warnings.push({ code, message, hint, place: { file: this.file, line: this.line } });
  }

  /** Programs state the digits in comments: `;FILE_FORMAT=2:4`, `; FORMAT={3:3/ absolute / metric / decimal}`. */
  private comment(raw: string): void {
    const digits = /(?:FILE_?FORMAT|FORMAT)\s*=\s*\{?\s*(\d)[:.](\d)/i.exec(raw);
    if (digits) this.format = { ...this.format, integers: Number(digits[1]), decimals: Number(digits[2]) };
    if (/FORMAT/i.test(raw)) {
      if (/metric/i.test(raw)) this.mm ??= 1;
      if (/inch/i.test(raw)) this.mm ??= MM_PER_INCH;
      if (/suppress leading|leading zeros? (?:omitted|suppress)|keep trailing/i.test(raw))
        this.format = { ...this.format, keeps: 'trailing' };
      if (/suppress trailing|trailing zeros? (?:omitted|suppress)|keep leading/i.test(raw))
        this.format = { ...this.format, keeps: 'leading' };
    }
    if (/TYPE\s*=\s*NON_?PLATED|NonPlated|NPTH/i.test(raw)) this.plated = false;
    else if (/TYPE\s*=\s*PLATED|,Plated|[^N]PTH/i.test(raw)) this.plated = true;
  }

  private command(text: string): void {
    if (text === '%' || text === 'M95') {
      this.header = false;
      return;
    }
    if (text === 'M48') {
      this.header = true;
      return;
    }
    if (/^(METRIC|INCH|M71|M72)/.test(text)) {
      this.units(text);
      return;
    }
    if (/^T\d/.test(text)) {
      this.toolCommand(text);
      return;
    }
    if (/^R\d/.test(text)) {
      this.repeat(text);
      return;
    }
    const settled = text.replace(/^N\d+/, '');
    const general = /^G(\d+)/.exec(settled);
    const misc = /^M(\d+)/.exec(settled);
    if (misc) this.misc(Number(misc[1]), settled);
    else if (general) this.general(Number(general[1]), settled, settled.slice(general[0].length));
    else if (/^[XY]/.test(settled)) this.move(settled);
    else if (!/^(FMAT|VER|ICI|DETECT|ATC|TCST|OSET|S\d|F\d|Z|B\d|C\d)/.test(settled)) {
      this.warn('UNKNOWN_COMMAND', `the command "${settled.slice(0, 40)}" is not known and was left out.`);
    }
  }

  private units(text: string): void {
    const metric = text.startsWith('METRIC') || text.startsWith('M71');
    this.mm = metric ? 1 : MM_PER_INCH;
    if (/,LZ/.test(text)) this.format = { ...this.format, keeps: 'leading' };
    if (/,TZ/.test(text)) this.format = { ...this.format, keeps: 'trailing' };
    const digits = /,(0+)\.(0+)/.exec(text);
    if (digits) this.format = { ...this.format, integers: digits[1].length, decimals: digits[2].length };
  }

  private toolCommand(text: string): void {
    const code = Number(/^T(\d+)/.exec(text)?.[1]);
    const size = /C([\d.]+)/.exec(text)?.[1];
    if (size !== undefined) {
      const diameter = Number(size) * this.unit();
      if (!(diameter > 0))
        this.fail('DRILL_NUMBER', `tool T${code} has the diameter "${size}".`, 'Export the drill file again.');
      this.tools.set(code, { diameterMm: diameter, ...(this.plated === undefined ? {} : { plated: this.plated }) });
      if (!this.header) this.tool = this.tools.get(code);
      return;
    }
    if (code === 0) return;
    // T01 and T0101 (tool and offset) are the same tool.
    const tool = this.tools.get(code) ?? this.tools.get(Math.floor(code / 100));
    if (this.header) return;
    if (!tool) {
      this.fail(
        'TOOL_UNDEFINED',
        `tool T${code} is used but its diameter is not stated.`,
        'Export the drill file with tool sizes in its header.',
      );
      return;
    }
    this.tool = tool;
  }

  private unit(): number {
    if (this.mm === undefined) {
      this.warn(
        'UNIT_ASSUMED',
        'the drill file does not state its unit; read as inch, the default of old programs.',
        'Check the positions of the holes.',
      );
      this.mm = MM_PER_INCH;
    }
    return this.mm;
  }

  private general(code: number, text: string, rest: string): void {
    if (code === 85) return;
    const slot = /^(.*)G85(.*)$/.exec(text);
    if (slot) {
      this.move(text);
      return;
    }
    switch (code) {
      case 0:
        this.routing = true;
        this.toolDown = false;
        if (rest) this.at = this.point(rest) ?? this.at;
        return;
      case 1:
        if (this.routing && rest) this.route(rest);
        return;
      case 2:
      case 3:
        this.warn('ROUTED_ARC', 'routed arcs are left out; only straight slots are taken.');
        if (rest) this.at = this.point(rest) ?? this.at;
        return;
      case 5:
      case 81:
        this.routing = false;
        if (rest) this.move(rest);
        return;
      case 90:
        this.incremental = false;
        return;
      case 91:
        this.incremental = true;
        return;
      case 93:
        this.warn('ZERO_SET', 'the drill file moves its zero point (G93); holes may be shifted.');
        return;
      default:
        this.warn('UNKNOWN_COMMAND', `the command "${text.slice(0, 40)}" is not known and was left out.`);
    }
  }

  private misc(code: number, text: string): void {
    if (code === 15) this.toolDown = true;
    else if (code === 16 || code === 17) this.toolDown = false;
    else if (code === 71 || code === 72) this.units(text);
    else if (code === 25 || code === 1 || code === 2 || code === 8)
      this.warn('PATTERN_REPEAT', 'repeated patterns (M25 to M08) are left out.', 'Compare the number of holes.');
  }

  private move(text: string): void {
    const slot = /^(.*?)G85(.*)$/.exec(text);
    if (slot) {
      const from = this.point(slot[1]);
      if (!from) return;
      this.at = from;
      const to = this.point(slot[2]);
      if (to) this.drill(from, to);
      this.at = to ?? from;
      return;
    }
    const to = this.point(text);
    if (!to) return;
    if (this.routing) {
      this.route(text, to);
      return;
    }
    this.at = to;
    this.drill(to);
  }

  private route(text: string, known?: Point): void {
    const to = known ?? this.point(text);
    if (!to) return;
    if (this.toolDown) this.drill(this.at, to);
    this.at = to;
  }

  private repeat(text: string): void {
    const match = /^R(\d+)(.*)$/.exec(text);
    const count = Number(match?.[1]);
    const [x, y] = (['X', 'Y'] as const).map((axis) => drillNumbers(match?.[2] ?? '', axis, this.format));
    if (!(count >= 1 && count <= 100_000)) {
      this.fail('DRILL_NUMBER', `"${text.slice(0, 40)}" is no repeat.`);
      return;
    }
    const unit = this.unit();
    for (let i = 0; i < count; i += 1) {
      this.at = [this.at[0] + (x ?? 0) * unit, this.at[1] + (y ?? 0) * unit];
      this.drill(this.at);
    }
  }

  private point(text: string): Point | undefined {
    const [x, y] = (['X', 'Y'] as const).map((axis) => {
      const value = drillNumbers(
        text,
        axis,
        this.format,
        (what) => this.warn('DRILL_FORMAT', what, 'Check the positions of the holes on the dry fit.'),
        this.unit() === 1,
      );
      if (Number.isNaN(value))
        this.fail('DRILL_NUMBER', `"${text.slice(0, 40)}" holds no readable ${axis}.`, 'Export the drill file again.');
      return value === undefined ? undefined : value * this.unit();
    });
    if (Number.isNaN(x) || Number.isNaN(y)) return undefined;
    return this.incremental ? [this.at[0] + (x ?? 0), this.at[1] + (y ?? 0)] : [x ?? this.at[0], y ?? this.at[1]];
  }

  private drill([x, y]: Point, slotTo?: Point): void {
    if (!this.tool) {
      this.fail(
        'TOOL_UNDEFINED',
        'a hole comes before any tool is chosen.',
        'Export the drill file with tool sizes in its header.',
      );
      return;
    }
    const { diameterMm, plated } = this.tool;
    this.holes.push({ x, y, diameterMm, ...(slotTo ? { slotTo } : {}), ...(plated === undefined ? {} : { plated }) });
  }
}
