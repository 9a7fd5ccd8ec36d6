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
    if (text.charCodeAt(0) === 0xfeff) this.at = 1;
    while (this.at < text.length) {
      const next = text.indexOf('<', this.at);
      const data = text.slice(this.at, next < 0 ? text.length : next);
      const top = stack[stack.length - 1];
      if (data.trim() !== '') {
        if (!top) throw this.broken('found text outside the drawing');
        top.text += this.decode(data);
      }
      if (next < 0) break;
      this.at = next;
      if (text.startsWith('<!--', next)) this.skipTo('-->', 'a comment');
      else if (text.startsWith('<![CDATA[', next)) {
        const end = this.skipTo(']]>', 'a CDATA section');
        if (top) top.text += text.slice(next + 9, end);
      } else if (text.startsWith('<?', next)) this.skipTo('?>', 'a processing instruction');
      else if (text.startsWith('<!', next)) this.docType();
      else if (text.startsWith('</', next)) {
        const end = this.skipTo('>', 'a closing tag');
        const name = text.slice(next + 2, end).trim();
        const open = stack.pop();
        if (!open || open.fullName !== name) {
          throw this.broken(
            `found </${name.slice(0, 40)}> ${open ? `where </${open.fullName}> was due` : 'with nothing open'}`,
          );
        }
        const parent = stack[stack.length - 1];
        if (parent) parent.children.push(open);
        else root = open;
      } else {
        if (root) throw this.broken('found a second drawing after the first');
        const { open, empty } = this.openTag();
        if (!empty) {
          if (stack.length >= MAX_DEPTH) throw this.broken('found elements nested too deeply');
          stack.push(open);
        } else {
          const parent = stack[stack.length - 1];
          if (parent) parent.children.push(open);
          else root = open;
        }
      }
    }
    if (stack.length > 0)
      throw this.broken(`the file ends inside <${stack[stack.length - 1].fullName}>; it is cut off`);
    if (!root) throw this.broken('there is no drawing in it');
    return root;
  }

  private openTag(): { open: Open; empty: boolean } {
    const { text } = this;
    const line = this.lineAt(this.at);
    const nameAt = /[^\s/>]+/y;
    nameAt.lastIndex = this.at + 1;
    const fullName = nameAt.exec(text)?.[0];
    if (!fullName || !/^[A-Za-z_:\u0080-\uffff]/.test(fullName)) throw this.broken('found a < that begins no tag');
    let at = nameAt.lastIndex;
    const attributes: Record<string, string> = {};
    const part = /\s*(?:(\/?>)|([^\s=/>"'<]+)\s*=\s*(?:"([^"<]*)"|'([^'<]*)'))/y;
    for (;;) {
      part.lastIndex = at;
      const match = part.exec(text);
      if (!match) {
        this.at = at;
        throw this.broken(`the tag <${fullName.slice(0, 40)}> is damaged or cut off`);
      }
      at = part.lastIndex;
      if (match[1]) {
        this.at = at;
        const open: Open = { name: localName(fullName), fullName, attributes, children: [], text: '', line };
        return { open, empty: match[1] === '/>' };
      }
      const name = match[2].startsWith('xml:') ? match[2] : localName(match[2]);
      attributes[name] ??= this.decode(match[3] ?? match[4] ?? '');
    }
  }

  /** Skips past a mark and returns where it began. */
  private skipTo(mark: string, what: string): number {
    const end = this.text.indexOf(mark, this.at);
    if (end < 0) throw this.broken(`${what} has no end; the file is cut off`);
    this.at = end + mark.length;
    return end;
  }

  /** Document types name no rules that matter here, but may define entities. */
  private docType(): void {
    const { text } = this;
    const bracket = text.indexOf('[', this.at);
    const close = text.indexOf('>', this.at);
    if (close < 0) throw this.broken('the document type has no end; the file is cut off');
    if (bracket < 0 || bracket > close) {
      this.at = close + 1;
      return;
    }
    const end = /\]\s*>/g;
    end.lastIndex = bracket;
    const match = end.exec(text);
    if (!match) throw this.broken('the document type has no end; the file is cut off');
    for (const [, name, double, single] of text
      .slice(bracket, match.index)
      .matchAll(/<!ENTITY\s+([^\s%]+)\s+(?:"([^"]*)"|'([^']*)')\s*>/g)) {
      if (!this.entities.has(name)) this.entities.set(name, double ?? single ?? '');
    }
    this.at = end.lastIndex;
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
