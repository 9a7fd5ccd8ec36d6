/** A token of a content stream: an operand, or an operator as a string in `op`. */
export type Operand = number | PdfName | PdfString | readonly Operand[] | OperandDict | boolean | null;

export interface PdfName {
  readonly name: string;
}

export interface PdfString {
  readonly bytes: string;
}

export interface OperandDict {
  readonly dict: ReadonlyMap<string, Operand>;
}

export const isName = (value: Operand | undefined): value is PdfName =>
  typeof value === 'object' && value !== null && 'name' in value;

const WHITE = 1;
const DELIMITER = 2;
const DIGIT = 4;
/** What kind of character each byte is (ISO 32000-1, section 7.2.2). */
const KIND = new Uint8Array(256);
for (const code of [0, 9, 10, 12, 13, 32]) KIND[code] = WHITE;
for (const char of '()<>[]{}/%') KIND[char.charCodeAt(0)] = DELIMITER;
for (const char of '0123456789+-.') KIND[char.charCodeAt(0)] = DIGIT;

const MAX_DEPTH = 50;

/** Reads a content stream one operator at a time. Damage is skipped: a stream is drawn as far as it makes sense. */
export class ContentLexer {
  private at = 0;

  constructor(private readonly bytes: Uint8Array) {}

  /** The next operator, its operands put into `operands`; undefined at the end. */
  next(operands: Operand[]): string | undefined {
    operands.length = 0;
    for (;;) {
      this.skipWhite();
      if (this.at >= this.bytes.length) return undefined;
      const kind = KIND[this.bytes[this.at]];
      if (kind === DIGIT || kind === DELIMITER) {
        const value = this.operand(0);
        if (value !== undefined && operands.length < 512) operands.push(value);
        continue;
      }
      const word = this.word();
      if (word === 'true' || word === 'false') operands.push(word === 'true');
      else if (word === 'null') operands.push(null);
      else return word;
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

  private operand(depth: number): Operand | undefined {
    const { bytes } = this;
    const code = bytes[this.at];
    if (KIND[code] === DIGIT) return this.number();
    const char = String.fromCharCode(code);
    if (char === '/') return this.name();
    if (char === '(') return this.literal();
    if (char === '[') {
      this.at += 1;
      return this.list(']', depth);
    }
    if (char === '<') {
      if (bytes[this.at + 1] !== 0x3c) return this.hex();
      this.at += 2;
      const items = this.list('>', depth);
      const dict = new Map<string, Operand>();
      for (let i = 0; i + 1 < items.length; i += 2) {
        const key = items[i];
        if (isName(key)) dict.set(key.name, items[i + 1]);
      }
      return { dict };
    }
    this.at += 1;
    return undefined;
  }

  private list(end: ']' | '>', depth: number): Operand[] {
    const items: Operand[] = [];
    if (depth > MAX_DEPTH) return items;
    for (;;) {
      this.skipWhite();
      if (this.at >= this.bytes.length) return items;
      const code = this.bytes[this.at];
      if (code === end.charCodeAt(0)) {
        this.at += end === '>' && this.bytes[this.at + 1] === code ? 2 : 1;
        return items;
      }
      if (KIND[code] === DIGIT || KIND[code] === DELIMITER) {
        const value = this.operand(depth + 1);
        if (value !== undefined) items.push(value);
      } else this.word();
    }
  }

  private number(): number {
    const { bytes } = this;
    const from = this.at;
    while (this.at < bytes.length && KIND[bytes[this.at]] === DIGIT) this.at += 1;
    const text = String.fromCharCode(...bytes.subarray(from, Math.min(this.at, from + 64)));
    const value = Number(text);
    // Some writers put two signs, or one in the middle.
    return Number.isNaN(value) ? Number.parseFloat(text.replace(/^[+-]*(?=[+-])/, '')) || 0 : value;
  }

  private name(): PdfName {
    const { bytes } = this;
    const from = this.at + 1;
    this.at = from;
    while (this.at < bytes.length && (KIND[bytes[this.at]] & (WHITE | DELIMITER)) === 0) this.at += 1;
    const raw = Buffer.from(bytes.subarray(from, this.at)).toString('latin1');
    return { name: raw.replace(/#([0-9a-f]{2})/gi, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16))) };
  }

  private literal(): PdfString {
    const { bytes } = this;
    const from = this.at + 1;
    let depth = 0;
    for (; this.at < bytes.length; this.at += 1) {
      const code = bytes[this.at];
      if (code === 0x5c) this.at += 1;
      else if (code === 0x28) depth += 1;
      else if (code === 0x29) {
        depth -= 1;
        if (depth === 0) break;
      }
    }
    this.at += 1;
    return { bytes: Buffer.from(bytes.subarray(from, this.at - 1)).toString('latin1') };
  }

  private hex(): PdfString {
    const { bytes } = this;
    const from = this.at + 1;
    while (this.at < bytes.length && bytes[this.at] !== 0x3e) this.at += 1;
    const text = Buffer.from(bytes.subarray(from, this.at)).toString('latin1').replace(/\s/g, '');
    this.at += 1;
    return { bytes: Buffer.from(text, 'hex').toString('latin1') };
  }
}
