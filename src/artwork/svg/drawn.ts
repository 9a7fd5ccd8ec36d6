import { composeMaps, IDENTITY, mapRing } from '../../geometry/affine.js';
import { intersectRegions, subtractRegions, unionRegions } from '../../geometry/boolean.js';
import { ringBounds } from '../../geometry/bounds.js';
import { rectangle, solid } from '../../geometry/shapes.js';
import type { Affine, Point, Region } from '../../geometry/types.js';
import { type Clip, type Colour, clipOf, type Drawing, type FillRule, intersectClips } from '../paint/drawing.js';
import type { Pen } from '../paint/stroke.js';
import { flatten, mapSubpath, PathBuilder, quadratic, type Subpath } from '../paint/subpath.js';
import { fromSingle } from './numbers.js';
import { CLIP_IGNORED, MASK_IGNORED, type SvgSource } from './source.js';
import type { XmlElement } from './xml.js';

/** Shares of red, green and blue in what a mask lets through (SVG 1.1, 14.4 Masking). */
const LUMINANCE = { r: 0.2125, g: 0.7154, b: 0.0721 };
const NEARLY = 0.02;
/** From this on a colour counts as dark wherever its gradient goes. */
const DARK = 0.5;
const BLACK: Colour = { r: 0, g: 0, b: 0, a: 1 };

interface Scope {
  readonly map: Affine;
  readonly opacity: number;
  readonly clip: Clip | undefined;
}

type Attributes = XmlElement['attributes'];

/**
 * Paints what the renderer makes of a drawing: groups, paths of straight lines and cubics, clip paths and masks, with
 * all styles and references worked out.
 */
export class DrawnSvg {
  private readonly helpers = new Map<string, XmlElement>();
  /** The canvas's own colour, where the drawing gives one. */
  ground: Colour | undefined;

  constructor(
    private readonly drawing: Drawing,
    private readonly source: SvgSource,
  ) {}

  run(root: XmlElement, map: Affine): void {
    for (const defs of root.children) {
      if (defs.name !== 'defs') continue;
      for (const helper of defs.children) this.helpers.set(helper.attributes.id, helper);
    }
    for (const child of root.children) this.element(child, { map, opacity: 1, clip: undefined });
  }

  private element(element: XmlElement, outer: Scope): void {
    const { attributes } = element;
    if (element.name === 'path') this.path(attributes, outer);
    if (element.name !== 'g') return;
    const opacity = outer.opacity * numberOf(attributes.opacity, 1);
    const map = mapOf(attributes, outer.map);
    if (opacity === 0 || !Object.values(map).every(Number.isFinite)) return;
    let { clip } = outer;
    const clips = this.clipRegions(attributes, map);
    if (clips === 'unknown') this.source.tally('CLIP_IGNORED', this.lineOf(element), CLIP_IGNORED);
    else if (clips) clip = intersectClips(clip, clipOf(clips));
    const shown = this.maskRegions(element, map);
    if (shown === 'unknown') this.source.tally('MASK_IGNORED', this.lineOf(element), MASK_IGNORED);
    else if (shown) clip = intersectClips(clip, clipOf(shown));
    if (clip?.regions.length === 0) return;
    for (const child of element.children) this.element(child, { map, opacity, clip });
  }

  private path(own: Attributes, { map, opacity, clip }: Scope): void {
    if (own.visibility !== undefined && own.visibility !== 'visible') return;
    if (own.id === this.source.groundId) {
      this.ground = colourOf(own.fill);
      return;
    }
    const subpaths = pathOf(own.d);
    const tag = this.source.tagOf(own.id);
    const seen = (name: 'fill' | 'stroke'): Colour | undefined => {
      const share = opacity * numberOf(own[`${name}-opacity`], 1);
      const colour = share > 0 ? this.paintOf(own[name], tag.line) : undefined;
      return colour && { ...colour, a: colour.a * share };
    };
    const fill = (): void => {
      const colour = seen('fill');
      if (colour) this.drawing.fill(subpaths, map, ruleOf(own['fill-rule']), colour, tag, clip);
    };
    const stroke = (): void => {
      const colour = seen('stroke');
      if (colour) this.drawing.stroke(subpaths, map, penOf(own), colour, { ...tag, drawn: 'stroke' }, clip);
    };
    for (const paint of own['paint-order'] === 'stroke' ? [stroke, fill] : [fill, stroke]) paint();
  }

