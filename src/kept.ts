/** Where answers are kept: a map, or one that forgets what nobody else holds. */
interface Memory<K, V> {
  get(key: K): V | undefined;
  set(key: K, value: V): unknown;
}

/** What is kept at a key; worked out where nothing is kept yet. */
export function kept<K, V extends NonNullable<unknown>>(memory: Memory<K, V>, key: K, make: () => V): V {
  const known = memory.get(key);
  if (known !== undefined) return known;
  const made = make();
  memory.set(key, made);
  return made;
}

/** Work that is done when it is first asked for, and never again. */
export function once<T>(work: () => T): () => T {
  let known: { readonly value: T } | undefined;
  return () => {
    known ??= { value: work() };
    return known.value;
  };
}

/** Numbers things from 0 on, in the order in which they are first asked for. */
export function numbering<K>(): (thing: K) => number {
  const numbers = new Map<K, number>();
  return (thing) => kept(numbers, thing, () => numbers.size);
}

/** The list that stands at a key; a new one where none does. */
export const listIn = <K, V>(lists: Memory<K, V[]>, key: K): V[] => kept(lists, key, () => []);

/** What shares a key, in the order in which it came. */
export function grouped<T, K>(items: Iterable<T>, keyOf: (item: T) => K): Map<K, T[]> {
  const groups = new Map<K, T[]>();
  for (const item of items) listIn(groups, keyOf(item)).push(item);
  return groups;
}

/** Those that are there: `is && thing` for one that may not be. */
export const present = <T>(...things: readonly (T | false | undefined | 0 | '')[]): T[] =>
  things.filter((one): one is T => Boolean(one));
