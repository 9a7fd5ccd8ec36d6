/**
 * A JSON text with a line for each entry of its lists, and its end of line, as UTF-8 in parts: a report on 64,000
 * openings is 80 MB, and is never in memory as a whole.
 *
 * @param value - its own lists may be long, and come one by one; nothing else is
 */
export function jsonParts(value: Readonly<Record<string, unknown>>): Iterable<Uint8Array> {
  return { [Symbol.iterator]: () => partsOf(value) };
}

/** Parts are about as long, in units of UTF-16. From 128 KB on memory comes from the system anew each time: three times as slow. */
const LONG = 1 << 16;

function* partsOf(value: Readonly<Record<string, unknown>>): Generator<Uint8Array> {
  let text = '';
  let begin = '{';
  for (const [key, inner] of Object.entries(value)) {
    if (inner === undefined) continue;
    text += `${begin}\n  ${JSON.stringify(key)}: `;
    begin = ',';
    if (!isList(inner)) {
      text += JSON.stringify(inner, undefined, 2).replaceAll('\n', '\n  ');
      continue;
    }
    let first = '[';
    for (const entry of inner) {
      text += `${first}\n    ${JSON.stringify(entry) ?? null}`;
      first = ',';
      if (text.length < LONG) continue;
      yield Buffer.from(text);
      text = '';
    }
    text += first === '[' ? '[]' : '\n  ]';
  }
  yield Buffer.from(`${text}${begin === '{' ? '{' : '\n'}}\n`);
}

const isList = (inner: unknown): inner is Iterable<unknown> =>
  typeof inner === 'object' && inner !== null && Symbol.iterator in inner;
