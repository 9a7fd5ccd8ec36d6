import { InputError } from '../../errors.js';

export interface XmlElement {
  /** Without its namespace prefix. */
  readonly name: string;
  /** Names without a prefix, except `xlink:href`, which is `href`, and `xml:` ones. */
  readonly attributes: Readonly<Record<string, string>>;
  readonly children: readonly XmlElement[];
  /** All character data directly inside. */
  readonly text: string;
  readonly line: number;
}

/** An element whose end has not come yet. */
interface Open extends XmlElement {
  readonly fullName: string;
  readonly children: XmlElement[];
  text: string;
}

const NAMED: Readonly<Record<string, string>> = { lt: '<', gt: '>', amp: '&', quot: '"', apos: "'" };
/** Entities of a document may be made of others; a file that grows without end is refused. */
const MAX_EXPANSION = 1_000_000;
const MAX_DEPTH = 2000;

/** A comment, an instruction, character data as they are, a document type, an end, a beginning, or words. */
const TOKEN = new RegExp(
  [
    String.raw`<!--[\s\S]*?-->|<\?[\s\S]*?\?>|<!\[CDATA\[(?<data>[\s\S]*?)\]\]>`,
    String.raw`<!(?!--|\[)(?<type>[^[>]*(?:\[[\s\S]*?\]\s*)?)>`,
    String.raw`</\s*(?<end>[^\s>]+)\s*>`,
    String.raw`<(?<name>[A-Za-z_:\u0080-\uffff][^\s/>]*)(?=[\s/>])(?<list>(?:\s*[^\s=/>"'<]+\s*=\s*(?:"[^"<]*"|'[^'<]*'))*)\s*(?<empty>/?)>`,
    '(?<words>[^<]+)',
  ].join('|'),
  'y',
);
const ATTRIBUTE = /([^\s=/>"'<]+)\s*=\s*(?:"([^"<]*)"|'([^'<]*)')/g;

/**
 * Reads an XML document into a tree. Well-formedness is checked: a file that was cut off must not pass for a whole one.
 * Source: W3C, Extensible Markup Language (XML) 1.0, fifth edition.
 *
 * @throws {InputError} SVG_BROKEN with the line
 */
export function parseXml(text: string, file: string | undefined): XmlElement {
  return new Parser(text, file).parse();
}

class Parser {
  private at = 0;
  private line = 1;
  /** The first line end not counted yet; -1 when there is none. */
  private nextBreak: number;
  private expanded = 0;
  private readonly entities = new Map<string, string>();

  constructor(
    private readonly text: string,
    private readonly file: string | undefined,
  ) {
    this.nextBreak = text.indexOf('\n');
  }

  parse(): XmlElement {
    const { text } = this;
    const stack: Open[] = [];
    let root: XmlElement | undefined;
    for (; this.at < text.length; this.at = TOKEN.lastIndex) {
      const top = stack.at(-1);
      TOKEN.lastIndex = this.at;
      const token = TOKEN.exec(text)?.groups;
      if (!token)
        throw this.broken(`it can't be read from "${text.slice(this.at, this.at + 40)}" on, or is cut off there`);
      const { data = '', type, end, name, list, empty, words = '' } = token;
      if (data !== '' || words.trim() !== '') {
        if (!top) throw this.broken('found text outside the drawing');
        top.text += data + this.decode(words);
      }
      if (type !== undefined) this.takeEntities(type);
      if (name !== undefined) {
        if (root) throw this.broken('found a second drawing after the first');
        if (stack.length >= MAX_DEPTH) throw this.broken('found elements nested too deeply');
        stack.push(this.opened(name, list));
      }
      if (end === undefined && empty !== '/') continue;
      const open = stack.pop();
      if (!open || (end !== undefined && open.fullName !== end)) {
        throw this.broken(
          `found </${(end ?? '').slice(0, 40)}> ${open ? `where </${open.fullName}> was due` : 'with nothing open'}`,
        );
      }
      const parent = stack.at(-1);
      if (parent) parent.children.push(open);
      else root = open;
    }
    const last = stack.at(-1);
    if (last) throw this.broken(`the file ends inside <${last.fullName}>; it is cut off`);
    if (!root) throw this.broken('there is no drawing in it');
    return root;
  }

  private opened(fullName: string, list: string): Open {
    const attributes: Record<string, string> = {};
    for (const [, name, double, single] of list.matchAll(ATTRIBUTE)) {
      attributes[name.startsWith('xml:') ? name : localName(name)] ??= this.decode(double ?? single);
    }
    return { name: localName(fullName), fullName, attributes, children: [], text: '', line: this.lineAt(this.at) };
  }

  /** Document types name no rules that matter here, but may define entities. */
  private takeEntities(type: string): void {
    for (const [, name, double, single] of type.matchAll(/<!ENTITY\s+([^\s%]+)\s+(?:"([^"]*)"|'([^']*)')\s*>/g)) {
      if (!this.entities.has(name)) this.entities.set(name, double ?? single);
    }
  }

  private decode(text: string, depth = 0): string {
    if (!text.includes('&')) return text;
    return text.replace(/&(?:#x([0-9a-f]{1,6})|#(\d{1,7})|([^\s;&]{1,64}));/gi, (whole, hex, decimal, name) => {
      if (name !== undefined) {
        const known = NAMED[name];
        if (known !== undefined) return known;
        const value = this.entities.get(name);
        if (value === undefined) return whole;
        this.expanded += value.length;
        if (depth > 8 || this.expanded > MAX_EXPANSION) throw this.broken('its entities expand without end');
        return this.decode(value, depth + 1);
      }
      const code = hex ? Number.parseInt(hex, 16) : Number(decimal);
      return code > 0 && code <= 0x10ffff ? String.fromCodePoint(code) : '';
    });
  }

  /** Counts on from the last place asked for: places only grow. */
  private lineAt(place: number): number {
    while (this.nextBreak >= 0 && this.nextBreak < place) {
      this.line += 1;
      this.nextBreak = this.text.indexOf('\n', this.nextBreak + 1);
    }
    return this.line;
  }

  private broken(what: string): InputError {
    return new InputError({
      code: 'SVG_BROKEN',
      place: { file: this.file, line: this.lineAt(this.at) },
      message: `the SVG is damaged: ${what}.`,
      hint: 'Export it again.',
    });
  }
}

function localName(name: string): string {
  const colon = name.indexOf(':');
  return colon < 0 ? name : name.slice(colon + 1);
}

/** The text of a document in the encoding that its first bytes say. */
export function decodeXml(bytes: Uint8Array): string {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return new TextDecoder('utf-16le').decode(bytes);
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return new TextDecoder('utf-16be').decode(bytes);
  const head = Buffer.from(bytes.subarray(0, 200)).toString('latin1');
  const encoding = /^[\s\S]{0,3}<\?xml[^>]*encoding\s*=\s*["']([\w.-]+)["']/i.exec(head)?.[1]?.toLowerCase();
  const latin = encoding === 'iso-8859-1' || encoding === 'windows-1252' || encoding === 'latin1';
  return new TextDecoder(latin ? 'windows-1252' : 'utf-8').decode(bytes);
}
