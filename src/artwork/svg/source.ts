import SvgPath from 'svgpath';
import { InputError, type Warning } from '../../errors.js';
import { composeMaps, IDENTITY, translation } from '../../geometry/affine.js';
import type { Affine, OpeningTag } from '../../geometry/types.js';
import { once } from '../../kept.js';
import { isNumberList, numberList, parseSvgLength, parseTransform, plainLengths, userUnits } from './numbers.js';
import { declarations, LATER_PROPERTY, ODD_VALUE, readSheet, smallKeyword } from './sheet.js';
import { parseViewBox } from './size.js';
import type { XmlElement } from './xml.js';

/** Shape family for an opening's tag. */
const SHAPES: Readonly<Record<string, string | undefined>> = {
  path: undefined,
  rect: 'rectangle',
  circle: 'circle',
  ellipse: 'ellipse',
  line: undefined,
  polyline: undefined,
  polygon: undefined,
};
const KEPT = new Set(
  (
    'svg g a switch use defs symbol clipPath mask marker pattern linearGradient radialGradient stop style ' +
    Object.keys(SHAPES).join(' ')
  ).split(' '),
);
/** Nothing to see in them. */
const SILENT = new Set(
  (
    'title desc metadata namedview script view cursor font font-face filter animate animateTransform animateMotion ' +
    'set i18n-pot'
  ).split(' '),
);
const LENGTHS = new Set('x y width height cx cy r rx ry x1 y1 x2 y2 stroke-width stroke-dashoffset'.split(' '));
const DASHES = 'stroke-dasharray';
const KEYWORDS = new Set(
  'fill stroke display visibility fill-rule clip-rule stroke-linecap stroke-linejoin'.split(' '),
);
/** Properties of a style attribute that the renderer knows as attributes only. */
const AS_ATTRIBUTES = new Set('transform transform-origin x y width height cx cy r rx ry mask-type'.split(' '));

/** A drawing may multiply itself by references; this many drawn elements are refused. */
const MAX_ELEMENTS = 300_000;
const MAX_DEPTH = 200;
/** Marked corners are refused beyond this. */
const MAX_MARKS = 3_000_000;
/** So many names of unknown elements are told. */
const MAX_STRANGE = 8;
const LEFT_OUT: Readonly<Record<string, readonly [code: string, what: string]>> = {
  text: ['TEXT_LEFT_OUT', 'text(s) were left out: they are no openings. Turn text into paths if it shall be cut.'],
  image: ['IMAGE_LEFT_OUT', 'picture(s) inside the drawing were left out. Give the picture itself to read it.'],
  foreignObject: ['FOREIGN_LEFT_OUT', 'foreign object(s) were left out.'],
};
const UNKNOWN_REFERENCE = ['REFERENCE_UNKNOWN', 'reference(s) lead nowhere; nothing was drawn for them.'] as const;
const FILTERED = ['FILTER_IGNORED', 'filter(s) are not applied.'] as const;
const UNSCALED = ['STROKE_SCALED', 'stroke(s) that should not scale were scaled.'] as const;
const CIRCLE = ['REFERENCE_CIRCLE', 'reference(s) lead back to themselves; they were not drawn.'] as const;

/**
 * A drawing's source: written anew for the renderer without what it would read from elsewhere, drop or take otherwise
 * than said, and with a name for each shape, so that what it draws can be told apart.
 */
export class SvgSource {
  private readonly elements: XmlElement[] = [];
  private readonly sheets: XmlElement[] = [];
  /** Of the element in hand. */
  private scope: Scope;
  /** The name of a path that shows the ground's colour. */
  readonly groundId: string;
  private readonly byId = new Map<string, XmlElement>();
  private readonly named = new Map<string, XmlElement | undefined>();
  private readonly tallies = new Map<string, { count: number; line: number | undefined }>();
  private readonly strange = new Set<string>();
  private readonly sizes = new Map<XmlElement, Size>();
  private readonly open = new Set<XmlElement>();
  private readonly circles = new Set<XmlElement>();
  private marks = 0;

