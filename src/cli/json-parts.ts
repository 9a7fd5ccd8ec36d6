/**
 * What `JSON.stringify(value, undefined, 2)` and a line's end are as UTF-8, in parts: a report on 64,000 openings is
 * 120 MB, and is never in memory as a whole. A list that many entries share is made into bytes once.
 *
 * @param value - an object; its own lists may be long, and nothing else
 */
export function jsonParts(value: Readonly<Record<string, unknown>>): Iterable<Uint8Array> {
  return { [Symbol.iterator]: () => partsOf(value) };
}

function* partsOf(value: Readonly<Record<string, unknown>>): Generator<Uint8Array> {
  const sink = new Sink();
  let begin = '{';
  for (const [key, inner] of Object.entries(value)) {
    if (inner === undefined) continue;
    sink.text += `${begin}\n  ${JSON.stringify(key)}: `;
    begin = ',';
    if (!Array.isArray(inner) || inner.length === 0) {
      sink.write(inner, '  ');
      continue;
    }
    for (const [i, entry] of inner.entries()) {
      sink.text += `${i === 0 ? '[' : ','}\n    `;
      sink.write(entry, '    ');
      sink.settle();
      yield* sink.full();
    }
    sink.text += '\n  ]';
  }
  sink.text += begin === '{' ? '{}\n' : '\n}\n';
  sink.settle();
  yield* sink.full();
  yield sink.rest();
}

/** Bytes are handed on in parts about as long. */
const LONG = 1 << 18;
/** A unit of UTF-16 takes no more bytes. */
const BYTES_A_UNIT = 3;

/** Gathers text and bytes. */
class Sink {
  text = '';
  private readonly done: Uint8Array[] = [];
  private part = Buffer.allocUnsafeSlow(LONG);
  private used = 0;
  private readonly shared = new WeakMap<object, Uint8Array>();
  private readonly keys = new Map<string, string>();

  /** Writes a value, indented; `depth` is 1 for what stands in an entry of a list. */
  write(inner: unknown, indent: string, depth = 0): void {
    if (typeof inner === 'number') this.text += Number.isFinite(inner) ? inner : 'null';
    else if (typeof inner !== 'object' || inner === null) this.text += JSON.stringify(inner ?? null);
    else if (!Array.isArray(inner)) this.object(inner, indent, depth);
    // Of one depth, so that it is indented alike wherever it stands.
    else if (depth === 1 && typeof inner[0] === 'object') this.sharedList(inner, indent);
    else this.list(inner, indent, depth);
  }

  /** Makes the text so far into bytes. */
  settle(): void {
    this.makeRoom(BYTES_A_UNIT * this.text.length);
    this.used += this.part.write(this.text, this.used);
    this.text = '';
  }

  *full(): Generator<Uint8Array> {
    yield* this.done.splice(0);
  }

  rest(): Uint8Array {
    return this.part.subarray(0, this.used);
  }

  private object(inner: object, indent: string, depth: number): void {
    const deeper = `${indent}  `;
    let begin = '{\n';
    for (const key of Object.keys(inner)) {
      const own = (inner as Record<string, unknown>)[key];
      if (own === undefined) continue;
      let name = this.keys.get(key);
      if (name === undefined) this.keys.set(key, (name = `${JSON.stringify(key)}: `));
      this.text += begin + deeper + name;
      this.write(own, deeper, depth + 1);
      begin = ',\n';
    }
    this.text += begin === ',\n' ? `\n${indent}}` : '{}';
  }

  private list(inner: readonly unknown[], indent: string, depth: number): void {
    const deeper = `${indent}  `;
    inner.forEach((one, i) => {
      this.text += (i === 0 ? '[\n' : ',\n') + deeper;
      this.write(one, deeper, depth + 1);
    });
    this.text += inner.length > 0 ? `\n${indent}]` : '[]';
  }

  private sharedList(inner: readonly unknown[], indent: string): void {
    this.settle();
    let bytes = this.shared.get(inner);
    if (!bytes) {
      this.list(inner, indent, 1);
      bytes = Buffer.from(this.text);
      this.text = '';
      this.shared.set(inner, bytes);
    }
    this.makeRoom(bytes.length);
    this.part.set(bytes, this.used);
    this.used += bytes.length;
  }

  private makeRoom(bytes: number): void {
    if (this.used + bytes <= this.part.length) return;
    this.done.push(this.rest());
    this.part = Buffer.allocUnsafeSlow(Math.max(LONG, bytes));
    this.used = 0;
  }
}
