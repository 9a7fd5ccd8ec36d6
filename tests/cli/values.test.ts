import { InvalidArgumentError } from 'commander';
import { describe, expect, it } from 'vitest';
import {
  parseAt,
  parseDpi,
  parseListOf,
  parseMm,
  parsePitch,
  parsePositiveMm,
  parsePowerPercent,
  parseSize,
  parseSpeedMmS,
} from '../../src/cli/options/values.js';

describe('values on the command line', () => {
  const read: [(text: string) => unknown, string, unknown][] = [
    [parsePositiveMm, '0,1', 0.1],
    [parsePositiveMm, '0.1', 0.1],
    [parsePositiveMm, '100 um', 0.1],
    [parseMm, '0', 0],
    [parsePitch, '0,05', { x: 0.05, y: 0.05 }],
    [parsePitch, '0,05x0,0254', { x: 0.05, y: 0.0254 }],
    [parsePitch, '0.05,0.0254', { x: 0.05, y: 0.0254 }],
    [parseSize, '6inx4in', { widthMm: 152.4, heightMm: 101.6 }],
    [parseSize, '210,297', { widthMm: 210, heightMm: 297 }],
    [parseSize, '210,5x297', { widthMm: 210.5, heightMm: 297 }],
    [parsePowerPercent, '45 %', 45],
    [parseSpeedMmS, '3000mm/min', 50],
    [parseListOf(parseSpeedMmS), '3000mm/min, 6000 mm/min', [50, 100]],
    [parseListOf(parsePowerPercent), '25 %;35 45', [25, 35, 45]],
  ];
  it.each(read)('%o reads %j', (parse, text, wanted) => {
    expect(parse(text)).toEqual(wanted);
  });

  const refused: [(text: string) => unknown, string][] = [
    [parsePositiveMm, '1,234'],
    [parsePositiveMm, '0'],
    [parsePowerPercent, '145 %'],
    [parseSpeedMmS, '100 kn'],
    [parsePitch, '0.05,0.04,0.03'],
    [parseAt, '0,05,abc'],
    [parseDpi, '600,5'],
  ];
  it.each(refused)('%o refuses %j', (parse, text) => {
    expect(() => parse(text)).toThrow(InvalidArgumentError);
  });
});
