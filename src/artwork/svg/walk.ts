import { InputError, type Warning } from '../../errors.js';
import { compose, IDENTITY, translation } from '../../geometry/affine.js';
import { intersectRegions, unionRegions } from '../../geometry/boolean.js';
import { rectangle } from '../../geometry/shapes.js';
import type { Affine, OpeningTag, Region } from '../../geometry/types.js';
import { type Clip, type Colour, clipOf, type Drawing, intersectClips } from '../paint/drawing.js';
import type { Pen } from '../paint/stroke.js';
import { type Placed, StyleSheet } from './css.js';
import { shownBy, shows } from './mask.js';
import { numberList, parseLength, userUnits } from './numbers.js';
import { elementShape, isShape, type Percent } from './shapes.js';
import { parseViewBox, viewBoxMap } from './size.js';
import { type PaintValue, paintOf, ROOT_STYLE, type Style, styleOf, withOpacity } from './style.js';
import { parseTransform } from './transform.js';
import type { XmlElement } from './xml.js';

/** Groups that draw their children. */
const CONTAINERS = new Set(['g', 'a', 'switch']);
/** Drawn only where something refers to them, or nothing to see. */
const SILENT = new Set([
  'defs',
  'symbol',
  'clipPath',
  'mask',
  'marker',
  'pattern',
  'linearGradient',
  'radialGradient',
  'filter',
  'style',
  'title',
  'desc',
  'metadata',
  'namedview',
  'script',
  'view',
  'cursor',
  'font',
  'font-face',
  'animate',
  'animateTransform',
  'animateMotion',
  'set',
  'i18n-pot',
]);
/** A drawing may multiply itself by references; this many drawn elements are refused. */
const MAX_ELEMENTS = 300_000;
const MAX_DEPTH = 200;
/** So many names of unknown elements are told. */
const MAX_STRANGE = 8;

interface Scope {
  readonly map: Affine;
  readonly style: Style;
  readonly placed: Placed | undefined;
  readonly opacity: number;
  readonly clip: Clip | undefined;
  readonly percent: Percent;
  readonly depth: number;
  readonly using: ReadonlySet<XmlElement>;
}

/** Walks a document and paints what it shows. */
export class SvgWalker {
  private readonly sheet = new StyleSheet();
  private readonly byId = new Map<string, XmlElement>();
  private readonly tallies = new Map<string, { count: number; line: number }>();
  private readonly strange = new Set<string>();
  private drawn = 0;

  constructor(
    private readonly drawing: Drawing,
    private readonly file: string | undefined,
  ) {}

  /** @param map - from the root's viewport (CSS pixels, y down) to mm, y up */
  run(root: XmlElement, map: Affine, widthPx: number, heightPx: number): void {
    this.index(root, 0);
    const style = styleOf({ element: root }, ROOT_STYLE, this.sheet);
    if (style.display === 'none') return;
    const box = parseViewBox(root.attributes.viewBox);
    const inner = box ? viewBoxMap(box, widthPx, heightPx, root.attributes.preserveAspectRatio) : IDENTITY;
    const own = this.transformOf(root, style, percentOf(box?.width ?? widthPx, box?.height ?? heightPx));
    this.children(root, {
      map: compose(map, compose(own, inner)),
      style,
      placed: { element: root },
      opacity: withOpacity(SOLID, style.opacity).a,
      clip: undefined,
      percent: percentOf(box?.width ?? widthPx, box?.height ?? heightPx),
      depth: 0,
      using: new Set(),
    });
  }

  /** The canvas's own colour, where the root element's style gives one. */
  groundOf(root: XmlElement): PaintValue {
    const style = styleOf({ element: root }, ROOT_STYLE, this.sheet);
    const value = style['background-color'] ?? style.background;
    return value === undefined ? { kind: 'none' } : paintOf({ fill: value }, 'fill');
  }

