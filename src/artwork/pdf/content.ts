import { PDFContext, type PDFDict, PDFName, type PDFObject, PDFRawStream } from 'pdf-lib';
import { InputError } from '../../errors.js';
import { composeMaps } from '../../geometry/affine.js';
import { rectangle } from '../../geometry/shapes.js';
import type { OpeningTag, Point } from '../../geometry/types.js';
import { type Colour, clipOf, type Drawing, type FillRule, intersectClips, largestStretch } from '../paint/drawing.js';
import { PathBuilder, type Segment, type Subpath } from '../paint/subpath.js';
import { CMYK, type ColourSpace, GREY, namedColourSpace, RGB } from './colour-space.js';
import type { PlacedPicture } from './join-strips.js';
import { ContentLexer, type Operand } from './lex.js';
import * as objects from './objects.js';
import { inlineDict, inlineLength, isStencil } from './picture-samples.js';
import { CAPS, type GraphicsState, JOINS, type PaintState } from './state.js';

const MAX_OPERATORS = 20_000_000;
const MAX_FORM_DEPTH = 28;
const MAX_FORMS = 20_000;
const MAX_STATES = 5000;
/** Pages cut into more pictures than this are rendered. */
const MAX_PICTURES = 2000;
/** What stands for "the thinnest line" (a width of 0), mm. */
const HAIRLINE_MM = 0.01;

/** What a page holds besides paths. */
export class Seen {
  /** Text shown, in pieces. */
  texts = 0;
  /** Operators and numbers that the standard does not know. */
  readonly unknown = new Set<string>();
  /** Lines of width 0. */
  hairlines = 0;
  /** Shapes, states and marked parts that are not closed where they ought to be, or closed and never opened. */
  open = 0;
  /** Annotations that viewers draw upon the page. */
  annotations = 0;
  /** Names that lead nowhere: something the page asks for is not in the file. */
  readonly missing = new Set<string>();
  /** What can't be taken as vectors, by name, for example `picture`. */
  readonly unsupported = new Map<string, number>();
}

type Ink = 'fill' | 'stroke';

/** Runs the content of a page (ISO 32000-1, chapter 8) and paints its paths. */
export class ContentInterpreter {
  readonly seen = new Seen();
  /** Pictures in the order of painting. */
  readonly pictures: PlacedPicture[] = [];
  private count = 0;
  private forms = 0;
  /** Operands belong to no file. */
  private readonly context = PDFContext.create();
  /** How many marked-content levels are open, and at which ones something is switched off. */
  private marked: boolean[] = [];

  constructor(
    private readonly drawing: Drawing,
    private readonly hiddenGroups: ReadonlySet<PDFObject>,
    private readonly file: string | undefined,
  ) {}

  run(bytes: Uint8Array, resources: PDFDict | undefined, start: GraphicsState, depth = 0): void {
    const lexer = new ContentLexer(bytes, this.context);
    const operands: Operand[] = [];
    const obey = this.operators(lexer, operands, resources, start, depth);
    const markedBefore = this.marked.length;
    for (let op = lexer.next(operands); op !== undefined; op = lexer.next(operands)) {
      this.count += 1;
      if (this.count > MAX_OPERATORS) throw this.tooComplex();
      const count = NUMBERS.get(op);
      if (count !== undefined && (operands.length !== count || operands.some((each) => typeof each !== 'number')))
        throw this.damaged(
          `"${op}" takes ${count} number(s), but "${operands.slice(0, 8).join(' ')}" stands before it`,
        );
      if (Object.hasOwn(obey, op)) obey[op]();
      else if (!OTHER_OPERATORS.has(op)) this.seen.unknown.add(op);
    }
    obey[END]();
    for (const text of lexer.nonsense) this.seen.unknown.add(text);
    this.marked.length = Math.min(this.marked.length, markedBefore);
  }