  /** A paint's colour. Gradients count as the mean of their stops, patterns as black. */
  private paintOf(text: string | undefined, line: number | undefined): Colour | undefined {
    const server = this.helperOf(text);
    if (!server) return colourOf(text);
    if (server.name === 'pattern') {
      this.source.tally('PATTERN_FLAT', line, 'shape(s) are filled with a pattern; they are read as filled evenly.');
      return BLACK;
    }
    const stops = server.children.flatMap(({ attributes: stop }) => {
      const colour = colourOf(stop['stop-color']);
      return colour ? [{ ...colour, a: numberOf(stop['stop-opacity'], 1) }] : [];
    });
    // From black to black is no question.
    const shades = stops.map(({ r, g, b, a }) => a * (1 - Math.min(r, g, b)));
    if (!shades.every((shade) => shade > DARK) && !shades.every((shade) => shade < NEARLY)) {
      this.source.tally(
        'GRADIENT_FLAT',
        line,
        'shape(s) are filled with a gradient; they are read as filled with its mean colour.',
      );
    }
    const mean = (key: keyof Colour): number => stops.reduce((sum, colour) => sum + colour[key], 0) / stops.length;
    return stops.length === 0 ? undefined : { r: mean('r'), g: mean('g'), b: mean('b'), a: mean('a') };
  }

