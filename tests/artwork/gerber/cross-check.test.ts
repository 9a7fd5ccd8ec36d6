import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { independentReading, PER_MM } from './independent-reader.js';
import { HEAD, n, readText, totalArea } from './write-layer.js';

const CASES: [string, string][] = [
  [
    'standard apertures with holes',
    `${HEAD}%ADD10C,1X0.4*%\n%ADD11R,1.2X0.6*%\n%ADD12O,1.5X0.7*%\n%ADD13P,1.4X6X15*%\nD10*\nX0Y0D03*\nD11*\nX3000000D03*\nD12*\nX6000000Y1000000D03*\nD13*\nX9000000D03*\nM02*\n`,
  ],
  [
    'macros with all primitives',
    `${HEAD}%AMALL*\n21,1,2,0.5,0,0,20*\n1,1,0.8,1,1,0*\n20,1,0.3,-1,-1,1,-1,0*\n4,1,3,-1,1,-0.4,1,-0.4,1.6,-1,1,0*\n5,1,5,-1.5,0,0.6,10*%\n%ADD10ALL*%\nD10*\nX0Y0D03*\nX5000000Y2000000D03*\nM02*\n`,
  ],
  [
    'lines, arcs and regions',
    `${HEAD}%ADD10C,0.3*%\nD10*\nG75*\nX0Y0D02*\nG01X4000000Y1000000D01*\nG02X6000000Y3000000I0J2000000D01*\nG36*\nG01X8000000Y0D02*\nX10000000D01*\nG03X10000000Y3000000I0J1500000D01*\nG01X8000000D01*\nY0D01*\nG37*\nM02*\n`,
  ],
  [
    'clear polarity and step and repeat',
    `${HEAD}%ADD10R,3X2*%\n%ADD11C,0.8*%\n%SRX3Y2I4J3*%\nD10*\nX0Y0D03*\n%LPC*%\nD11*\nX500000Y0D03*\nX-700000Y300000D03*\n%LPD*%\n%SR*%\nM02*\n`,
  ],
  [
    'inch, leading zeros left out',
    '%FSLAX24Y24*%\n%MOIN*%\n%ADD10R,0.06X0.03*%\n%ADD11O,0.02X0.08*%\nD10*\nX1000Y1000D03*\nX2500D03*\nD11*\nX4000Y1500D03*\nM02*\n',
  ],
  [
    'the demo board',
    readFileSync(new URL('../../../patterns/demo/brook-logger-paste-top.gbr', import.meta.url), 'utf8'),
  ],
  [
    'a fan of painted strokes',
    `${HEAD}%ADD10C,0.2*%\nD10*\n${Array.from({ length: 40 }, (_, i) => `X0Y0D02*\nX${n(5 * Math.cos(i / 20))}Y${n(5 * Math.sin(i / 20))}D01*`).join('\n')}\nM02*\n`,
  ],
];

describe('areas and boxes agree with an independent reader', () => {
  it.each(CASES)('for %s', async (_name, text) => {
    const ours = await readText(text);
    const theirs = await independentReading(text);
    expect(Math.abs(totalArea(ours) / theirs.area - 1)).toBeLessThan(0.004);
    // A pointed corner covers less than half of its last dots.
    const { minX, minY, maxX, maxY } = ours.bounds as NonNullable<typeof ours.bounds>;
    [minX, minY, maxX, maxY].forEach((value, i) => {
      expect(Math.abs(value - theirs.box[i])).toBeLessThan(2.6 / PER_MM);
    });
  });
});
