/** Line (from 1) on which each value of a JSON text starts, by its path: keys and indices joined with dots, '' for the root. */
export function linesByPath(text: string): Map<string, number> {
  const lines = new Map<string, number>();
  let at = 0;
  let line = 1;
  const skip = (): void => {
    while (at < text.length && /[\s,:]/.test(text[at])) {
      if (text[at] === '\n') line += 1;
      at += 1;
    }
  };
  const readString = (): string => {
    const start = at;
    at += 1;
    while (at < text.length && text[at] !== '"') at += text[at] === '\\' ? 2 : 1;
    at += 1;
    return JSON.parse(text.slice(start, at)) as string;
  };
  const readValue = (path: string): void => {
    skip();
    lines.set(path, line);
    const below = (key: string | number): string => (path === '' ? String(key) : `${path}.${key}`);
    const open = text[at];
    if (open === '{' || open === '[') {
      at += 1;
      let index = 0;
      for (skip(); at < text.length && text[at] !== '}' && text[at] !== ']'; skip()) {
        if (open === '{') {
          const keyLine = line;
          const key = readString();
          readValue(below(key));
          lines.set(below(key), keyLine);
        } else {
          readValue(below(index));
          index += 1;
        }
      }
      at += 1;
    } else if (open === '"') {
      readString();
    } else {
      while (at < text.length && !/[\s,\]}]/.test(text[at])) at += 1;
    }
  };
  readValue('');
  return lines;
}

/**
 * The first key that an object of a valid JSON text has twice, and its line: parsers take the last one without a word.
 * Without recursion, because texts may be nested deeply.
 */
export function repeatedKey(text: string): { readonly key: string; readonly line: number } | undefined {
  const open: (Set<string> | undefined)[] = [];
  const tokens = /"[^"\\]*(?:\\.[^"\\]*)*"(\s*:)?|[{}[\]]/gs;
  for (const token of text.matchAll(tokens)) {
    const [found, isKey] = token;
    if (found === '{') open.push(new Set());
    else if (found === '[') open.push(undefined);
    else if (found === '}' || found === ']') open.pop();
    else if (isKey !== undefined) {
      const key = JSON.parse(found.slice(0, found.length - isKey.length)) as string;
      const keys = open[open.length - 1];
      if (keys?.has(key)) return { key, line: text.slice(0, token.index).split('\n').length };
      keys?.add(key);
    }
  }
  return undefined;
}
