import { present } from '../../kept.js';
import { plainLengths } from './numbers.js';
import type { XmlElement } from './xml.js';

/** Selectors that the renderer applies; it passes over all rules with others. */
const PLAIN = /^(?:[\w-]+|[*.#>+\s]|:first-child|\[[\w-]+(?:="[^"]*")?\])+$/;
/** States and parts that a drawing on paper doesn't have. */
const NEVER = /::|:(?:hover|active|focus|visited|link|target|before|after)\b/;
/** Properties that say nothing about shapes. */
const HARMLESS =
  /^(?:-|font|text|cursor|pointer-events|user-select|transition|letter-spacing|word-spacing|line-height|white-space)/;
/** Properties that the renderer knows as attributes only, or not at all. */
const ATTRIBUTES_ONLY = /^(?:mask-type|x|y|c[xy]|r[xy]?|width|height|d|transform-(?:origin|box)|vector-effect)$/;
/** Properties of later standards that move or cut shapes. */
export const LATER_PROPERTY = /^(?:translate|rotate|scale|zoom|offset(?:-path)?|all)$/;
/** Values of later standards than the renderer's. */
export const ODD_VALUE =
  /\b(?:var|calc|min|max|clamp|env|attr|color|color-mix|light-dark|lab|lch|oklab|oklch|hwb)\(|\b(?:rgb|hsl)a?\([^,]*\)/i;

/** Words of CSS may be written in any case, of which the renderer knows one. */
export const smallKeyword = (text: string): string =>
  /^\s*[A-Z-]+\s*$/i.test(text) ? text.trim().toLowerCase().replace('currentcolor', 'currentColor') : text;

/** A rule: its selectors, and what it declares. */
const RULE = /([^{}]+)\{([^{}]*)\}/g;

interface Declared {
  readonly value: string;
  readonly important: boolean;
}

/** An element's or rule's declarations, names in small letters. */
export function declarations(style: string | undefined): Map<string, Declared> {
  const found = new Map<string, Declared>();
  for (const part of (style ?? '').split(/;(?![^(]*\))/)) {
    const colon = part.indexOf(':');
    if (colon < 0) continue;
    const name = part.slice(0, colon).trim().toLowerCase();
    const text = part.slice(colon + 1).trim();
    const important = /!\s*important$/i.test(text);
    if (found.get(name)?.important && !important) continue;
    const bare = text.replace(/\s*!\s*important$/i, '');
    const value = plainLengths(bare) ?? smallKeyword(bare);
    found.set(name, { value, important });
  }
  return found;
}

interface Rule {
  readonly selector: string;
  readonly own: ReadonlyMap<string, Declared>;
}

/**
 * Reads a style sheet.
 *
 * @param elements - all of the drawing
 * @returns the sheet as the renderer reads it, without filters, and what it would not apply although it could match
 * something: only the names in a selector's last part are looked for
 */
export function readSheet(
  text: string,
  elements: readonly XmlElement[],
): { readonly css: string; readonly notApplied: readonly string[] } {
  const outer: string[] = [];
  const plain = text
    .replace(/\/\*[\s\S]*?\*\//g, ' ')
    .replace(/@(import|charset|namespace)[^;]*;/gi, (at, name) => {
      if (/import/i.test(name)) outer.push(at);
      return '';
    })
    .replace(/@([\w-]+)[^{;]*\{(?:[^{}]*\{[^{}]*\})*[^{}]*\}/g, (block, name) => {
      if (!/^(?:font-face|keyframes|page)$/i.test(name) && /\{[^{}]*\{/.test(block)) outer.push(block);
      return '';
    });
  const rules = rulesOf(plain, elements);
  // What is left beside all rules is damaged, or rules within rules, which the renderer does not know.
  const beside = plain
    .replace(RULE, '')
    .replace(/<!--|-->/g, '')
    .trim();
  const styles = new Set(elements.flatMap(({ attributes }) => [...declarations(attributes.style).keys()]));
  const kept = rules.filter(({ selector }) => PLAIN.test(selector));
  const others = rules.filter((rule) => isOdd(rule, rules, styles));
  return {
    css: kept
      .map(written)
      .join('\n')
      .replace(/([{;])filter:[^;}]*/g, '$1'),
    notApplied: [...outer, ...others.map(written), ...present(beside !== '' && beside)],
  };
}

const written = ({ selector, own }: Rule): string =>
  `${selector}{${[...own].map(([name, { value }]) => `${name}:${value}`).join(';')}}`;

function rulesOf(plain: string, elements: readonly XmlElement[]): Rule[] {
  const names = new Set(
    elements.flatMap(({ name, attributes: { id, class: words = '' } }) => [
      name,
      `#${id}`,
      ...words.split(/\s+/).map((word) => `.${word}`),
    ]),
  );
  const mayMatch = (selector: string): boolean => {
    const bare = selector.replace(/\([^)]*\)|\[[^\]]*\]|:[\w-]+/g, '').trim();
    const words = (bare.split(/[\s>+~]+/).at(-1) ?? '').match(/[.#]?[^.#*]+/g) ?? [];
    return !NEVER.test(selector) && words.every((word) => names.has(word));
  };
  return [...plain.matchAll(RULE)].flatMap(([, list, body]) => {
    const own = new Map([...declarations(body)].filter(([name]) => !HARMLESS.test(name)));
    const selectors = list.split(/,(?![^([]*[)\]])/).map((text) => text.trim());
    return own.size > 0 ? selectors.filter(mayMatch).map((selector) => ({ selector, own })) : [];
  });
}

/** @param styles - properties that elements say themselves */
function isOdd({ selector, own }: Rule, rules: readonly Rule[], styles: ReadonlySet<string>): boolean {
  // The drawing's own transform is worked out beside the renderer.
  const turnsRoot = own.has('transform') && /\*|\bsvg\b/.test(selector);
  const odd = ([name, { value, important }]: readonly [string, Declared]): boolean =>
    ATTRIBUTES_ONLY.test(name) ||
    (LATER_PROPERTY.test(name) && value !== 'none') ||
    ODD_VALUE.test(value) ||
    (/^stroke-(?:width|dash)/.test(name) && /^[\d.]/.test(value) && plainLengths(value) === undefined) ||
    (name === 'filter' && value !== 'none') ||
    // The renderer, to which all rules weigh alike, may let another one win over an important one.
    (important && (styles.has(name) || rules.some((rule) => rule.own.get(name)?.important === false)));
  return !PLAIN.test(selector) || turnsRoot || [...own].some(odd);
}
