/** The list that stands at a key; a new one where none does. */
export function listIn<K, V>(lists: Map<K, V[]>, key: K): V[] {
  const known = lists.get(key);
  if (known) return known;
  const made: V[] = [];
  lists.set(key, made);
  return made;
}