  private helperOf(reference: string | undefined): XmlElement | undefined {
    const id = /^url\(#(.*)\)$/.exec(reference ?? '')?.[1];
    return id === undefined ? undefined : this.helpers.get(id);
  }

  /** What an element's clip path leaves; undefined without one. */
  private clipRegions(own: Attributes, map: Affine): Region[] | 'unknown' | undefined {
    if (own['clip-path'] === undefined) return undefined;
    const helper = this.helperOf(own['clip-path']);
    if (!helper || helper.attributes.clipPathUnits === 'objectBoundingBox') return 'unknown';
    const parts = this.shapesIn(helper, mapOf(helper.attributes, map), 'clip-rule');
    const further = this.clipRegions(helper.attributes, map);
    if (!parts || further === 'unknown') return 'unknown';
    const all = unionRegions(parts.flatMap(({ regions }) => regions));
    return further ? intersectRegions(all, further) : all;
  }

  /** What an element's mask shows, as far as that is made of plain shapes, white or black. */
  private maskRegions(element: XmlElement, map: Affine): Region[] | 'unknown' | undefined {
    const { attributes: own } = element;
    if (own.mask === undefined) return undefined;
    const helper = this.helperOf(own.mask);
    if (!helper || helper.attributes.maskContentUnits === 'objectBoundingBox' || helper.attributes.mask)
      return 'unknown';
    const parts = this.shapesIn(helper, map, 'fill-rule');
    const byAlpha = /mask-type:\s*alpha/.test(`${helper.attributes.style} mask-type:${helper.attributes['mask-type']}`);
    let all: Region[] = [];
    for (const { regions, own: attributes } of parts ?? []) {
      const shown = showsOf(attributes, byAlpha);
      if (shown === undefined) return 'unknown';
      all = shown === 1 ? unionRegions(all.concat(regions)) : subtractRegions(all, regions);
    }
    if (!parts) return 'unknown';
    const { maskUnits, x, y, width, height } = helper.attributes;
    const [x0, y0, w, h] = [x, y, width, height].map((text) => numberOf(text, 0));
    const reach = rectangle(x0, y0, x0 + w, y0 + h);
    if (maskUnits === 'userSpaceOnUse') return intersectRegions(all, [solid(mapRing(map, reach))]);
    // Shares of a box that has no width or no height say nothing.
    const box = boxMap(element);
    return box ? intersectRegions(all, [solid(mapRing(composeMaps(map, box), reach))]) : 'unknown';
  }

  /** What the shapes of a clip path or a mask cover; undefined where they are not plain. */
  private shapesIn(
    { children }: XmlElement,
    map: Affine,
    rule: 'clip-rule' | 'fill-rule',
  ): { regions: Region[]; own: Attributes }[] | undefined {
    const found: { regions: Region[]; own: Attributes }[] = [];
    for (const child of children) {
      const { attributes: own, name } = child;
      if (own.mask !== undefined || (name === 'g' && numberOf(own.opacity, 1) !== 1)) return undefined;
      const inner = mapOf(own, map);
      const cut = this.clipRegions(own, inner);
      if (cut === 'unknown') return undefined;
      const parts =
        name === 'g'
          ? this.shapesIn(child, inner, rule)
          : name === 'path' && own.visibility !== 'hidden'
            ? [{ regions: this.drawing.regionsOf(pathOf(own.d), inner, ruleOf(own[rule])), own }]
            : [];
      if (!parts) return undefined;
      for (const part of parts) {
        found.push(cut ? { ...part, regions: intersectRegions(part.regions, cut) } : part);
      }
    }
    return found;
  }

  private lineOf(element: XmlElement): number | undefined {
    if (element.name === 'path') return this.source.tagOf(element.attributes.id).line;
    for (const child of element.children) {
      const line = this.lineOf(child);
      if (line !== undefined) return line;
    }
    return undefined;
  }
}

const numberOf = (text: string | undefined, missing: number): number =>
  text === undefined ? missing : fromSingle(Number(text));

const numbersOf = (text: string): number[] =>
  (text.match(/-?[\d.]+(?:e[-+]?\d+)?/g) ?? []).map((n) => fromSingle(Number(n)));

function mapOf({ transform }: Attributes, outer: Affine): Affine {
  if (transform === undefined) return outer;
  const [a, c, b, d, e, f] = numbersOf(transform);
  return composeMaps(outer, { a, b, c, d, e, f });
}

/** The map from a square of 1 to the box around what an element draws, without its strokes, in its own units. */
function boxMap(element: XmlElement): Affine | undefined {
  const points = (part: XmlElement, map: Affine): Point[] =>
    part.name === 'path'
      ? pathOf(part.attributes.d).flatMap((subpath) => flatten(mapSubpath(map, subpath)).points)
      : part.children.flatMap((child) => points(child, mapOf(child.attributes, map)));
  const all = points(element, IDENTITY);
  if (all.length === 0) return undefined;
  const { minX, minY, maxX, maxY } = ringBounds(all);
  if (!(maxX > minX && maxY > minY)) return undefined;
  return { a: maxX - minX, b: 0, c: 0, d: maxY - minY, e: minX, f: minY };
}

const ruleOf = (text: string | undefined): FillRule => (text === 'evenodd' ? 'evenodd' : 'nonzero');

/** Path data of the five commands that the renderer writes: M, L, Q, C and Z. */
function pathOf(d = ''): Subpath[] {
  const path = new PathBuilder();
  for (const [, command, rest] of d.matchAll(/([MLQCZ])([^MLQCZ]*)/g)) {
    const n = numbersOf(rest);
    const point = (i: number): Point => [n[i], n[i + 1]];
    if (command === 'M') path.moveTo(point(0));
    else if (command === 'L') path.lineTo(point(0));
    else if (command === 'Q') path.add(quadratic(path.at, point(0), point(2)));
    else if (command === 'C') path.add({ kind: 'cubic', c1: point(0), c2: point(2), to: point(4) });
    else path.close();
  }
  return path.finish();
}

function colourOf(text: string | undefined): Colour | undefined {
  const hex = /^#([0-9a-f]{6})$/.exec(text ?? '')?.[1];
  if (hex === undefined) return undefined;
  const [r, g, b] = [0, 2, 4].map((at) => Number.parseInt(hex.slice(at, at + 2), 16) / 255);
  return { r, g, b, a: 1 };
}

/**
 * Whether a shape of a mask shows (1) or hides (0) what it lies on; undefined for anything between, which is no cut but
 * a shade.
 */
function showsOf(own: Attributes, byAlpha: boolean): 0 | 1 | undefined {
  const colour = colourOf(own.fill);
  if (!colour || own.stroke !== 'none' || numberOf(own['fill-opacity'], 1) < 1 - NEARLY) return undefined;
  if (byAlpha) return 1;
  const light = LUMINANCE.r * colour.r + LUMINANCE.g * colour.g + LUMINANCE.b * colour.b;
  return light >= 1 - NEARLY ? 1 : light <= NEARLY ? 0 : undefined;
}

function penOf(own: Attributes): Pen {
  const cap = own['stroke-linecap'];
  const join = own['stroke-linejoin'];
  return {
    widthMm: numberOf(own['stroke-width'], 1),
    cap: cap === 'round' || cap === 'square' ? cap : 'butt',
    join: join === 'round' || join === 'bevel' ? join : 'miter',
    miterLimit: numberOf(own['stroke-miterlimit'], 4),
    dashMm: numbersOf(own['stroke-dasharray'] ?? ''),
    dashOffsetMm: numberOf(own['stroke-dashoffset'], 0),
  };
}
