/** Writers of the filters that a stream may have (ISO 32000-1, section 7.4), as simple as they can be. */

export function toHex(bytes: Uint8Array): Uint8Array {
  return Buffer.from(`${Buffer.from(bytes).toString('hex').replace(/.{64}/g, '$&\n')}>`, 'latin1');
}

export function toAscii85(bytes: Uint8Array): Uint8Array {
  const out: string[] = [];
  for (let at = 0; at < bytes.length; at += 4) {
    const part = bytes.subarray(at, at + 4);
    let word = 0;
    for (let k = 0; k < 4; k += 1) word = word * 256 + (part[k] ?? 0);
    if (word === 0 && part.length === 4) {
      out.push('z');
      continue;
    }
    const digits: string[] = [];
    for (let k = 0; k < 5; k += 1, word = Math.floor(word / 85)) digits.unshift(String.fromCharCode(33 + (word % 85)));
    out.push(digits.slice(0, part.length + 1).join(''));
  }
  return Buffer.from(`${out.join('')}~>`, 'latin1');
}

export function toRunLengths(bytes: Uint8Array): Uint8Array {
  const out: number[] = [];
  for (let at = 0; at < bytes.length; ) {
    let run = 1;
    while (run < 128 && bytes[at + run] === bytes[at] && at + run < bytes.length) run += 1;
    if (run > 1) out.push(257 - run, bytes[at]);
    else out.push(0, bytes[at]);
    at += run;
  }
  return Uint8Array.from([...out, 128]);
}

/** Codes of 9 to 12 bits that grow one step early. */
export function toLzw(bytes: Uint8Array): Uint8Array {
  const out: number[] = [];
  let held = 0;
  let bits = 0;
  let width = 9;
  let next = 258;
  let known = new Map<number, number>();
  const put = (code: number): void => {
    held = (held << width) | code;
    bits += width;
    for (; bits >= 8; bits -= 8) out.push((held >> (bits - 8)) & 255);
    held &= (1 << bits) - 1;
  };
  put(256);
  let current = -1;
  for (const byte of bytes) {
    const longer = current < 0 ? byte : known.get(current * 256 + byte);
    if (longer !== undefined) {
      current = longer;
      continue;
    }
    put(current);
    known.set(current * 256 + byte, next);
    next += 1;
    if (next + 1 > 1 << width) width += 1;
    if (next === 4095) {
      put(256);
      width = 9;
      next = 258;
      known = new Map();
    }
    current = byte;
  }
  if (current >= 0) {
    put(current);
    next += 1;
    if (next + 1 > 1 << width && width < 12) width += 1;
  }
  put(257);
  if (bits > 0) put(0);
  return Uint8Array.from(out);
}
