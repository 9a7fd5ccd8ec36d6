import type { XmlElement } from './xml.js';

/** One property as declared. */
export interface Declaration {
  readonly name: string;
  readonly value: string;
  readonly important: boolean;
}

interface Compound {
  readonly type?: string;
  readonly id?: string;
  readonly classes: readonly string[];
  readonly attributes: readonly { readonly name: string; readonly operator?: string; readonly value?: string }[];
  readonly firstChild: boolean;
}

interface Rule {
  /** From left to right; `combinator` is what stands before. */
  readonly chain: readonly { readonly compound: Compound; readonly combinator: ' ' | '>' | '+' | '~' }[];
  readonly specificity: number;
  readonly order: number;
  readonly declarations: readonly Declaration[];
}

/** Where an element stands, for selectors. */
export interface Placed {
  readonly element: XmlElement;
  readonly parent?: Placed;
}

/** Style sheets of a document: type, class, id and attribute selectors with all four combinators. */
export class StyleSheet {
  private readonly rules: Rule[] = [];

  add(css: string): void {
    for (const { prelude, body } of blocks(css.replace(/\/\*[\s\S]*?\*\//g, ' '))) {
      if (prelude.startsWith('@')) {
        if (/^@media\b/i.test(prelude) && !/\b(?:print|speech)\b/i.test(prelude)) this.add(body);
        continue;
      }
      const declarations = parseDeclarations(body);
      for (const selector of prelude.split(',')) {
        const chain = parseSelector(selector.trim());
        if (chain) {
          this.rules.push({ chain, specificity: specificity(chain), order: this.rules.length, declarations });
        }
      }
    }
  }

  /** Declarations for an element, weakest first. */
  declarationsFor(placed: Placed): Declaration[] {
    if (this.rules.length === 0) return [];
    return this.rules
      .filter((rule) => matches(rule.chain, rule.chain.length - 1, placed))
      .sort((p, q) => p.specificity - q.specificity || p.order - q.order)
      .flatMap((rule) => rule.declarations);
  }
}

/** Splits a sheet into rules; nested braces belong to their rule. */
function blocks(css: string): { prelude: string; body: string }[] {
  const found: { prelude: string; body: string }[] = [];
  let at = 0;
  while (at < css.length) {
    const open = css.indexOf('{', at);
    if (open < 0) break;
    // Statements such as @import end with a semicolon and have no block.
    const prelude = css.slice(at, open).split(';').pop()?.trim() ?? '';
    let depth = 1;
    let end = open + 1;
    for (; end < css.length && depth > 0; end += 1) {
      if (css[end] === '{') depth += 1;
      else if (css[end] === '}') depth -= 1;
    }
    found.push({ prelude, body: css.slice(open + 1, depth === 0 ? end - 1 : end) });
    at = end;
  }
  return found;
}

/** Reads `name: value; …`, as in a style attribute. */
export function parseDeclarations(text: string): Declaration[] {
  return text.split(';').flatMap((part): Declaration[] => {
    const colon = part.indexOf(':');
    if (colon < 0) return [];
    const name = part.slice(0, colon).trim().toLowerCase();
    const raw = part.slice(colon + 1).trim();
    const value = raw.replace(/\s*!\s*important\s*$/i, '');
    return name === '' || value === '' ? [] : [{ name, value, important: value !== raw }];
  });
}

const COMPOUND = /^(?<type>\*|[\w-]+)?(?<rest>(?:[.#][\w\u0080-\uffff-]+|\[[^\]]*\]|:first-child|:root)*)$/;

function parseCompound(text: string): Compound | undefined {
  const match = COMPOUND.exec(text);
  if (!match?.groups || text === '') return undefined;
  const { type, rest } = match.groups;
  const classes: string[] = [];
  const attributes: { name: string; operator?: string; value?: string }[] = [];
  let id: string | undefined;
  let root = false;
  let firstChild = false;
  for (const [part] of rest.matchAll(/[.#][\w\u0080-\uffff-]+|\[[^\]]*\]|:[\w-]+/g)) {
    if (part.startsWith('.')) classes.push(part.slice(1));
    else if (part.startsWith('#')) id = part.slice(1);
    else if (part === ':first-child') firstChild = true;
    else if (part === ':root') root = true;
    else {
      const inner = /^\[\s*(?:[\w-]+\|)?([\w:-]+)\s*(?:([~|^$*]?=)\s*["']?([^"'\]]*)["']?\s*)?\]$/.exec(part);
      if (!inner) return undefined;
      attributes.push({ name: inner[1], operator: inner[2], value: inner[3] });
    }
  }
  return { type: root ? 'svg' : type === '*' ? undefined : type, id, classes, attributes, firstChild };
}

function parseSelector(text: string): Rule['chain'] | undefined {
  const chain: { compound: Compound; combinator: ' ' | '>' | '+' | '~' }[] = [];
  let combinator: ' ' | '>' | '+' | '~' = ' ';
  for (const token of text
    .replace(/\s*([>+~])(?![^[]*\])\s*/g, ' $1 ')
    .trim()
    .split(/\s+(?![^[]*\])/)) {
    if (token === '>' || token === '+' || token === '~') {
      combinator = token;
      continue;
    }
    const compound = parseCompound(token);
    if (!compound) return undefined;
    chain.push({ compound, combinator });
    combinator = ' ';
  }
  return chain.length > 0 ? chain : undefined;
}

function specificity(chain: Rule['chain']): number {
  return chain.reduce((sum, { compound }) => {
    const classes = compound.classes.length + compound.attributes.length + (compound.firstChild ? 1 : 0);
    return sum + (compound.id ? 1_000_000 : 0) + classes * 1000 + (compound.type ? 1 : 0);
  }, 0);
}

function matchesCompound(compound: Compound, { element, parent }: Placed): boolean {
  if (compound.type !== undefined && compound.type !== element.name) return false;
  if (compound.id !== undefined && compound.id !== element.attributes.id) return false;
  if (compound.firstChild && parent && parent.element.children[0] !== element) return false;
  if (compound.classes.length > 0) {
    const own = (element.attributes.class ?? '').split(/\s+/);
    if (!compound.classes.every((name) => own.includes(name))) return false;
  }
  return compound.attributes.every(({ name, operator, value = '' }) => {
    const own = element.attributes[name];
    if (own === undefined) return false;
    switch (operator) {
      case undefined:
        return true;
      case '=':
        return own === value;
      case '~=':
        return own.split(/\s+/).includes(value);
      case '|=':
        return own === value || own.startsWith(`${value}-`);
      case '^=':
        return value !== '' && own.startsWith(value);
      case '$=':
        return value !== '' && own.endsWith(value);
      default:
        return value !== '' && own.includes(value);
    }
  });
}

function matches(chain: Rule['chain'], at: number, placed: Placed): boolean {
  if (!matchesCompound(chain[at].compound, placed)) return false;
  if (at === 0) return true;
  const { parent } = placed;
  switch (chain[at].combinator) {
    case '>':
      return parent !== undefined && matches(chain, at - 1, parent);
    case ' ':
      for (let up = parent; up; up = up.parent) if (matches(chain, at - 1, up)) return true;
      return false;
    default: {
      const siblings = parent?.element.children ?? [];
      const own = siblings.indexOf(placed.element);
      const before = chain[at].combinator === '+' ? siblings.slice(Math.max(0, own - 1), own) : siblings.slice(0, own);
      return before.some((element) => matches(chain, at - 1, { element, parent }));
    }
  }
}