  warnings(): Warning[] {
    return [...this.tallies].map(([message, { count, line }]) => {
      const [code, ...words] = message.split(' ');
      return {
        code,
        place: { file: this.file, line },
        message: `${count} ${words.join(' ')}`,
      };
    });
  }

  private tally(code: string, line: number, what: string): void {
    const key = `${code} ${what}`;
    const known = this.tallies.get(key);
    if (known) known.count += 1;
    else this.tallies.set(key, { count: 1, line });
  }

  private index(element: XmlElement, depth: number): void {
    const { id } = element.attributes;
    if (id !== undefined && !this.byId.has(id)) this.byId.set(id, element);
    if (element.name === 'style' && !/less|sass/i.test(element.attributes.type ?? '')) this.sheet.add(element.text);
    for (const child of element.children) this.index(child, depth + 1);
  }

  private children(element: XmlElement, scope: Scope): void {
    const chosen = element.name === 'switch' ? element.children.filter(isPlain).slice(0, 1) : element.children;
    for (const child of chosen) this.element(child, scope);
  }

  private element(element: XmlElement, outer: Scope): void {
    const { name } = element;
    if (SILENT.has(name)) return;
    const placed: Placed = { element, parent: outer.placed };
    const style = styleOf(placed, outer.style, this.sheet);
    if (style.display === 'none') return;
    this.drawn += 1;
    if (this.drawn > MAX_ELEMENTS || outer.depth > MAX_DEPTH) {
      throw new InputError({
        code: 'TOO_COMPLEX',
        place: { file: this.file, line: element.line },
        message: 'the drawing repeats or nests itself too often.',
        hint: 'Export only the paste layer, without references.',
      });
    }
    const opacity = outer.opacity * withOpacity(SOLID, style.opacity).a;
    if (opacity === 0) return;
    const map = compose(outer.map, this.transformOf(element, style, outer.percent));
    if (!Object.values(map).every(Number.isFinite)) return;
    if (style.filter && style.filter !== 'none')
      this.tally('FILTER_IGNORED', element.line, 'filter(s) are not applied.');
    const here = { ...outer, map, style, placed };
    const clip = this.maskFor(style, here, this.clipFor(style, here, outer.clip, element), element);
    if (clip && clip.regions.length === 0) return;
    const scope: Scope = { ...outer, map, style, placed, opacity, clip, depth: outer.depth + 1 };
    if (isShape(name)) this.shape(element, scope);
    else if (CONTAINERS.has(name)) this.children(element, scope);
    else if (name === 'svg') this.viewport(element, scope, element.attributes.width, element.attributes.height);
    else if (name === 'use') this.use(element, scope);
    else if (name === 'text' || name === 'flowRoot') {
      this.tally(
        'TEXT_LEFT_OUT',
        element.line,
        'text(s) were left out: they are no openings. Turn text into paths if it shall be cut.',
      );
    } else if (name === 'image') {
      this.tally(
        'IMAGE_LEFT_OUT',
        element.line,
        'picture(s) inside the drawing were left out. Give the picture itself to read it.',
      );
    } else if (name === 'foreignObject')
      this.tally('FOREIGN_LEFT_OUT', element.line, 'foreign object(s) were left out.');
    else this.unknown(element);
  }

  private unknown({ name, line }: XmlElement): void {
    this.strange.add(name);
    // Editors leave elements of their own; a broken file has one of each kind.
    if (this.strange.size > MAX_STRANGE) return;
    this.tally('ELEMENT_UNKNOWN', line, `element(s) <${name.slice(0, 40)}> are not known and were left out.`);
  }

