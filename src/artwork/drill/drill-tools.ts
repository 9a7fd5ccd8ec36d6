import type { Diagnostics } from '../paint/diagnostics.js';
import type { DrillLine } from './drill-lines.js';

export interface Tool {
  readonly diameterMm: number;
  /** What the file says of the hole's wall, where it says so. */
  readonly plated?: boolean;
}

/** No drill and no router is larger, mm. */
const LARGEST_MM = 100;
/** What rounding to mils or hundredths of a millimetre may make of one and the same diameter, mm. */
const SAME_MM = 0.026;

/** The tools of a program by number, and what its comments say of the holes they drill. */
export class ToolTable {
  private readonly tools = new Map<number, Tool>();
  private filePlated: boolean | undefined;
  private toolPlated: boolean | undefined;

  constructor(
    private readonly mm: number,
    private readonly notes: Diagnostics,
  ) {}

  /** `T01`, also `T0101` with an offset number behind it. */
  get(code: number): Tool | undefined {
    return this.tools.get(code) ?? this.tools.get(Math.floor(code / 100));
  }

  /** Takes a definition such as `T01F085S05C0.8`. */
  define(code: number, size: string, line: number): void {
    const diameterMm = /^\+?(?:\d+\.?\d*|\.\d+)$/.test(size) ? Number(size) * this.mm : Number.NaN;
    if (!(diameterMm > 0 && diameterMm <= LARGEST_MM)) {
      this.notes.fail(
        'DRILL_NUMBER',
        line,
        `tool T${code} has the diameter "${size}".`,
        'Export the drill file again.',
      );
      return;
    }
    const plated = this.toolPlated ?? this.filePlated;
    const known = this.tools.get(code)?.diameterMm ?? diameterMm;
    if (Math.abs(known - diameterMm) > SAME_MM) {
      this.notes.warn(
        'DEFINED_AGAIN',
        line,
        `tool T${code} has the diameter ${known.toFixed(3)} mm and, from here on, ${diameterMm.toFixed(3)} mm; each hole takes the one before it.`,
        'Measure the holes on the board, or export the drill file again.',
      );
    }
    this.tools.set(code, { diameterMm, ...(plated === undefined ? {} : { plated }) });
  }

  /** Takes what a comment says: attributes, the kind of the file, or a table of tools. */
  comment({ text, line }: DrillLine): void {
    const attribute = /#@!\s*(TF|TA|TD)\.?(\w*),?(.*)$/i.exec(text);
    if (attribute) {
      const [, kind, , values] = attribute;
      const plated = platedIn(values);
      if (kind.toUpperCase() === 'TD') this.toolPlated = undefined;
      else if (plated !== undefined && kind.toUpperCase() === 'TF') this.filePlated = plated;
      else if (plated !== undefined) this.toolPlated = plated;
      return;
    }
    const type = /TYPE\s*=\s*(NON_?PLATED|PLATED)/i.exec(text);
    if (type) this.filePlated = !/^NON/i.test(type[1]);
    const row =
      /holesize\s+(\d+)\.?\s*=\s*([\d.]+).*?\b(NON_?PLATED|PLATED)?\s*(MILS|MM|MILLIMETERS|INCH(?:ES)?)\b/i.exec(text);
    if (!row) return;
    const mm = /^MIL/i.test(row[4]) && !/^MILLI/i.test(row[4]) ? 0.0254 : /^IN/i.test(row[4]) ? 25.4 : 1;
    const diameterMm = Number(row[2]) * mm;
    if (!(diameterMm > 0)) this.notes.warn('UNKNOWN_COMMAND', line, 'a table of tools in a comment could not be read.');
    else this.tools.set(Number(row[1]), { diameterMm, ...(row[3] ? { plated: !/^NON/i.test(row[3]) } : {}) });
  }
}

function platedIn(values: string): boolean | undefined {
  if (/NonPlated|NPTH/i.test(values)) return false;
  return /Plated|PTH/i.test(values) && !/Mixed/i.test(values) ? true : undefined;
}