  /** What each operator does to one stream's path and state; its operands stand in `operands`. */
  private operators(
    lexer: ContentLexer,
    operands: readonly Operand[],
    resources: PDFDict | undefined,
    start: GraphicsState,
    depth: number,
  ): Readonly<Record<string, () => unknown>> {
    const stack: GraphicsState[] = [];
    let state = start;
    let path = new PathBuilder();
    let pendingClip: FillRule | undefined;
    let isInline = false;
    const markedBefore = this.marked.length;
    const set = (change: Partial<GraphicsState>): void => {
      if (!path.isEmpty) this.seen.open += 1;
      state = { ...state, ...change };
    };
    const setPen = (change: Partial<GraphicsState['pen']>): void => set({ pen: { ...state.pen, ...change } });
    const number = (i: number): number => {
      const value = operands[i];
      return typeof value === 'number' ? value : 0;
    };
    const numbers = (): number[] => operands.filter((value): value is number => typeof value === 'number');
    const point = (i: number): Point => [number(i), number(i + 1)];
    const nameAt = (i: number): string | undefined => {
      const value = operands[i];
      return value instanceof PDFName ? value.decodeText() : undefined;
    };
    const lineTo = (segment: Segment): void => {
      if (path.isEmpty) throw this.damaged('a line or curve has no point to begin at');
      path.add(segment);
    };
    const cubic = (c1: Point, c2: Point, to: Point): void => lineTo({ kind: 'cubic', c1, c2, to });
    const finish = (fill: FillRule | undefined, stroke: boolean): void => {
      const isBare = path.isEmpty;
      const subpaths = path.finish();
      path = new PathBuilder();
      if (subpaths.length > 0) {
        if (fill) this.fill(subpaths, fill, state);
        if (stroke) this.stroke(subpaths, state);
      }
      if (pendingClip && isBare) this.seen.unknown.add('W (without a path)');
      else if (pendingClip) {
        const regions = this.drawing.regionsOf(subpaths, state.map, pendingClip);
        set({ clip: intersectClips(state.clip, clipOf(regions)) });
      }
      pendingClip = undefined;
    };
    const finishClosed = (fill: FillRule | undefined): void => {
      path.close();
      finish(fill, true);
    };
    const clip = (rule: FillRule): void => {
      pendingClip = rule;
    };
    const ink = (key: Ink, space: ColourSpace): void =>
      set({ [key]: { space, rgb: space.toRgb(numbers()), pattern: false } });
    const space = (key: Ink): void => {
      const named = namedColourSpace(resources, nameAt(0) ?? '');
      set({ [key]: { space: named, rgb: named.initial, pattern: named.kind === 'pattern' } });
    };
    const colour = (key: Ink): void => {
      const { space: own } = state[key];
      if (operands.at(-1) instanceof PDFName) set({ [key]: { space: own, rgb: [0, 0, 0], pattern: true } });
      else ink(key, own);
    };
    const inline = (is: boolean): void => {
      if (!is && isInline) this.inlinePicture(lexer, operands, resources, state);
      isInline = is;
    };
    const text = (): void => {
      if (state.textMode >= 4) this.note('clip by text');
      if (state.textMode !== 3 && !this.isHidden()) this.seen.texts += 1;
    };
    return {
      q: () => stack.length < MAX_STATES && stack.push({ ...state }),
      Q: () => (stack.length > 0 ? set(stack.pop() ?? state) : (this.seen.open += 1)),
      cm: () => set({ map: composeMaps(state.map, objects.matrixOf(numbers())) }),
      m: () => path.moveTo(point(0)),
      l: () => lineTo({ kind: 'line', to: point(0) }),
      c: () => cubic(point(0), point(2), point(4)),
      v: () => cubic(path.at, point(0), point(2)),
      y: () => cubic(point(0), point(2), point(2)),
      h: () => path.close(),
      re: () => rectangleTo(path, number(0), number(1), number(2), number(3)),
      f: () => finish('nonzero', false),
      F: () => finish('nonzero', false),
      'f*': () => finish('evenodd', false),
      B: () => finish('nonzero', true),
      'B*': () => finish('evenodd', true),
      b: () => finishClosed('nonzero'),
      'b*': () => finishClosed('evenodd'),
      S: () => finish(undefined, true),
      s: () => finishClosed(undefined),
      n: () => finish(undefined, false),
      W: () => clip('nonzero'),
      'W*': () => clip('evenodd'),
      w: () => setPen({ widthMm: Math.abs(number(0)) }),
      J: () => setPen({ cap: CAPS[number(0)] ?? 'butt' }),
      j: () => setPen({ join: JOINS[number(0)] ?? 'miter' }),
      M: () => setPen({ miterLimit: number(0) }),
      d: () => set(withDash(state, operands[0], number(1))),
      gs: () => set(this.withExtended(state, nameAt(0) ?? '', resources)),
      g: () => ink('fill', GREY),
      G: () => ink('stroke', GREY),
      rg: () => ink('fill', RGB),
      RG: () => ink('stroke', RGB),
      k: () => ink('fill', CMYK),
      K: () => ink('stroke', CMYK),
      cs: () => space('fill'),
      CS: () => space('stroke'),
      sc: () => colour('fill'),
      scn: () => colour('fill'),
      SC: () => colour('stroke'),
      SCN: () => colour('stroke'),
      Do: () => this.xObject(nameAt(0), resources, state, depth),
      sh: () => !this.isHidden() && this.note('shading'),
      BI: () => inline(true),
      ID: () => inline(false),
      BDC: () => this.marked.push(nameAt(0) === 'OC' && this.isGroupHidden(nameAt(1), resources)),
      BMC: () => this.marked.push(false),
      EMC: () => this.marked.length > markedBefore && this.marked.pop(),
      Tr: () => set({ textMode: number(0) }),
      Tj: text,
      TJ: text,
      "'": text,
      '"': text,
      [END]: () => {
        if (operands.length > 0 || path.finish().length > 0) throw this.damaged('it ends in the middle of a shape');
        this.seen.open += stack.length + this.marked.length - markedBefore;
      },
    };
  }