  private transformOf(element: XmlElement, style: Style, percent: Percent): Affine {
    const map = parseTransform(style.transform);
    if (!map) {
      throw new InputError({
        code: 'SVG_TRANSFORM',
        place: { file: this.file, line: element.line, key: 'transform' },
        message: `expected a transform, found "${(style.transform ?? '').slice(0, 60)}".`,
        hint: 'Export the drawing again, without transforms if that can be chosen.',
      });
    }
    const origin = style['transform-origin'];
    if (origin === undefined || map === IDENTITY) return map;
    const [x = '0', y = '0'] = origin.split(/\s+/);
    const at = (text: string, whole: number): number => {
      const length = parseLength(text);
      return length ? userUnits(length, whole) : 0;
    };
    const [dx, dy] = [at(x, percent.x), at(y, percent.y)];
    return compose(translation(dx, dy), compose(map, translation(-dx, -dy)));
  }

  /** A nested svg element or a symbol: a viewport of its own. */
  private viewport(
    element: XmlElement,
    scope: Scope,
    widthText: string | undefined,
    heightText: string | undefined,
  ): void {
    const length = (text: string | undefined, whole: number, missing: number): number => {
      const parsed = parseLength(text);
      return parsed ? userUnits(parsed, whole) : missing;
    };
    const isSymbol = element.name === 'symbol';
    const width = length(widthText, scope.percent.x, scope.percent.x);
    const height = length(heightText, scope.percent.y, scope.percent.y);
    if (!(width > 0 && height > 0)) return;
    const x = isSymbol ? 0 : length(element.attributes.x, scope.percent.x, 0);
    const y = isSymbol ? 0 : length(element.attributes.y, scope.percent.y, 0);
    const box = parseViewBox(element.attributes.viewBox);
    const port = compose(scope.map, translation(x, y));
    const visible = scope.style.overflow === 'visible' || scope.style.overflow === 'auto';
    let { clip } = scope;
    if (!visible) {
      const corners = rectangle(0, 0, width, height);
      const outline = {
        start: corners[0],
        segments: corners.slice(1).map((to) => ({ kind: 'line', to }) as const),
        closed: true,
      };
      clip = intersectClips(clip, clipOf(this.drawing.regionsOf([outline], port, 'nonzero')));
    }
    const inner = box ? compose(port, viewBoxMap(box, width, height, element.attributes.preserveAspectRatio)) : port;
    const percent = percentOf(box?.width ?? width, box?.height ?? height);
    this.children(element, { ...scope, map: inner, clip, percent });
  }

  private use(element: XmlElement, scope: Scope): void {
    const href = element.attributes.href ?? '';
    const target = href.startsWith('#') ? this.byId.get(decodeId(href.slice(1))) : undefined;
    if (!target) {
      this.tally('REFERENCE_UNKNOWN', element.line, 'reference(s) lead nowhere; nothing was drawn for them.');
      return;
    }
    if (scope.using.has(target) || isWithin(target, scope.placed)) {
      this.tally('REFERENCE_CIRCLE', element.line, 'reference(s) lead back to themselves; they were not drawn.');
      return;
    }
    const at = (key: 'x' | 'y'): number => {
      const length = parseLength(element.attributes[key]);
      return length ? userUnits(length, scope.percent[key]) : 0;
    };
    const inner: Scope = {
      ...scope,
      map: compose(scope.map, translation(at('x'), at('y'))),
      using: new Set([...scope.using, target]),
    };
    if (target.name !== 'symbol' && target.name !== 'svg') {
      this.element(target, inner);
      return;
    }
    const placed: Placed = { element: target, parent: scope.placed };
    const style = styleOf(placed, scope.style, this.sheet);
    if (style.display === 'none') return;
    const map = compose(inner.map, this.transformOf(target, style, scope.percent));
    const { width, height } = element.attributes;
    this.viewport(
      target,
      { ...inner, map, placed, style },
      width ?? target.attributes.width,
      height ?? target.attributes.height,
    );
  }

