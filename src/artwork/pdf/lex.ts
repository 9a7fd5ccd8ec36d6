import { PDFBool, type PDFContext, PDFNull, type PDFObject, PDFObjectParser } from 'pdf-lib';

/** A number as such, since a page may hold millions. */
export type Operand = number | PDFObject;

const WHITE = 1;
const DELIMITER = 2;
const DIGIT = 4;
/** What kind of character each byte is (ISO 32000-1, section 7.2.2). */
const KIND = new Uint8Array(256);
for (const code of [0, 9, 10, 12, 13, 32]) KIND[code] = WHITE;
for (const char of '()<>[]{}/%') KIND[char.charCodeAt(0)] = DELIMITER;
for (const char of '0123456789+-.') KIND[char.charCodeAt(0)] = DIGIT;

const WORDS: Readonly<Record<string, PDFObject>> = { true: PDFBool.True, false: PDFBool.False, null: PDFNull };
/** Each may cost a look at all that follows. */
const MAX_DAMAGES = 20;

/** Reads a content stream one operator at a time. Damage is skipped: a stream is drawn as far as it makes sense. */
export class ContentLexer {
  /** What was no operator, number or other object. */
  readonly nonsense = new Set<string>();
  private at = 0;
  private damages = 0;
  private readonly parser: PDFObjectParser;

  /** @param context - to which operands belong */
  constructor(
    private readonly bytes: Uint8Array,
    context: PDFContext,
  ) {
    this.parser = PDFObjectParser.forBytes(bytes, context);
  }

  /** The next operator, its operands put into `operands`; undefined at the end. */
  next(operands: Operand[]): string | undefined {
    operands.length = 0;
    for (;;) {
      this.skipWhite();
      if (this.at >= this.bytes.length) return undefined;
      const kind = KIND[this.bytes[this.at]];
      let value: Operand | undefined;
      if (kind === DIGIT) value = this.number();
      else if (kind === DELIMITER) value = this.object();
      else {
        const word = this.word();
        value = Object.hasOwn(WORDS, word) ? WORDS[word] : undefined;
        if (!value) return word;
      }
      if (value !== undefined && operands.length < 512) operands.push(value);
    }
  }

  /** Names, texts, lists and dictionaries are as in the file around. */
  private object(): PDFObject | undefined {
    // biome-ignore lint/complexity/useLiteralKeys: only to its own kind the parser shows where it stands
    const stream = this.parser['bytes'];
    stream.moveTo(this.at);
    try {
      const object = this.parser.parseObject();
      this.at = stream.offset();
      return object;
    } catch (error) {
      this.nonsense.add(String.fromCharCode(this.bytes[this.at]));
      this.at += 1;
      this.damages += 1;
      if (this.damages > MAX_DAMAGES || error instanceof RangeError) throw new DamagedStream('it makes no sense');
      return undefined;
    }
  }

  /**
   * The data of an inline picture, after its `ID`.
   *
   * @param length - how many bytes they are, if that is known
   * @returns undefined when no end was found
   */
  inlineData(length: number | undefined): Uint8Array | undefined {
    const { bytes } = this;
    // One white character; some writers put two.
    const starts = bytes[this.at] === 13 && bytes[this.at + 1] === 10 ? [this.at + 1, this.at + 2] : [this.at + 1];
    if (length !== undefined) {
      for (const from of starts) {
        let at = from + length;
        while (KIND[bytes[at]] === WHITE && at < from + length + 2) at += 1;
        if (!this.isEnd(at)) continue;
        this.at = at + 2;
        return bytes.subarray(from, from + length);
      }
    }
    const from = starts[starts.length - 1];
    // Data may hold EI by chance, so what follows must look like text.
    for (let at = from; at + 1 < bytes.length; at += 1) {
      const isApart = KIND[bytes[at - 1]] === WHITE || bytes[at - 1] === 0x3e;
      if (!isApart || !this.isEnd(at)) continue;
      this.at = at + 2;
      return bytes.subarray(from, KIND[bytes[at - 1]] === WHITE ? Math.max(from, at - 1) : at);
    }
    this.at = bytes.length;
    return undefined;
  }

  /** Whether `EI` stands here and text after it. */
  private isEnd(at: number): boolean {
    const { bytes } = this;
    if (bytes[at] !== 0x45 || bytes[at + 1] !== 0x49 || KIND[bytes[at + 2] ?? 32] !== WHITE) return false;
    const after = bytes.subarray(at + 2, at + 12);
    return after.every((code) => (code >= 32 && code < 127) || KIND[code] === WHITE);
  }

  private skipWhite(): void {
    const { bytes } = this;
    while (this.at < bytes.length) {
      const code = bytes[this.at];
      if (KIND[code] === WHITE) this.at += 1;
      else if (code === 0x25) {
        while (this.at < bytes.length && bytes[this.at] !== 10 && bytes[this.at] !== 13) this.at += 1;
      } else return;
    }
  }

  private word(): string {
    const { bytes } = this;
    const from = this.at;
    while (this.at < bytes.length && (KIND[bytes[this.at]] & (WHITE | DELIMITER)) === 0) this.at += 1;
    if (this.at === from) this.at += 1;
    return String.fromCharCode(...bytes.subarray(from, Math.min(this.at, from + 64)));
  }

  private number(): number {
    const { bytes } = this;
    const from = this.at;
    while (this.at < bytes.length && KIND[bytes[this.at]] === DIGIT) this.at += 1;
    const text = String.fromCharCode(...bytes.subarray(from, Math.min(this.at, from + 64)));
    const value = Number(text);
    if (!Number.isNaN(value)) return value;
    // Some writers put two signs.
    if (!/^[+-]+(\d+\.?\d*|\.\d+)$/.test(text)) this.nonsense.add(text);
    return Number.parseFloat(text.replace(/^[+-]*(?=[+-])/, '')) || 0;
  }
}

/** A stream that can't be decoded here; the renderer may still know how. */
export class UndecodedStream extends Error {}

/** A stream that nobody can decode. */
export class DamagedStream extends Error {}