  private isHidden(): boolean {
    return this.marked.includes(true);
  }

  private note(what: string): void {
    this.seen.unsupported.set(what, (this.seen.unsupported.get(what) ?? 0) + 1);
  }

  private colourFor(ink: PaintState, alpha: number, state: GraphicsState): Colour | undefined {
    const a = alpha * state.groupAlpha;
    if (this.isHidden() || a === 0 || ink.space.kind === 'none') return undefined;
    if (ink.pattern) this.note('pattern');
    else if (ink.space.kind === 'unknown') this.note('colour space');
    if (state.softMask) this.note('soft mask');
    const [r, g, b] = ink.rgb;
    return state.onlyDarkens && Math.min(r, g, b) > 0.5 ? undefined : { r, g, b, a };
  }

  private fill(subpaths: readonly Subpath[], rule: FillRule, state: GraphicsState): void {
    if (state.clip?.regions.length === 0) return;
    const colour = this.colourFor(state.fill, state.fillAlpha, state);
    if (colour) this.drawing.fill(subpaths, state.map, rule, colour, PATH_TAG, state.clip);
  }

  private stroke(subpaths: readonly Subpath[], state: GraphicsState): void {
    if (state.clip?.regions.length === 0) return;
    const colour = this.colourFor(state.stroke, state.strokeAlpha, state);
    if (!colour) return;
    const scale = largestStretch(state.map);
    const thin = state.pen.widthMm * scale < 1e-6;
    if (thin) this.seen.hairlines += 1;
    const pen = thin ? { ...state.pen, widthMm: HAIRLINE_MM / (scale || 1) } : state.pen;
    this.drawing.stroke(subpaths, state.map, pen, colour, STROKE_TAG, state.clip);
  }

  private withExtended(state: GraphicsState, name: string, resources: PDFDict | undefined): GraphicsState {
    const dict = objects.dict(objects.dict(resources, 'ExtGState'), name);
    if (!dict) {
      this.seen.missing.add(name);
      return state;
    }
    const number = (key: string): number | undefined => objects.numberOf(objects.get(dict, key));
    const { pen } = state;
    const next: GraphicsState = {
      ...state,
      pen: {
        ...pen,
        widthMm: number('LW') ?? pen.widthMm,
        cap: CAPS[number('LC') ?? -1] ?? pen.cap,
        join: JOINS[number('LJ') ?? -1] ?? pen.join,
        miterLimit: number('ML') ?? pen.miterLimit,
      },
      fillAlpha: number('ca') ?? state.fillAlpha,
      strokeAlpha: number('CA') ?? state.strokeAlpha,
    };
    const blend = objects.get(dict, 'BM');
    if (blend !== undefined) {
      const mode = objects.name(blend) ?? objects.name(objects.array(blend)?.[0]);
      next.onlyDarkens = mode === 'Multiply' || mode === 'Darken' || mode === 'ColorBurn';
      if (!next.onlyDarkens && mode !== 'Normal' && mode !== 'Compatible') this.note('blend mode');
    }
    const mask = objects.get(dict, 'SMask');
    if (mask !== undefined) next.softMask = objects.name(mask) !== 'None';
    const dash = objects.array(objects.get(dict, 'D'));
    return dash ? withDash(next, dash[0], objects.numberOf(dash[1]) ?? 0) : next;
  }

  private isGroupHidden(name: string | undefined, resources: PDFDict | undefined): boolean {
    if (name === undefined) return false;
    return this.isOff(objects.get(objects.dict(resources, 'Properties'), name));
  }

  /** Whether an optional-content group, or all groups of a membership (8.11.2.2), is switched off. */
  isOff(object: PDFObject | undefined): boolean {
    const dict = objects.asDict(object);
    if (!dict) return false;
    if (this.hiddenGroups.has(dict)) return true;
    const members = objects.get(dict, 'OCGs');
    const groups = objects.array(members) ?? (members ? [members] : []);
    const policy = objects.name(objects.get(dict, 'P')) ?? 'AnyOn';
    if (objects.get(dict, 'VE') !== undefined || policy !== 'AnyOn') this.note('visibility expression');
    return groups.length > 0 && groups.every((group) => this.hiddenGroups.has(group));
  }

