import { IDENTITY, mapOpening, mapPoint, rotation } from '../../geometry/affine.js';
import type { Affine, OpeningTag, Point, Region } from '../../geometry/types.js';
import { kept } from '../../kept.js';
import { MM_PER_INCH } from '../../text.js';
import type { PaintedObject } from '../paint/compose.js';
import type { Diagnostics } from '../paint/diagnostics.js';
import { cornersOf } from '../paint/painted-groups.js';
import type { Aperture } from './aperture.js';
import { AttributeState } from './attributes.js';
import type { CoordinateFormat } from './coordinate-format.js';
import type { Macro } from './macro.js';

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
  unit(): number {
    if (this.mm === undefined) {
      this.notes.fail(
        'UNIT_MISSING',
        'the file does not state its unit, and nothing in it tells inch from millimetre.',
        'Put %MOMM*% or %MOIN*% before its first line, whichever the program that wrote it used.',
      );
      this.mm = MM_PER_INCH;
    }
    return this.mm;
  }

  setUnit(mm: number): void {
    if (this.mm !== undefined && this.mm !== mm)
      this.notes.warn('UNIT_AGAIN', 'the unit changes within the file; each part is read by its own.');
    this.mm = mm;
  }
}

/** A layer with more than this is no paste layer, and would not fit into memory. */
const MAX_OBJECTS = 1_000_000;
const MAX_CORNERS = 8_000_000;
const MAX_DEPTH = 20;

/** How often and how far apart a step and repeat puts its objects, mm. */
export interface Repeat {
  readonly nx: number;
  readonly ny: number;
  readonly dx: number;
  readonly dy: number;
}

/** A block that has been opened and not closed yet. */
interface OpenBlock {
  /** D code of a block aperture; undefined for a step and repeat. */
  readonly code?: number;
  readonly repeat?: Repeat;
  readonly line: number | undefined;
  readonly outer: PaintedObject[];
}

/** Takes the objects that a layer draws, into the layer itself or into the block that is open. */
class ObjectSink {
  readonly blocks = new Map<number, readonly PaintedObject[]>();
  private objects: PaintedObject[] = [];
  private readonly open: OpenBlock[] = [];
  private corners = 0;
  private readonly seen = new WeakSet<readonly Region[]>();
  private count = 0;
  private readonly mapped = new WeakMap<readonly Region[], Map<string, readonly Region[]>>();
  /** Set when there is more than can be worked with; the problem is in the notes. */
  full = false;

  constructor(private readonly notes: Diagnostics) {}

  get all(): readonly PaintedObject[] {
    return this.objects;
  }

  /** The innermost open block, if any. */
  get innermost(): { readonly kind: 'aperture' | 'repeat'; readonly line: number | undefined } | undefined {
    const block = this.open[this.open.length - 1];
    return block && { kind: block.repeat ? 'repeat' : 'aperture', line: block.line };
  }

  /** Whether any block aperture is being defined. */
  get inAperture(): boolean {
    return this.open.some(({ repeat }) => !repeat);
  }

  add(object: PaintedObject): void {
    if (object.regions.length === 0 || this.full) return;
    this.objects.push(object);
    this.count += 1;
    // Copies share their shape, so each shape counts once.
    if (!this.seen.has(object.regions)) {
      this.seen.add(object.regions);
      this.corners += object.regions.reduce((sum, region) => sum + cornersOf(region), 0);
    }
    if (this.count > MAX_OBJECTS) this.tooMuch(`the file draws more than ${MAX_OBJECTS} objects`);
    else if (this.corners > MAX_CORNERS) this.tooMuch(`the shapes in the file have more than ${MAX_CORNERS} corners`);
  }

  openBlock(block: { code: number } | { repeat: Repeat }): void {
    if (this.open.length >= MAX_DEPTH) {
      this.tooMuch(`blocks are nested more than ${MAX_DEPTH} deep`);
      return;
    }
    this.open.push({ ...block, line: this.notes.line, outer: this.objects });
    this.objects = [];
  }

  /** Closes the innermost block: keeps it as an aperture, or puts its copies. */
  closeBlock(): void {
    const block = this.open.pop();
    if (!block) return;
    const inner = this.objects;
    this.objects = block.outer;
    if (block.code !== undefined) this.blocks.set(block.code, inner);
    if (!block.repeat || inner.length === 0) return;
    const { nx, ny, dx, dy } = block.repeat;
    const { line } = this.notes;
    this.notes.line = block.line;
    if (nx * ny * inner.length > MAX_OBJECTS)
      this.tooMuch(`a step and repeat makes ${nx} x ${ny} copies of ${inner.length} objects`);
    else
      for (let i = 0; i < nx; i += 1)
        for (let j = 0; j < ny; j += 1) this.flashBlock(inner, PLAIN_LOAD, [i * dx, j * dy], true, {});
    this.notes.line = line;
  }

  /** Flashes a block aperture: all its objects, loaded and shifted; clear turns their polarity round. */
  flashBlock(objects: readonly PaintedObject[], load: LoadState, at: Point, dark: boolean, tag: OpeningTag): void {
    const map = loadMap(load);
    for (const object of objects) {
      if (this.full) return;
      const [x, y] = object.at ? mapPoint(map, object.at) : [0, 0];
      this.add({
        dark: object.dark === dark,
        regions: this.loaded(object.regions, load),
        at: [x + at[0], y + at[1]],
        tag: { ...tag, ...object.tag },
      });
    }
  }

  /** Regions mirrored, turned and scaled, worked out once for each state. */
  loaded(regions: readonly Region[], load: LoadState): readonly Region[] {
    const key = loadKey(load);
    return key === loadKey(PLAIN_LOAD) ? regions : this.mapBy(regions, loadMap(load), key);
  }

  private mapBy(regions: readonly Region[], map: Affine, key: string): readonly Region[] {
    const byKey = kept(this.mapped, regions, () => new Map());
    return kept(byKey, key, () => regions.map((region) => mapOpening(map, region)));
  }

  /** Turns everything about the origin (IR). */
  turn(map: Affine): void {
    this.objects = this.objects.map((object) => ({
      ...object,
      regions: this.mapBy(object.regions, map, 'image'),
      at: mapPoint(map, object.at ?? [0, 0]),
    }));
  }

  tooMuch(what: string): void {
    this.notes.fail('TOO_MUCH', `${what}; no paste layer is that large.`, 'Check that this is the right file.');
    this.full = true;
  }
}

/** How an aperture is turned before it is used: the LM, LR and LS commands. */
export interface LoadState {
  readonly mirrorX: boolean;
  readonly mirrorY: boolean;
  readonly angleDeg: number;
  readonly scale: number;
}

const PLAIN_LOAD: LoadState = { mirrorX: false, mirrorY: false, angleDeg: 0, scale: 1 };

/** The map an aperture goes through: mirrored, then turned, then scaled about its origin. */
function loadMap({ mirrorX, mirrorY, angleDeg, scale }: LoadState): Affine {
  const turn = rotation(angleDeg);
  // LMX mirrors along X, so x changes its sign.
  const sx = (mirrorX ? -1 : 1) * scale;
  const sy = (mirrorY ? -1 : 1) * scale;
  return { ...IDENTITY, a: turn.a * sx, b: turn.b * sy, c: turn.c * sx, d: turn.d * sy };
}

/** A name for one state, to remember shapes by. */
export function loadKey({ mirrorX, mirrorY, angleDeg, scale }: LoadState): string {
  return `${mirrorX ? 'X' : ''}${mirrorY ? 'Y' : ''}${angleDeg},${scale}`;
}