  constructor(
    private readonly root: XmlElement,
    private readonly file: string | undefined,
  ) {
    this.scope = { isHidden: false, inMask: false, inSymbol: false, viewport: viewportOf(root), byColor: {} };
    this.index(root);
    this.groundId = this.freshId();
    this.named.set(this.groundId, undefined);
    const { count, depth } = this.measure(root);
    if (count > MAX_ELEMENTS || depth > MAX_DEPTH || this.marks > MAX_MARKS) {
      throw new InputError({
        code: 'TOO_COMPLEX',
        place: { file, line: root.line },
        message: 'the drawing repeats or nests itself too often.',
        hint: 'Export only the paste layer, without references.',
      });
    }
  }

  /** The drawing with one user unit a pixel; whatever stands on the root about its size and place is left to us. */
  rewritten(width: number, height: number): string {
    const { style = '', viewBox, ...rest } = this.root.attributes;
    const own: Record<string, string> = rest;
    const ground = /(?:^|;)\s*background(?:-color)?\s*:\s*([^;]+)/i.exec(style)?.[1] ?? own['background-color'];
    for (const name of ['x', 'y', 'width', 'height', 'transform', 'preserveAspectRatio', 'overflow']) delete own[name];
    const box = parseViewBox(viewBox);
    const size: Record<string, string | number> = box
      ? { width: box.width, height: box.height, viewBox: `${box.x} ${box.y} ${box.width} ${box.height}` }
      : { width, height };
    const attributes = this.attributesOf({ ...this.root, attributes: { ...own, style } });
    for (const name of AS_ATTRIBUTES) delete attributes[name];
    const colour = `fill:${ground};stroke:none;opacity:1;fill-opacity:1;display:inline;visibility:visible`;
    this.tellEffects(this.root);
    return tag(
      'svg',
      { ...attributes, ...size, xmlns: 'http://www.w3.org/2000/svg' },
      this.inside(this.root) +
        (ground === undefined ? '' : tag('path', { id: this.groundId, d: 'M0 0h1v1z', style: colour })),
    );
  }

  /** The root's own transform, which lies outside its viewBox. */
  rootMap(): Affine {
    return this.transformOf(this.root, { ...this.root.attributes, ...styleOf(this.root) });
  }

  /** @param id - of a drawn path; copies that references make have none */
  tagOf(id: string | undefined): OpeningTag {
    const element = id === undefined ? undefined : this.named.get(id);
    if (!element) return { drawn: 'path' };
    const attributes: Record<string, string> = {};
    for (const [name, value] of Object.entries(element.attributes)) {
      if (name === 'id' || name.startsWith('data-')) attributes[name] = value;
    }
    const shape = SHAPES[element.name];
    return {
      drawn: 'path',
      ...(shape ? { shape } : {}),
      ...(Object.keys(attributes).length > 0 ? { attributes } : {}),
      line: element.line,
    };
  }

  tally(code: string, line: number | undefined, what: string): void {
    const key = `${code} ${what}`;
    const known = this.tallies.get(key);
    if (known) known.count += 1;
    else this.tallies.set(key, { count: 1, line });
  }

  warnings(): Warning[] {
    return [...this.tallies].map(([key, { count, line }]) => {
      const [code, ...words] = key.split(' ');
      return { code, place: { file: this.file, line }, message: `${count} ${words.join(' ')}` };
    });
  }

  private index(element: XmlElement): void {
    const { id } = element.attributes;
    this.elements.push(element);
    if (element.name === 'style') this.sheets.push(element);
    if (id !== undefined && !this.byId.has(id)) this.byId.set(id, element);
    for (const child of element.children) this.index(child);
  }

  /** Whether any line may be dashed: only then does it matter how long a path is said to be. */
  private readonly hasDashes = once(() =>
    this.elements.some(({ attributes, text, name }) => {
      const { style = '', 'stroke-dasharray': dashes = 'none' } = attributes;
      return dashes !== 'none' || style.includes(DASHES) || (name === 'style' && text.includes(DASHES));
    }),
  );

