import { describe, expect, it } from 'vitest';
import { sniff } from '../../src/artwork/sniff.js';

const bytes = (text: string): Uint8Array => Uint8Array.from(text, (c) => c.charCodeAt(0));

describe('a file that ends within its first bytes', () => {
  it.each([
    ['', 'empty'],
    ['RIFF', 'unknown'],
    ['RIFF\x10\0', 'unknown'],
    ['RIFF\x10\0\0\0WEB', 'unknown'],
    ['BM', 'unknown'],
    ['\xff\xfe', 'empty'],
    ['%', 'unknown'],
    ['\0\0', 'empty'],
  ])('%j is told as %s', (text, expected) => {
    // A view at the end of its buffer, as a slice of an archive is.
    const whole = bytes(`before${text}`);
    expect(sniff(whole.subarray(6))).toBe(expected);
    expect(sniff(bytes(text))).toBe(expected);
  });
});
