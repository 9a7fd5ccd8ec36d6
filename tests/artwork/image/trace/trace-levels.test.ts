import { describe, expect, it } from 'vitest';
import { traceGrey } from '../../../../src/artwork/image/trace/trace.js';
import { openingArea } from '../../../../src/geometry/area.js';
import { disc, greyImage } from './raster.js';

const PX = { x: 1, y: 1 };
const radius = 8.3;
const full = greyImage([disc(15.2, 14.7, radius)], 30, 30);
const area = (levels?: { film: number; open: number }, map = (v: number) => v): number =>
  openingArea(traceGrey({ ...full, data: full.data.map((v) => Math.round(map(v))) }, PX, levels)[0]);

describe('an image whose levels are not 0 and 255', () => {
  it('traces to the same area once they are given', () => {
    const exact = Math.PI * radius ** 2;
    expect(area() / exact).toBeCloseTo(1, 2);
    const faint = (v: number): number => 30 + (v * 150) / 255;
    expect(area({ film: 30, open: 180 }, faint) / exact).toBeCloseTo(1, 2);
    expect(area({ film: 255, open: 0 }, (v) => 255 - v) / exact).toBeCloseTo(1, 2);
  });

  it('comes out narrow without them', () => {
    expect(area(undefined, (v) => (v * 180) / 255)).toBeLessThan(0.985 * area());
  });
});
