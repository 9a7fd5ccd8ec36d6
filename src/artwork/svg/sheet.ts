import type { XmlElement } from './xml.js';

/** Selectors that the renderer applies; it passes over all rules with others. */
const PLAIN = /^(?:[\w-]+|[*.#>+\s]|:first-child|\[[\w-]+(?:="[^"]*")?\])+$/;
/** States and parts that a drawing on paper doesn't have. */
const NEVER = /::|:(?:hover|active|focus|visited|link|target|before|after)\b/;
/** Properties that say nothing about shapes. */
const HARMLESS =
  /^(?:-|font|text|cursor|pointer-events|user-select|transition|letter-spacing|word-spacing|line-height|white-space)/;
/** Properties that the renderer knows as attributes only, or not at all. */
const ATTRIBUTES_ONLY = /^(?:x|y|c[xy]|r[xy]?|width|height|d|transform-origin|vector-effect)$/;
/** Values of later standards than the renderer's. */
export const ODD_VALUE =
  /\b(?:var|calc|min|max|clamp|env|attr|color|color-mix|light-dark|lab|lch|oklab|oklch|hwb)\(|\b(?:rgb|hsl)a?\([^,]*\)/i;

/** Words of CSS may be written in any case, of which the renderer knows one. */
export const smallKeyword = (text: string): string =>
  /^\s*[A-Z-]+\s*$/i.test(text) ? text.trim().toLowerCase().replace('currentcolor', 'currentColor') : text;

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
    const text = part.slice(colon + 1).trim();
    const value = smallKeyword(text.replace(/\s*!\s*important$/i, ''));
    found.set(part.slice(0, colon).trim().toLowerCase(), { value, important: /!\s*important$/i.test(text) });
  }
  return found;
}

interface Rule {
  readonly selector: string;
  readonly own: ReadonlyMap<string, Declared>;
  /** Elements with the names that the last part of the selector asks for. */
  readonly matched: ReadonlySet<XmlElement>;
}

/**
 * Reads a style sheet.
 *
 * @param elements - all of the drawing
 * @returns the sheet as the renderer reads it, without filters, and what it would not apply although it could match
 * something: what a selector asks of ancestors and neighbours is not looked at
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
  const [kept, others] = [
    rules.filter(({ selector }) => PLAIN.test(selector)),
    rules.filter((rule) => isOdd(rule, rules)),
  ];
  return {
    css: kept
      .map(written)
      .join('\n')
      .replace(/([{;])filter:[^;}]*/g, '$1'),
    notApplied: [...outer, ...others.map(written)],
  };
}

const written = ({ selector, own }: Rule): string =>
  `${selector}{${[...own].map(([name, { value }]) => `${name}:${value}`).join(';')}}`;

function rulesOf(plain: string, elements: readonly XmlElement[]): Rule[] {
  const byName = new Map<string, Set<XmlElement>>();
  const add = (name: string, element: XmlElement): void => {
    byName.set(name, (byName.get(name) ?? new Set()).add(element));
  };
  for (const element of elements) {
    add(element.name, element);
    add(`#${element.attributes.id}`, element);
    for (const word of (element.attributes.class ?? '').split(/\s+/)) add(`.${word}`, element);
  }
  const all = new Set(elements);
  const matchedBy = (selector: string): ReadonlySet<XmlElement> => {
    const bare = selector.replace(/\([^)]*\)|\[[^\]]*\]|:[\w-]+/g, '').trim();
    const words = (bare.split(/[\s>+~]+/).at(-1) ?? '').match(/[.#]?[^.#*]+/g) ?? [];
    const [first = all, ...others] = words.map((word) => byName.get(word) ?? new Set<XmlElement>());
    return new Set([...first].filter((element) => others.every((set) => set.has(element))));
  };
  return [...plain.matchAll(/([^{}]+)\{([^{}]*)\}/g)].flatMap(([, list, body]) => {
    const own = new Map([...declarations(body)].filter(([name]) => !HARMLESS.test(name)));
    return list.split(/,(?![^([]*[)\]])/).flatMap((text) => {
      const selector = text.trim();
      const matched = NEVER.test(selector) ? new Set<XmlElement>() : matchedBy(selector);
      return own.size > 0 && matched.size > 0 ? [{ selector, own, matched }] : [];
    });
  });
}

function isOdd(rule: Rule, rules: readonly Rule[]): boolean {
  const odd = ([name, { value }]: readonly [string, Declared]): boolean =>
    ATTRIBUTES_ONLY.test(name) || ODD_VALUE.test(value) || (name === 'filter' && value !== 'none');
  // The drawing's own transform is worked out beside the renderer.
  const turnsRoot = rule.own.has('transform') && [...rule.matched].some(({ name }) => name === 'svg');
  return !PLAIN.test(rule.selector) || turnsRoot || [...rule.own].some(odd) || isOverruled(rule, rules);
}

/** Whether the renderer, to which all rules weigh alike, may let another one win over an important one. */
function isOverruled({ own, matched }: Rule, rules: readonly Rule[]): boolean {
  const loses = (style: ReadonlyMap<string, Declared>, name: string): boolean => style.get(name)?.important === false;
  return [...own].some(
    ([name, { important }]) =>
      important &&
      ([...matched].some(({ attributes }) => loses(declarations(attributes.style), name)) ||
        rules.some((rule) => loses(rule.own, name) && [...rule.matched].some((element) => matched.has(element)))),
  );
}
