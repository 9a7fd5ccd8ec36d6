import type { Diagnostics } from '../paint/diagnostics.js';
import type { DrillLine } from './drill-lines.js';

/** No drill and no router is larger, mm. */
const LARGEST_MM = 100;
/** What rounding to mils or hundredths of a millimetre may make of one and the same diameter, mm. */
const SAME_MM = 0.026;

/** Diameters of a program's tools by number, mm. */
export class ToolTable {
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
    const known = this.tools.get(code) ?? diameterMm;
    if (Math.abs(known - diameterMm) > SAME_MM) {
      this.notes.warn(
        'DEFINED_AGAIN',
        line,
        `tool T${code} has the diameter ${known.toFixed(3)} mm and, from here on, ${diameterMm.toFixed(3)} mm; each hole takes the one before it.`,
        'Measure the holes on the board, or export the drill file again.',
      );
    }
    this.tools.set(code, diameterMm);
  }

  /** Takes a row of a table of tools, as comments hold them. */
  comment({ text, line }: DrillLine): void {
    const row = /holesize\s+(\d+)\.?\s*=\s*([\d.]+).*?\b(MILS|MM|MILLIMETERS|INCH(?:ES)?)\b/i.exec(text);
    if (!row) return;
    const mm = /^MIL/i.test(row[3]) && !/^MILLI/i.test(row[3]) ? 0.0254 : /^IN/i.test(row[3]) ? 25.4 : 1;
    const diameterMm = Number(row[2]) * mm;
    if (!(diameterMm > 0)) this.notes.warn('UNKNOWN_COMMAND', line, 'a table of tools in a comment could not be read.');
    else this.tools.set(Number(row[1]), diameterMm);
  }
}
