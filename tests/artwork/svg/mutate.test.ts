import { describe, expect, it } from 'vitest';
import { readSvg } from '../../../src/artwork/svg/read-svg.js';
import { InputError } from '../../../src/errors.js';
import { cases } from '../../cases.js';

const SOURCE = `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE svg [<!ENTITY dark "#123456">]>
<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="50mm" height="40mm" viewBox="0 0 50 40">
<style>.a{fill:none;stroke:black;stroke-width:.5px} g > rect.b { fill: &dark; }</style>
<defs><symbol id="s" viewBox="0 0 2 2"><circle cx="1" cy="1" r="1.2"/></symbol>
<clipPath id="c"><circle cx="5" cy="5" r="3"/></clipPath></defs>
<g transform="translate(5 5) rotate(30)"><rect class="b" x="1" y="1" width="4" height="3" rx=".5"/>
<path class="a" stroke-dasharray="2 1" stroke-linecap="round" d="M1 12c3 0 3 4 7 1s5-3 8 2"/></g>
<use xlink:href="#s" x="20" y="5" width="6" height="6"/>
<g clip-path="url(#c)"><rect width="20" height="10" fill="#333"/></g>
<path fill-rule="evenodd" d="M30 20h8v8H30zM32 22a2 2 0 1 0 4 0A2 2 0 1 0 32 22z"/>
<polygon points="10,30 20,30 15,38" style="fill:rgb(10%,0%,0%);opacity:.9"/>
</svg>`;

const COUNT = cases(120);

/** The same every time. */
function generator(seed: number): (below: number) => number {
  let state = seed;
  return (below) => {
    state = (state * 1664525 + 1013904223) >>> 0;
    return Math.floor((state / 2 ** 32) * below);
  };
}

function mutate(source: Uint8Array, random: (below: number) => number): Uint8Array {
  let bytes = Uint8Array.from(source);
  for (let k = random(5); k >= 0; k -= 1) {
    const at = random(bytes.length);
    const kind = random(10);
    if (kind < 4) bytes[at] = random(256);
    else if (kind < 7) bytes[at] = 48 + random(10);
    else if (kind === 7) bytes = bytes.slice(0, at);
    else if (kind === 8) bytes = Uint8Array.from([...bytes.slice(0, at), ...bytes.slice(at + random(30))]);
    else
      bytes = Uint8Array.from([
        ...bytes.slice(0, at),
        ...bytes.slice(Math.max(0, at - random(40)), at),
        ...bytes.slice(at),
      ]);
    if (bytes.length < 8) break;
  }
  return bytes;
}

describe('changed bytes of an SVG', () => {
  it('end in finite openings or in an InputError', async () => {
    const random = generator(4);
    const source = new TextEncoder().encode(SOURCE);
    const ends = new Map<string, number>();
    for (let i = 0; i < COUNT; i += 1) {
      let end = 'read';
      try {
        const { openings } = await readSvg(mutate(source, random), {});
        for (const { outer } of openings) for (const point of outer) expect(point.every(Number.isFinite)).toBe(true);
      } catch (error) {
        if (!(error instanceof InputError)) throw error;
        end = error.code;
      }
      ends.set(end, (ends.get(end) ?? 0) + 1);
    }
    expect(ends.get('read')).toBeGreaterThan(COUNT / 5);
    expect(ends.get('SVG_BROKEN')).toBeGreaterThan(COUNT / 10);
  });
});