  private shape(element: XmlElement, scope: Scope): void {
    const { style, map, clip } = scope;
    if (style.visibility === 'hidden' || style.visibility === 'collapse') return;
    const property = (name: string): string | undefined =>
      name === 'd' ? element.attributes.d : (style[name] ?? element.attributes[name]);
    const { subpaths, errorAt, shape } = elementShape(element.name, property, scope.percent);
    if (errorAt !== undefined) {
      this.tally(
        'PATH_DATA',
        element.line,
        'path(s) hold something that can not be read; they are drawn up to there, as viewers do.',
      );
    }
    if (subpaths.length === 0) return;
    if (['marker', 'marker-start', 'marker-mid', 'marker-end'].some((name) => style[name] && style[name] !== 'none')) {
      this.tally(
        'MARKER_LEFT_OUT',
        element.line,
        'path(s) have markers (arrow heads and the like); those were left out.',
      );
    }
    const tag = tagOf(element, shape);
    const fill = (): void => {
      const colour = this.colourOf(paintOf(style, 'fill'), element);
      if (!colour || element.name === 'line') return;
      const seen = withOpacity({ ...colour, a: colour.a * scope.opacity }, style['fill-opacity']);
      if (seen.a > 0) {
        this.drawing.fill(subpaths, map, style['fill-rule'] === 'evenodd' ? 'evenodd' : 'nonzero', seen, tag, clip);
      }
    };
    const stroke = (): void => {
      const colour = this.colourOf(paintOf(style, 'stroke'), element);
      const pen = colour && this.penOf(style, scope.percent);
      if (!colour || !pen) return;
      const seen = withOpacity({ ...colour, a: colour.a * scope.opacity }, style['stroke-opacity']);
      if (seen.a === 0) return;
      if (style['vector-effect'] === 'non-scaling-stroke') {
        this.tally('STROKE_SCALED', element.line, 'stroke(s) that should not scale were scaled.');
      }
      this.drawing.stroke(subpaths, map, pen, seen, { ...tag, drawn: 'stroke' }, clip);
    };
    const strokeFirst = /^\s*(?:stroke|markers\s+stroke)/.test(style['paint-order'] ?? '');
    for (const paint of strokeFirst ? [stroke, fill] : [fill, stroke]) paint();
  }

  private penOf(style: Style, percent: Percent): Pen | undefined {
    const length = (text: string | undefined, missing: number): number => {
      const parsed = parseLength(text);
      return parsed ? userUnits(parsed, percent.both) : missing;
    };
    const widthMm = length(style['stroke-width'], 1);
    if (!(widthMm > 0)) return undefined;
    const dashes = (style['stroke-dasharray'] ?? 'none')
      .split(/[\s,]+/)
      .map((text) => length(text, Number.NaN))
      .filter((value) => !Number.isNaN(value));
    const dashed = dashes.length > 0 && dashes.every((value) => value >= 0) && dashes.some((value) => value > 0);
    const cap = style['stroke-linecap'];
    const join = style['stroke-linejoin'];
    const [limit = 4] = numberList(style['stroke-miterlimit'] ?? '');
    return {
      widthMm,
      cap: cap === 'round' || cap === 'square' ? cap : 'butt',
      join: join === 'round' || join === 'bevel' ? join : 'miter',
      miterLimit: limit,
      dashMm: dashed ? dashes : [],
      dashOffsetMm: length(style['stroke-dashoffset'], 0),
    };
  }

  /** A paint's colour. Gradients count as the mean of their stops, patterns as black. */
  private colourOf(paint: PaintValue, element: XmlElement): Colour | undefined {
    if (paint.kind === 'none') return undefined;
    if (paint.kind === 'colour') return paint.colour;
    const server = this.byId.get(paint.id);
    if (!server) return this.colourOf(paint.fallback, element);
    if (/Gradient$/.test(server.name)) {
      const stops = this.stopsOf(server, 0);
      if (stops.length === 0) return undefined;
      if (stops.length > 1) {
        this.tally(
          'GRADIENT_FLAT',
          element.line,
          'shape(s) are filled with a gradient; they are read as filled with its mean colour.',
        );
      }
      const mean = (pick: (colour: Colour) => number): number =>
        stops.reduce((sum, colour) => sum + pick(colour), 0) / stops.length;
      return { r: mean(({ r }) => r), g: mean(({ g }) => g), b: mean(({ b }) => b), a: mean(({ a }) => a) };
    }
    this.tally('PATTERN_FLAT', element.line, 'shape(s) are filled with a pattern; they are read as filled evenly.');
    return SOLID;
  }

