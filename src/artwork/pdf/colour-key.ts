/**
 * Where a picture is seen whose mask is a range of each component (ISO 32000-1, section 8.9.6.4): outside that range.
 *
 * @param values - codes as the stream holds them, component by component
 * @param key - least and largest code of each component
 * @returns 255 where it covers what lies beneath, else 0
 */
export function outsideKey(values: Uint8Array, components: number, key: readonly number[]): Uint8Array {
  const alpha = new Uint8Array(values.length / components);
  for (let i = 0, at = 0; i < alpha.length; i += 1, at += components) {
    let isMasked = true;
    for (let k = 0; k < components; k += 1) {
      const value = values[at + k];
      if (value < key[2 * k] || value > key[2 * k + 1]) isMasked = false;
    }
    alpha[i] = isMasked ? 0 : 255;
  }
  return alpha;
}