  private target(reference: string | undefined): XmlElement | undefined {
    const id = /^\s*(?:url\(\s*["']?)?#([^"')]+)/.exec(reference ?? '')?.[1];
    return id === undefined ? undefined : (this.byId.get(id) ?? this.byId.get(decoded(id)));
  }

  /** How many elements one becomes, and how deep they lie, when all references are followed. */
  private measure(element: XmlElement): Size {
    const known = this.sizes.get(element);
    if (known) return known;
    this.open.add(element);
    let [count, depth] = [1, 0];
    const add = (other: XmlElement): void => {
      const size = this.measure(other);
      count += size.count;
      depth = Math.max(depth, size.depth);
    };
    for (const child of element.children) add(child);
    for (const [name, value] of Object.entries(element.attributes)) {
      if (name === 'href' ? element.name !== 'use' : !value.includes('url(')) continue;
      for (const [reference] of name === 'href' ? [[value]] : value.matchAll(/url\([^)]*\)/g)) {
        const other = this.target(reference);
        if (!other) continue;
        if (this.open.has(other)) this.circles.add(element);
        else if (other.name === 'marker') this.marks += this.measure(other).count * this.corners();
        else add(other);
      }
    }
    this.open.delete(element);
    const size = { count, depth: depth + 1 };
    this.sizes.set(element, size);
    return size;
  }

  /** An upper bound on how many corners all paths have together. */
  private corners(): number {
    const length = ({ attributes: { d = '', points = '' }, children }: XmlElement): number =>
      children.reduce((sum, child) => sum + length(child), d.length + points.length);
    return length(this.root) / 3;
  }

  private inside(element: XmlElement): string {
    const { name, children } = element;
    const shown = name === 'switch' ? children.filter(isAlternative).slice(0, 1) : children;
    const parts = name === 'clipPath' ? shown.flatMap((child) => this.partOfClip(child)) : shown;
    return parts.map((child) => this.element(child)).join('');
  }

  /**
   * A child of a clip path as a shape of its own, which is all that may stand there (SVG 1.1, 14.3.5). The renderer
   * loses what lies in more than one group, and ends the process at a group with nothing in it.
   */
  private partOfClip(child: XmlElement): XmlElement[] {
    const { name, line, attributes } = child;
    if (SILENT.has(name) || isNotDisplayed(child)) return [];
    if (name in SHAPES) return isNothing(child) ? [] : [child];
    const shape = name === 'use' && !this.circles.has(child) ? this.target(attributes.href) : undefined;
    const own: Record<string, string> = { ...attributes, ...styleOf(child) };
    const { x = '0', y = '0', 'clip-path': clip = 'none' } = own;
    const at = [x, y].map(parseSvgLength);
    if (!shape || !(shape.name in SHAPES) || clip !== 'none' || at.some((length) => !length || length.unit === '%')) {
      this.tally('CLIP_IGNORED', line, CLIP_IGNORED);
      return [];
    }
    const [dx, dy] = at.map((length) => (length ? userUnits(length, 0) : 0));
    const { id: _, style: __, ...theirs } = { ...shape.attributes, ...styleOf(shape) };
    const map = [this.transformOf(child, own), translation(dx, dy), this.transformOf(shape, theirs)].reduce(
      composeMaps,
    );
    for (const key of ['clip-rule', 'visibility']) if (own[key] !== undefined) theirs[key] ??= own[key];
    delete theirs['transform-origin'];
    return this.partOfClip({ ...shape, attributes: { ...theirs, transform: matrix(map) } });
  }

  private element(element: XmlElement): string {
    const outer = this.scope;
    const isHidden = outer.isHidden || isNotDisplayed(element);
    const isViewport = element.name === 'svg' || element.name === 'symbol';
    this.scope = {
      isHidden,
      inMask: outer.inMask || element.name === 'mask',
      inSymbol: outer.inSymbol || element.name === 'symbol',
      viewport: isViewport ? viewportOf(element, outer.viewport) : outer.viewport,
      byColor: outer.byColor,
    };
    const text = this.written(element);
    this.scope = outer;
    return text;
  }

  private written(element: XmlElement): string {
    const { name, attributes, line } = element;
    if (name === 'link') {
      if (/stylesheet/i.test(attributes.rel ?? '')) this.sheetOutside(line);
      return '';
    }
    if (SILENT.has(name)) return '';
    if (name === 'style') return this.sheet(element);
    if (!KEPT.has(name)) return this.leftOut(element);
    if (!isMeant(element)) return tag('g', {});
    if (name === 'use') {
      if (this.circles.has(element)) return this.told(line, CIRCLE);
      if (!attributes.href?.startsWith('#') || !this.target(attributes.href)) return this.told(line, UNKNOWN_REFERENCE);
    }
    const own = this.attributesOf(element);
    if (name === 'use') this.takeSize(element, own);
    // Contents are cut off at the edge of their viewport; the renderer does so only where it has a size.
    if (name === 'svg') for (const key of ['width', 'height']) if (isUnsaid(own[key])) own[key] = '100%';
    this.tellEffects(element);
    if (name in SHAPES) {
      this.checkShape(element);
      own.id ??= this.freshId();
      this.named.set(own.id, this.named.has(own.id) ? undefined : element);
    }
    if (attributes.viewBox !== undefined && !parseViewBox(attributes.viewBox)) this.noNumber(line, 'viewBox');
    return tag(name === 'switch' ? 'g' : name, own, this.inside(element));
  }

  /** What a symbol says of its size holds where its use says nothing (SVG 2, 5.6.2). */
  private takeSize(use: XmlElement, own: Record<string, string>): void {
    const symbol = this.target(own.href);
    if (symbol?.name !== 'symbol') return;
    // The renderer lays them elsewhere than those on a use of anything else.
    const { 'clip-path': clip = 'none', mask = 'none' } = { ...use.attributes, ...styleOf(use) };
    if (clip !== 'none') this.tally('CLIP_IGNORED', use.line, CLIP_IGNORED);
    if (mask !== 'none') this.tally('MASK_IGNORED', use.line, MASK_IGNORED);
    const size: Record<string, string | undefined> = { ...symbol.attributes, ...styleOf(symbol) };
    for (const key of ['width', 'height']) {
      const asked = size[key];
      if (asked !== undefined && isUnsaid(own[key])) own[key] = asked;
    }
  }

  /** Effects that are not drawn. */
  private tellEffects(element: XmlElement): void {
    const { filter = 'none', 'vector-effect': effect } = { ...element.attributes, ...styleOf(element) };
    if (filter !== 'none') this.told(element.line, FILTERED);
    if (effect === 'non-scaling-stroke') this.told(element.line, UNSCALED);
  }

  private freshId(): string {
    let k = this.named.size;
    while (this.byId.has(`shape${k}`) || this.named.has(`shape${k}`)) k += 1;
    return `shape${k}`;
  }

  private leftOut({ name, line }: XmlElement): string {
    const says = LEFT_OUT[name === 'flowRoot' ? 'text' : name];
    if (says) return this.told(line, says);
    this.strange.add(name);
    // Editors leave elements of their own; a broken file has one of each kind.
    if (this.strange.size > MAX_STRANGE) return '';
    return this.told(line, ['ELEMENT_UNKNOWN', `element(s) <${name.slice(0, 40)}> are not known and were left out.`]);
  }

  /** Tells of what is not drawn, and gives what stands for it. */
  private told(line: number, [code, what]: readonly [string, string]): string {
    if (!this.scope.isHidden) this.tally(code, line, what);
    // Neither black nor white, so that the mask counts as one that can't be applied.
    return this.scope.inMask ? tag('path', { d: 'M0 0h1v1z', style: 'fill:#777' }) : '';
  }

  /** All style sheets as one, where the first stands. */
  private sheet(element: XmlElement): string {
    if (element !== this.sheets[0]) return '';
    const texts = this.sheets.map(({ text, attributes: { media = '', type = 'text/css' } }) => {
      if (!/^\s*text\/css/i.test(type)) return '';
      return /^\s*(?:all|screen)?\s*$/i.test(media) ? text : `@media ${media} {${text}}`;
    });
    const { css, notApplied } = readSheet(texts.join('\n'), this.elements);
    for (const rule of notApplied) this.notApplied(element.line, rule, 'rule(s) of its style sheets');
    const whole = css.replace(/([{;]transform:)([^;}]*)/g, (_, name: string, value: string) => {
      return `${name}${matrix(this.mapFrom(value, element.line))}`;
    });
    return tag('style', {}, escaped(whole));
  }

  private attributesOf(element: XmlElement): Record<string, string> {
    const { line, name } = element;
    const styled = styleOf(element);
    const own: Record<string, string> = {};
    const rest: string[] = [];
    for (const [key, value] of Object.entries(element.attributes)) {
      if (key === 'style' || key.startsWith('on') || key.startsWith('data-')) continue;
      if (key !== 'href' || value.startsWith('#'))
        own[key] = KEYWORDS.has(key) ? smallKeyword(value) : plain(key, value);
    }
    for (const [key, value] of Object.entries(styled)) {
      if (AS_ATTRIBUTES.has(key)) own[key] = value;
      else if (key !== 'filter') rest.push(`${key}:${value}`);
    }
    const both: Record<string, string | undefined> = { ...own, ...styled };
    delete own.filter;
    for (const [key, kind] of [
      ['mask', 'mask'],
      ['clip-path', 'clipPath'],
    ] as const) {
      const value = both[key];
      if (value === undefined || value === 'none' || this.target(value)?.name === kind) continue;
      if (kind === 'mask') this.tally('MASK_IGNORED', line, MASK_IGNORED);
      else this.tally('CLIP_IGNORED', line, CLIP_IGNORED);
    }
    const odd = Object.keys(both).find((key) => key !== 'd' && ODD_VALUE.test(both[key] ?? ''));
    if (odd !== undefined) this.notApplied(line, both[odd] ?? '', 'value(s)');
    if (own.pathLength !== undefined && this.hasDashes())
      this.notApplied(line, `pathLength: ${own.pathLength}`, 'value(s)');
    const later = Object.keys(styled).find((key) => LATER_PROPERTY.test(key) && styled[key] !== 'none');
    if (later !== undefined) this.notApplied(line, `${later}: ${styled[later]}`, 'value(s)');
    for (const key of [...LENGTHS, DASHES]) {
      const value = both[key];
      // The renderer takes them for shares of what lies around the symbol.
      if (this.scope.inSymbol && value?.includes('%')) this.notApplied(line, `${key}: ${value}`, 'value(s)');
      if (value === undefined || /^\s*(?:auto|none|inherit)?\s*$/.test(value)) continue;
      if (!(name in SHAPES || name === 'use' || key.startsWith('stroke'))) continue;
      const plainly = plainLengths(value);
      if (plainly === undefined || (key !== DASHES && plainly.includes(' '))) this.noNumber(line, key);
    }
    this.takeColor(own, both);
    const map = this.transformOf(element, both);
    delete own['transform-origin'];
    delete own.transform;
    if (map !== IDENTITY) own[/Gradient$/.test(name) ? 'gradientTransform' : 'transform'] = matrix(map);
    if (rest.length > 0) own.style = rest.join(';');
    return own;
  }

  /** What is painted by the word `currentColor` takes the colour of where it is painted, not of where the word stands. */
  private takeColor(own: Record<string, string>, both: Readonly<Record<string, string | undefined>>): void {
    const byColor = { ...this.scope.byColor };
    for (const key of ['fill', 'stroke'] as const) {
      if (both[key] !== undefined && both[key] !== 'inherit') byColor[key] = both[key] === 'currentColor';
      else if (byColor[key] && both.color !== undefined) own[key] = 'currentColor';
    }
    this.scope = { ...this.scope, byColor };
  }

  private transformOf({ line }: XmlElement, own: Readonly<Record<string, string | undefined>>): Affine {
    const map = this.mapFrom(own.transform, line);
    const { 'transform-origin': origin, 'transform-box': box = 'view-box' } = own;
    if (map === IDENTITY) return map;
    if (box !== 'view-box') this.notApplied(line, `transform-box: ${box}`, 'value(s)');
    if (origin === undefined) return map;
    const at = originIn(origin, this.scope.viewport);
    if (!at) this.notApplied(line, `transform-origin: ${origin}`, 'value(s)');
    const [dx, dy] = at ?? [0, 0];
    return composeMaps(translation(dx, dy), composeMaps(map, translation(-dx, -dy)));
  }

  private mapFrom(text: string | undefined, line: number): Affine {
    const map = parseTransform(text);
    if (map) return map;
    throw new InputError({
      code: 'SVG_TRANSFORM',
      place: { file: this.file, line, key: 'transform' },
      message: `expected a transform, found "${(text ?? '').slice(0, 60)}".`,
      hint: 'Export the drawing again, without transforms if that can be chosen.',
    });
  }

  private checkShape({ name, attributes, line }: XmlElement): void {
    const { d, points } = attributes;
    const broken = name === 'path' ? d !== undefined && isDamaged(d) : points !== undefined && !isNumberList(points, 2);
    if (!broken) return;
    this.tally(
      'PATH_DATA',
      line,
      'path(s) hold something that can not be read; they are drawn up to there, as viewers do.',
    );
  }

  /** Of a style sheet in another file. */
  sheetOutside(line: number): void {
    this.tally('STYLE_LEFT_OUT', line, 'style sheet(s) in other files are not read; export with the styles inside.');
  }

  private notApplied(line: number, example: string, what: string): void {
    this.tally(
      'STYLE_LEFT_OUT',
      line,
      `${what} are not applied, such as "${example.replace(/\s+/g, ' ').slice(0, 40)}".`,
    );
  }

  private noNumber(line: number, key: string): void {
    this.tally(
      'NOT_A_NUMBER',
      line,
      `value(s) of ${key} are no numbers that can be used; the shapes were left out or drawn without them.`,
    );
  }
}

export const MASK_IGNORED = 'mask(s) are not applied: only plain shapes in black and white are.';
export const CLIP_IGNORED = 'clip path(s) could not be applied.';

interface Scope {
  /** Not shown at all. */
  readonly isHidden: boolean;
  readonly inMask: boolean;
  readonly inSymbol: boolean;
  /** What shares are of; undefined where that is not known. */
  readonly viewport: readonly [number, number] | undefined;
  /** Whether the paint that is inherited is `currentColor`. */
  readonly byColor: { readonly fill?: boolean; readonly stroke?: boolean };
}

interface Size {
  readonly count: number;
  readonly depth: number;
}

/** Whether an element is for everybody (SVG 2, 5.9); of languages English is asked for. */
const isMeant = ({ attributes: { systemLanguage = 'en', requiredExtensions = '' } }: XmlElement): boolean =>
  requiredExtensions.trim() === '' && systemLanguage.split(',').some((language) => /^en\b/i.test(language.trim()));

/** What a switch may show: the first of these. */
const isAlternative = (element: XmlElement): boolean =>
  isMeant(element) && (element.name in SHAPES || /^(?:g|a|svg|use|switch|text|image)$/.test(element.name));

/** A value as the renderer reads it: lengths in units that it knows. */
const plain = (key: string, value: string): string =>
  LENGTHS.has(key) || key === DASHES ? (plainLengths(value) ?? value) : value;

const styleOf = ({ attributes: { style } }: XmlElement): Record<string, string> =>
  Object.fromEntries([...declarations(style)].map(([name, { value }]) => [name, value]));

const isUnsaid = (length = ''): boolean => /^\s*(?:auto)?\s*$/.test(length);

/** The size of what a drawing or symbol lays its contents on, in their own units; undefined where that is not known. */
function viewportOf(
  { name, attributes: { viewBox, width, height } }: XmlElement,
  outer?: readonly [number, number],
): readonly [number, number] | undefined {
  const box = parseViewBox(viewBox);
  if (box) return [box.width, box.height];
  const [w, h] = [width, height].map((text, axis) => {
    const length = parseSvgLength(isUnsaid(text) ? '100%' : text);
    return length && (length.unit !== '%' || outer) ? userUnits(length, outer?.[axis] ?? 0) : Number.NaN;
  });
  // How large a symbol is its uses say.
  return name === 'svg' && Number.isFinite(w + h) ? [w, h] : undefined;
}

const SHARES: Readonly<Record<string, string>> = { left: '0', top: '0', center: '50%', right: '100%', bottom: '100%' };

/** Where a transform-origin lies (CSS Transforms 1, section 4); undefined when that can't be told. */
function originIn(text: string, viewport: readonly [number, number] | undefined): readonly number[] | undefined {
  const words = text.trim().toLowerCase().split(/\s+/);
  const [x, y = 'center'] =
    /^[tb]/.test(words[0]) || /^[lr]/.test(words[1] ?? '') ? [words[1] ?? 'center', words[0]] : words;
  const at = [x, y].map((word, axis) => {
    const length = parseSvgLength(plainLengths(SHARES[word] ?? word));
    if (!length || (length.unit === '%' && length.value !== 0 && !viewport)) return Number.NaN;
    return userUnits(length, viewport?.[axis] ?? 0);
  });
  return at.every(Number.isFinite) ? at : undefined;
}

/** Whether a shape holds no area whatever its style: a line, or one without a size or corners. */
function isNothing({ name, attributes, ...rest }: XmlElement): boolean {
  const own: Record<string, string> = { ...attributes, ...styleOf({ name, attributes, ...rest }) };
  const size = (key: string): number => {
    const length = parseSvgLength(own[key]);
    return length ? Math.fround(userUnits(length, 1)) : 0;
  };
  if (name === 'rect') return !(size('width') > 0 && size('height') > 0);
  if (name === 'circle') return !(size('r') > 0);
  if (name === 'ellipse') {
    const given = ['rx', 'ry'].filter((key) => !isUnsaid(own[key]));
    return given.length === 0 || !given.every((key) => size(key) > 0);
  }
  if (name !== 'path') return numberList(own.points ?? '').length < 6;
  const steps = new SvgPath(own.d ?? '') as unknown as { readonly segments: readonly (readonly [string])[] };
  return !steps.segments.some(([step]) => !/m/i.test(step));
}

/** As far as the element itself says. */
const isNotDisplayed = (element: XmlElement): boolean =>
  smallKeyword({ ...element.attributes, ...styleOf(element) }.display ?? '') === 'none';

function tag(name: string, attributes: Readonly<Record<string, string | number>>, inside = ''): string {
  const list = Object.entries(attributes).filter(([key]) => /^[\w.-]+$/.test(key));
  return `<${name}${list.map(([key, value]) => ` ${key}="${escaped(String(value))}"`).join('')}>${inside}</${name}>`;
}

const escaped = (text: string): string =>
  text
    .replace(
      /[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]|[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g,
      '',
    )
    .replace(/[&<>"]/g, (character) => `&#${character.charCodeAt(0)};`);

const matrix = ({ a, b, c, d, e, f }: Affine): string => `matrix(${[a, c, b, d, e, f].join(' ')})`;

/** Its types lack what it found wrong. */
const isDamaged = (d: string): boolean => (new SvgPath(d) as unknown as { readonly err: string }).err !== '';

function decoded(text: string): string {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}
