import { mapPoint } from '../../geometry/affine.js';
import type { Affine, Point, Region } from '../../geometry/types.js';
import { MM_PER_INCH } from '../../text.js';
import type { Diagnostics } from '../paint/diagnostics.js';
import type { Aperture } from './aperture.js';
import { AttributeState } from './attributes.js';
import type { CoordinateFormat } from './coordinate-format.js';
import type { Macro } from './macro.js';
import { type LoadState, ObjectSink, PLAIN_LOAD } from './object-sink.js';

/** Everything that commands set and drawing needs: the graphics state of one layer while it is read. */
export class LayerState {
  readonly attributes = new AttributeState();
  readonly macros = new Map<string, Macro>();
  readonly apertures = new Map<number, Aperture>();
  readonly sink: ObjectSink;
  /** Straight strokes by pen and direction: a painted pad is one stroke many times. */
  readonly strokes = new WeakMap<Aperture, Map<string, readonly Region[]>>();

  format: CoordinateFormat | undefined;
  mode: 'line' | 'clockwise' | 'counterclockwise' = 'line';
  /** G10, G11 and G12 of the oldest files draw lines at ten times, a tenth and a hundredth. */
  scaleOfMode = 1;
  multiQuadrant: boolean | undefined;
  incremental = false;
  dark = true;
  load: LoadState = PLAIN_LOAD;
  aperture: number | undefined;
  at: Point = [0, 0];
  operation: 1 | 2 | 3 | undefined;
  region: Point[][] | undefined;
  imageTurnDeg = 0;
  /** What the deprecated commands MI, SF, OF and AS do to coordinates, each and together. */
  image: Readonly<Record<string, Affine | undefined>> = {};
  map: Affine | undefined;
  ended = false;

  constructor(
    readonly notes: Diagnostics,
    /** For outlines: of this width is every line, whatever its aperture, mm. */
    readonly stripMm: number | undefined,
    private mm: number | undefined,
  ) {
    this.sink = new ObjectSink(notes);
  }

  /** A point after the image commands. */
  place(point: Point): Point {
    return this.map ? mapPoint(this.map, point) : point;
  }

  /** Millimetres of the unit in force; a problem when the file has none. */
  unit(line: number): number {
    if (this.mm === undefined) {
      this.notes.fail(
        'UNIT_MISSING',
        line,
        'the file does not state its unit, and nothing in it tells inch from millimetre.',
        'Put %MOMM*% or %MOIN*% before its first line, whichever the program that wrote it used.',
      );
      this.mm = MM_PER_INCH;
    }
    return this.mm;
  }

  setUnit(mm: number, line: number): void {
    if (this.mm !== undefined && this.mm !== mm)
      this.notes.warn('UNIT_AGAIN', line, 'the unit changes within the file; each part is read by its own.');
    this.mm = mm;
  }
}
