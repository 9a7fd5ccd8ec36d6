import { InvalidArgumentError } from 'commander';
import { describe, expect, it } from 'vitest';
import * as values from '../../src/cli/options/values.js';

describe('values on the command line', () => {
  const read: [(text: string) => unknown, string, unknown][] = [
    [values.positiveMm, '0,1', 0.1],
    [values.positiveMm, '0.1', 0.1],
    [values.positiveMm, '100 um', 0.1],
    [values.mm, '0', 0],
    [values.pitch, '0,05', { x: 0.05, y: 0.05 }],
    [values.pitch, '0,05x0,0254', { x: 0.05, y: 0.0254 }],
    [values.pitch, '0.05,0.0254', { x: 0.05, y: 0.0254 }],
    [values.size, '6inx4in', { widthMm: 152.4, heightMm: 101.6 }],
    [values.size, '210,297', { widthMm: 210, heightMm: 297 }],
    [values.size, '210,5x297', { widthMm: 210.5, heightMm: 297 }],
    [values.powerPercent, '45 %', 45],
    [values.speedMmS, '3000mm/min', 50],
    [values.eachOf(values.speedMmS), '3000mm/min, 6000 mm/min', [50, 100]],
    [values.eachOf(values.powerPercent), '25 %;35 45', [25, 35, 45]],
  ];
  it.each(read)('%o reads %j', (parse, text, wanted) => {
    expect(parse(text)).toEqual(wanted);
  });

  const refused: [(text: string) => unknown, string][] = [
    [values.positiveMm, '1,234'],
    [values.positiveMm, '0'],
    [values.powerPercent, '145 %'],
    [values.speedMmS, '100 kn'],
    [values.pitch, '0.05,0.04,0.03'],
    [values.at, '0,05,abc'],
    [values.dpi, '600,5'],
  ];
  it.each(refused)('%o refuses %j', (parse, text) => {
    expect(() => parse(text)).toThrow(InvalidArgumentError);
  });
});
