import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { Resvg } from '@resvg/resvg-js';
import { describe, expect, it } from 'vitest';
import { readGerber } from '../../../src/artwork/gerber/read-gerber.js';
import { HEAD, n, totalArea } from './write-layer.js';

/**
 * An independent reader, gerber-to-svg 4.2.8 (MIT), drawn by resvg (MPL-2.0) at 100 dots a millimetre. It is right for
 * what is asked of it here; LM, LR, LS, AB, unary minus and incremental files are beyond it and checked by areas elsewhere.
 */
const gerberToSvg = createRequire(import.meta.url)('gerber-to-svg') as (
  text: string,
  options: object,
  done: (error: Error | null, svg: string) => void,
) => { viewBox: [number, number, number, number]; units: string };

const PER_MM = 100;

async function reference(text: string): Promise<{ area: number; box: [number, number, number, number] }> {
  const { svg, converter } = await new Promise<{ svg: string; converter: ReturnType<typeof gerberToSvg> }>(
    (resolve, reject) => {
      const made = gerberToSvg(text, { id: 'check', plotAsOutline: false }, (error, result) =>
        error ? reject(error) : resolve({ svg: result, converter: made }),
      );
    },
  );
  const inch = converter.units === 'in' ? 25.4 : 1;
  const [x0, y0, w, h] = converter.viewBox.map((v) => (v / 1000) * inch);
  const widthPx = Math.round(w * PER_MM);
  const { pixels, width, height } = new Resvg(svg.replace('currentColor', '#000').replaceAll('currentColor', '#000'), {
    fitTo: { mode: 'width', value: widthPx },
  }).render();
  let area = 0;
  let box: [number, number, number, number] = [Infinity, Infinity, -Infinity, -Infinity];
  const px = w / width;
  for (let row = 0; row < height; row += 1) {
    for (let column = 0; column < width; column += 1) {
      const alpha = pixels[4 * (row * width + column) + 3];
      area += alpha / 255;
      if (alpha < 128) continue;
      const x = x0 + column * px;
      const y = y0 + h - (row + 1) * px;
      box = [Math.min(box[0], x), Math.min(box[1], y), Math.max(box[2], x + px), Math.max(box[3], y + px)];
    }
  }
  return { area: area * px * px, box };
}

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
    const ours = await readGerber(new TextEncoder().encode(text), {});
    const theirs = await reference(text);
    expect(Math.abs(totalArea(ours) / theirs.area - 1)).toBeLessThan(0.004);
    // A pointed corner covers less than half of its last dots.
    const { minX, minY, maxX, maxY } = ours.bounds as NonNullable<typeof ours.bounds>;
    [minX, minY, maxX, maxY].forEach((value, i) => {
      expect(Math.abs(value - theirs.box[i])).toBeLessThan(2.6 / PER_MM);
    });
  });
});