  private stopsOf(server: XmlElement, depth: number): Colour[] {
    const stops = server.children.filter(({ name }) => name === 'stop');
    if (stops.length === 0) {
      const next = this.byId.get((server.attributes.href ?? '').replace(/^#/, ''));
      return next && depth < 10 ? this.stopsOf(next, depth + 1) : [];
    }
    return stops.flatMap((element) => {
      const style = styleOf({ element, parent: { element: server } }, ROOT_STYLE, this.sheet);
      const paint = paintOf(
        { fill: style['stop-color'] ?? 'black', ...(style.color ? { color: style.color } : {}) },
        'fill',
      );
      return paint.kind === 'colour' ? [withOpacity(paint.colour, style['stop-opacity'])] : [];
    });
  }

  /** The clip in force for an element: what it inherits and its own `clip-path`. */
  private clipFor(style: Style, scope: Scope, inherited: Clip | undefined, element: XmlElement): Clip | undefined {
    const value = style['clip-path'];
    if (value === undefined || value === 'none') return inherited;
    const id = /^url\(\s*["']?#([^"')]+)["']?\s*\)$/.exec(value.trim())?.[1];
    const target = id === undefined ? undefined : this.byId.get(id);
    if (target?.name !== 'clipPath') {
      this.tally('CLIP_IGNORED', element.line, 'clip path(s) could not be applied.');
      return inherited;
    }
    if (target.attributes.clipPathUnits === 'objectBoundingBox') {
      this.tally('CLIP_IGNORED', element.line, 'clip path(s) could not be applied.');
      return inherited;
    }
    if (scope.using.has(target)) return { regions: [] };
    const regions = this.clipRegions(target, { ...scope, using: new Set([...scope.using, target]) });
    return intersectClips(inherited, clipOf(regions));
  }

  /** The clip in force with an element's mask, as far as that is made of plain shapes, white or black. */
  private maskFor(style: Style, scope: Scope, inherited: Clip | undefined, element: XmlElement): Clip | undefined {
    const value = style.mask;
    if (value === undefined || value === 'none') return inherited;
    const id = /^url\(\s*["']?#([^"')]+)["']?\s*\)$/.exec(value.trim())?.[1];
    const target = id === undefined ? undefined : this.byId.get(id);
    const regions = target?.name === 'mask' && !scope.using.has(target) ? this.maskRegions(target, scope) : undefined;
    if (regions) return intersectClips(inherited, clipOf(regions));
    this.tally('MASK_IGNORED', element.line, 'mask(s) are not applied: only plain shapes in black and white are.');
    return inherited;
  }

  private maskRegions(target: XmlElement, scope: Scope): Region[] | undefined {
    if (target.attributes.maskContentUnits === 'objectBoundingBox') return undefined;
    const placed: Placed = { element: target };
    const style = styleOf(placed, ROOT_STYLE, this.sheet);
    if (style.mask || style['clip-path']) return undefined;
    const inner: Scope = { ...scope, style, placed, using: new Set([...scope.using, target]) };
    const parts: { shown: 0 | 1; regions: Region[] }[] = [];
    for (const child of target.children) {
      if (SILENT.has(child.name)) continue;
      if (!isShape(child.name)) return undefined;
      const own = styleOf({ element: child, parent: placed }, style, this.sheet);
      const fill = paintOf(own, 'fill');
      if (own.mask || fill.kind !== 'colour' || paintOf(own, 'stroke').kind !== 'none') return undefined;
      const shown = shows(own, fill.colour, style['mask-type'] === 'alpha');
      if (shown === undefined) return undefined;
      parts.push({ shown, regions: this.clipShape(child, inner, 'fill-rule') });
    }
    return shownBy(parts);
  }

  private clipRegions(target: XmlElement, scope: Scope): Region[] {
    const placed: Placed = { element: target };
    const style = styleOf(placed, ROOT_STYLE, this.sheet);
    const map = compose(scope.map, this.transformOf(target, style, scope.percent));
    const parts = target.children.flatMap((child) => this.clipShape(child, { ...scope, map, style, placed }));
    const all = parts.length > 1 ? unionRegions(parts) : parts;
    const further = this.clipFor(style, { ...scope, map: scope.map }, undefined, target);
    return further ? intersectRegions(all, further.regions) : all;
  }

  /** What a shape of a clip path or a mask covers. */
  private clipShape(element: XmlElement, scope: Scope, rule: 'clip-rule' | 'fill-rule' = 'clip-rule'): Region[] {
    const placed: Placed = { element, parent: scope.placed };
    const style = styleOf(placed, scope.style, this.sheet);
    if (style.display === 'none' || style.visibility === 'hidden') return [];
    this.drawn += 1;
    if (this.drawn > MAX_ELEMENTS || scope.depth > MAX_DEPTH) return [];
    const map = compose(scope.map, this.transformOf(element, style, scope.percent));
    const inner: Scope = { ...scope, map, style, placed, depth: scope.depth + 1 };
    let regions: Region[] = [];
    if (element.name === 'use') {
      const target = this.byId.get(decodeId((element.attributes.href ?? '').replace(/^#/, '')));
      if (!target || scope.using.has(target)) return [];
      const at = (key: 'x' | 'y'): number => {
        const length = parseLength(element.attributes[key]);
        return length ? userUnits(length, scope.percent[key]) : 0;
      };
      const moved = compose(map, translation(at('x'), at('y')));
      regions = this.clipShape(target, { ...inner, map: moved, using: new Set([...scope.using, target]) });
    } else if (isShape(element.name)) {
      const property = (name: string): string | undefined =>
        name === 'd' ? element.attributes.d : (style[name] ?? element.attributes[name]);
      const { subpaths } = elementShape(element.name, property, scope.percent);
      regions = this.drawing.regionsOf(subpaths, map, style[rule] === 'evenodd' ? 'evenodd' : 'nonzero');
    }
    const own = this.clipFor(style, inner, undefined, element);
    return own ? intersectRegions(regions, own.regions) : regions;
  }
}

const SOLID: Colour = { r: 0, g: 0, b: 0, a: 1 };

function percentOf(x: number, y: number): Percent {
  return { x, y, both: Math.sqrt((x * x + y * y) / 2) };
}

/** Of a switch, the first child counts that asks for nothing special. */
function isPlain({ attributes, name }: XmlElement): boolean {
  return (
    !SILENT.has(name) &&
    name !== 'foreignObject' &&
    attributes.requiredExtensions === undefined &&
    (attributes.systemLanguage === undefined || /\ben\b/i.test(attributes.systemLanguage))
  );
}

function isWithin(target: XmlElement, placed: Placed | undefined): boolean {
  for (let up = placed; up; up = up.parent) if (up.element === target) return true;
  return false;
}

function decodeId(text: string): string {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

function tagOf(element: XmlElement, shape: string | undefined): OpeningTag {
  const attributes: Record<string, string> = {};
  for (const [name, value] of Object.entries(element.attributes)) {
    if (name === 'id' || name.startsWith('data-')) attributes[name] = value;
  }
  return {
    drawn: 'path',
    ...(shape ? { shape } : {}),
    ...(Object.keys(attributes).length > 0 ? { attributes } : {}),
    line: element.line,
  };
}