  private xObject(name: string | undefined, resources: PDFDict | undefined, state: GraphicsState, depth: number): void {
    if (name === undefined || this.isHidden()) return;
    const stream = objects.get(objects.dict(resources, 'XObject'), name);
    const dict = objects.asDict(stream);
    if (!dict) this.seen.missing.add(name);
    if (!dict || this.isOff(objects.get(dict, 'OC'))) return;
    const kind = objects.name(objects.get(dict, 'Subtype'));
    if (kind === 'Image') {
      if (stream instanceof PDFRawStream) this.picture(stream, resources, state);
      else this.note('picture');
      return;
    }
    if (kind !== 'Form') {
      if (kind !== 'PS') this.seen.missing.add(name);
      return;
    }
    this.forms += 1;
    if (depth >= MAX_FORM_DEPTH || this.forms > MAX_FORMS) throw this.tooComplex();
    const matrix = objects.numbers(objects.get(dict, 'Matrix'), 6);
    const map = matrix ? composeMaps(state.map, objects.matrixOf(matrix)) : state.map;
    let { clip } = state;
    const box = objects.numbers(objects.get(dict, 'BBox'), 4);
    if (box) {
      const outline = new PathBuilder();
      rectangleTo(outline, box[0], box[1], box[2] - box[0], box[3] - box[1]);
      clip = intersectClips(clip, clipOf(this.drawing.regionsOf(outline.finish(), map, 'nonzero')));
    }
    const content = objects.decode(stream);
    if (!content) return;
    // A group is painted as a whole, so what its parts say of opacity comes on top (11.6.6).
    const inner = objects.get(dict, 'Group')
      ? { ...state, groupAlpha: state.groupAlpha * state.fillAlpha, fillAlpha: 1, strokeAlpha: 1 }
      : state;
    this.run(content, objects.dict(dict, 'Resources') ?? resources, { ...inner, map, clip }, depth + 1);
  }

  private inlinePicture(
    lexer: ContentLexer,
    operands: readonly Operand[],
    resources: PDFDict | undefined,
    state: GraphicsState,
  ): void {
    const dict = inlineDict(this.context, operands);
    const data = lexer.inlineData(inlineLength(dict, resources));
    if (this.isHidden()) return;
    if (data) this.picture(PDFRawStream.of(dict, data), resources, state);
    else this.note('picture');
  }

  private picture(stream: PDFRawStream, resources: PDFDict | undefined, state: GraphicsState): void {
    if (state.clip?.regions.length === 0) return;
    const { map, clip, onlyDarkens } = state;
    const stencil = isStencil(stream.dict);
    const ink = stencil ? this.colourFor(state.fill, state.fillAlpha, state) : undefined;
    if (stencil && !ink) return;
    const isPlain = stencil || (!state.softMask && state.fillAlpha * state.groupAlpha === 1);
    if (!isPlain || this.pictures.length >= MAX_PICTURES) {
      this.note('picture');
      return;
    }
    this.pictures.push({ stream, resources, map, clip, ink, onlyDarkens, at: this.drawing.paints.length });
  }

  private damaged(how: string): InputError {
    return new InputError({
      code: 'PDF_BROKEN',
      place: { file: this.file },
      message: `the page's content is damaged: ${how}.`,
      hint: 'Export it again.',
    });
  }

  private tooComplex(): InputError {
    return new InputError({
      code: 'TOO_COMPLEX',
      place: { file: this.file },
      message: 'the page repeats or nests itself too often.',
      hint: 'Export only the paste layer.',
    });
  }
}

/** Stands for the end of a content stream, where a lexer finds no operator. */
const END = '';

/** How many numbers, and nothing else, operators take: with fewer or more, a part of a shape is lost. */
const NUMBERS: ReadonlyMap<string, number> = new Map(
  ['h f F f* B B* b b* S s n W W* q Q', 'w J j M g G', 'm l', 'rg RG', 'v y re k K', '', 'c cm'].flatMap(
    (names, count) => names.split(' ').map((name) => [name, count] as const),
  ),
);

/** Operators without effect on paths: text, rendering intent, marked points, compatibility sections. */
const OTHER_OPERATORS = new Set('EI BT ET Tc Tw Tz TL Tf Ts Td TD Tm T* d0 d1 ri i MP DP BX EX'.split(' '));

const PATH_TAG: OpeningTag = { drawn: 'path' };
const STROKE_TAG: OpeningTag = { drawn: 'stroke' };

function rectangleTo(path: PathBuilder, x: number, y: number, width: number, height: number): void {
  const [from, ...rest] = rectangle(x, y, x + width, y + height);
  path.moveTo(from);
  for (const to of rest) path.lineTo(to);
  path.close();
}

function withDash(state: GraphicsState, lengths: Operand | undefined, offset: number): GraphicsState {
  const list = (typeof lengths === 'object' && objects.numbers(lengths)) || [];
  const valid = list.every((value) => value >= 0) && list.some((value) => value > 0);
  return { ...state, pen: { ...state.pen, dashMm: valid ? list : [], dashOffsetMm: offset } };
}
