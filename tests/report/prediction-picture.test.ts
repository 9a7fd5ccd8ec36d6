import { Resvg } from '@resvg/resvg-js';
import { expect, it } from 'vitest';
import { rectangle, solid } from '../../src/geometry/shapes.js';
import type { Region } from '../../src/geometry/types.js';
import { predictCut } from '../../src/machine/predict-cut.js';
import { predictionPicture } from '../../src/report/prediction-picture.js';
import { contrast } from './contrast.js';

/** Areas of the whole-sheet view that are blue and red, mm², by a renderer of its own. */
function coloursOf(asked: readonly Region[], kerfMm: number): { blue: number; red: number } {
  const prediction = predictCut(asked, { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: kerfMm, kerfYMm: kerfMm });
  const svg = predictionPicture(asked, [{ title: 'as drawn', prediction }], 'board');
  const { pixels, width } = new Resvg(svg, { font: { loadSystemFonts: false } }).render();
  // The sheet is drawn first, the magnified spot below it.
  const [top, height] = (/<rect x="30" y="([\d.]+)" width="900" height="([\d.]+)"/.exec(svg) ?? [])
    .slice(1)
    .map(Number);
  const pxPerMm = Number(/ scale\(([\d.]+)/.exec(svg)?.[1]);
  const areas = { blue: 0, red: 0 };
  for (let i = 4 * width * Math.ceil(top); i < 4 * width * Math.floor(top + height); i += 4) {
    // Blue #A5D8F5 has so much more blue than red, red #B84A00 so much less; white and black have neither.
    const towardsBlue = pixels[i + 2] - pixels[i];
    areas.blue += Math.max(0, towardsBlue) / (0xf5 - 0xa5) / pxPerMm ** 2;
    areas.red += Math.max(0, -towardsBlue) / 0xb8 / pxPerMm ** 2;
  }
  return areas;
}

it('shows what is cut as asked, and what is cut besides', () => {
  const { blue, red } = coloursOf([solid(rectangle(0, 0, 4, 3)), solid(rectangle(8, 0, 12, 3))], 0.4);
  // Minkowski: a rectangle grows by its walls times half the kerf and a disc of the kerf.
  const more = 2 * (14 * 0.2 + Math.PI * 0.04);
  expect(blue / 24).toBeCloseTo(1, 1);
  expect(red / more).toBeCloseTo(1, 1);
});

it('has no hole where two cuts overlap', () => {
  const { red } = coloursOf([solid(rectangle(0, 0, 4, 3)), solid(rectangle(4.2, 0, 8.2, 3))], 0.6);
  const around = 2 * (8.2 + 3) * 0.3 + 0.2 * 3;
  expect(red / around).toBeGreaterThan(0.9);
});

it('outlines hide no small openings', () => {
  const pads = Array.from({ length: 900 }, (_, i) => {
    const [x, y] = [7 * (i % 30), 7 * Math.floor(i / 30)];
    return solid(rectangle(x, y, x + 0.6, y + 0.9));
  });
  const { blue } = coloursOf(pads, 0);
  expect(blue / (900 * 0.6 * 0.9)).toBeGreaterThan(0.5);
});

it('frames its magnified spot within the sheet, and calls what rounds to nothing 0', () => {
  const asked = [solid(rectangle(0, 0, 4, 3)), solid(rectangle(18, 1, 18.2, 1.2))];
  const at = (kerfMm: number, scaleX = 1): string =>
    predictionPicture(
      asked,
      [
        {
          title: 'as drawn',
          prediction: predictCut(asked, { scaleX, scaleY: 1, shear: 0, kerfXMm: kerfMm, kerfYMm: kerfMm }),
        },
      ],
      'board',
    );
  const [, x, width] = /<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)" [^>]*stroke="#D55E00"/
    .exec(at(0.1))!
    .map(Number);
  expect(x).toBeGreaterThanOrEqual(30);
  expect(x + width).toBeLessThanOrEqual(930.01);
  expect(at(0, 1 - 1e-7)).toContain('(+0 µm on average)');
});

it('tells what was asked from what was not in grey print too, and names the framed spot for what it is', () => {
  const asked = [solid(rectangle(0, 0, 4, 3))];
  const prediction = predictCut(asked, { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.2, kerfYMm: 0.2 });
  const svg = predictionPicture(
    asked,
    ['as drawn', 'corrected'].map((title) => ({ title, prediction })),
    'board',
  );
  const fills = [...svg.matchAll(/width="24" height="16" fill="(#[0-9a-fA-F]{6})"/g)].map(([, colour]) => colour);
  // 3 to 1 is what WCAG 2.1 asks of graphics, success criterion 1.4.11.
  expect(contrast(fills[0], fills[1])).toBeGreaterThan(3);
  expect(svg.match(/the spot that is furthest off/g)).toHaveLength(1);
  expect(svg.match(/framed above: the same spot/g)).toHaveLength(1);
});
