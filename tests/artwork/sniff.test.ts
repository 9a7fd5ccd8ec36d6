import { describe, expect, it } from 'vitest';
import { sniff } from '../../src/artwork/read.js';

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

describe('what is no artwork is told for what it is', () => {
  it.each([
    ['<head><title>Not found</title></head><body>X1Y1D03*</body>', 'html'],
    ['<?xml version="1.0"?><!DOCTYPE html><html xmlns="x"></html>', 'html'],
    ['Dear sirs,\n50% more of layer 2 * as agreed, 20% in all\n', 'unknown'],
    ['%\nT01\nX0010Y0020\nX0030\nM30\n', 'drill'],
    ['7z\xbc\xaf\x27\x1c\0\x04', 'packed'],
    ['Rar!\x1a\x07\x01\0', 'packed'],
    ['%MOMM*%\nT01*\nX0010Y0020D03*\n', 'gerber'],
    ['%INboard 1*%\n', 'gerber'],
    ['% FSLAX46Y46 *%', 'gerber'],
    ['%AMRECT*\n21,1,1,1,0,0,0*%', 'gerber'],
  ])('%j is %s', (text, expected) => {
    expect(sniff(bytes(text))).toBe(expected);
  });
});
