import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import type { CellFeature } from '../../src/coupon/features.js';
import { driftChart } from '../../src/fit/drift/drift-chart.js';
import { fitSpot } from '../../src/fit/spot/fit-spot.js';
import { fitWindow } from '../../src/fit/window/fit-window.js';
import type { ProfileFit } from '../../src/machine/types.js';
import type { Chart } from '../../src/report/plots/chart.js';
import { controlPlot } from '../../src/report/plots/control-plot.js';
import { kerfByLineEnergy } from '../../src/report/plots/kerf-by-line-energy.js';
import {
  type PlottedReading,
  readingsAndFit,
  residualMap,
  residualsBySize,
} from '../../src/report/plots/readings-plots.js';
import { chartPng } from '../../src/report/plots/render-chart.js';
import { mapWords, windowMap } from '../../src/report/plots/window-map.js';
import { cases } from '../cases.js';
import { gridCells } from '../fit/window/grid-cells.js';

const reading = (feature: string, size: number, residualMm: number, along: 'x' | 'y' = 'x'): PlottedReading => ({
  feature,
  kind: size > 5 ? 'span' : 'opening',
  from: [10, 10],
  to: along === 'x' ? [10 + size, 10] : [10, 10 + size],
  nominalMm: size,
  residualMm,
  standsOut: Math.abs(residualMm) > 0.05,
});

const READINGS = [0.1, 0.2, 0.4, 1, 2, 50, 80, 120].flatMap((size, i) => [
  reading(`A${i}`, size, 0.004 * Math.sin(i)),
  reading(`B${i}`, size, i === 3 ? 0.08 : -0.003 * Math.cos(i), 'y'),
]);

const measured = (value: number) => ({ value, stdUncertainty: 0.001 });
const FIT: ProfileFit = {
  scaleX: measured(1),
  scaleY: measured(1),
  shear: measured(0),
  kerfXMm: measured(0.1),
  kerfYMm: measured(0.1),
  model: 'full',
  covariance: [0, 1, 2, 3, 4].map((i) => [0, 1, 2, 3, 4].map((j) => (i === j ? (i < 3 ? 1e-10 : 1e-6) : 0))),
  residualSdMm: 0.005,
  dof: 11,
  warnings: [],
};

function gridResult(speeds = [5, 10, 20, 40]) {
  const cells = gridCells([20, 40, 60, 80], speeds);
  return fitWindow(
    cells.map(({ id, powerPercent, speedMmS }) => {
      const energy = powerPercent / speedMmS;
      const outcome = energy < 1.5 ? 'uncut' : energy < 2.5 ? 'partial' : energy < 7 ? 'through' : 'marked';
      return { feature: id, outcome } as const;
    }),
    cells,
  );
}

const SPOT_POINTS = [1.5, 2, 3, 4, 6].map((ratio) => ({
  powerPercent: 50,
  speedMmS: 25 / ratio,
  kerfMm: 0.05 * Math.sqrt(2 * Math.log(ratio)),
}));
const DRIFT = driftChart([5, 6, 5, 7, 5, 6, 5, 6, 14].map((value, i) => ({ label: `2031-04-0${i + 1}`, value })));

const CHARTS: [string, () => Promise<Chart | undefined>][] = [
  ['residuals against size', () => residualsBySize(READINGS, 0.005)],
  ['residuals by place', () => residualMap(READINGS, { widthMm: 150, heightMm: 140 }, 'Residuals by place on the bed')],
  ['readings and fit', () => readingsAndFit(READINGS, FIT)],
  ['window map', () => windowMap(gridResult())],
  ['control chart', () => controlPlot(DRIFT, 'kerf across X, mm')],
  ['kerf by line energy', () => kerfByLineEnergy(SPOT_POINTS, fitSpot(SPOT_POINTS), 'Kerf against line energy')],
];

const drawn = new Map<string, Promise<{ chart: Chart; png: Uint8Array }>>();
/** A chart of the list, drawn once for all tests: each is a picture of some four million dots. */
function drawnOnce(name: string): Promise<{ chart: Chart; png: Uint8Array }> {
  const draw = async () => {
    const chart = (await CHARTS.find(([other]) => other === name)![1]())!;
    return { chart, png: await chartPng(chart) };
  };
  if (!drawn.has(name)) drawn.set(name, draw());
  return drawn.get(name)!;
}

describe.each(CHARTS)('the picture of %s', (name, draw) => {
  it('is the same twice', async () => {
    const [{ chart, png }, second] = [await drawnOnce(name), (await draw())!];
    expect(second.svg).toBe(chart.svg);
    // The same drawing gives the same dots whatever it shows: of one chart, unless there is time for all.
    if (cases(1) > 1 || name === 'kerf by line energy') expect(Buffer.compare(await chartPng(second), png)).toBe(0);
  });
});

describe.each(CHARTS)('the picture of %s', (name) => {
  it('needs no font, and is a PNG at 300 dots per inch of the same shape, legible in grey', async () => {
    const { chart: first, png } = await drawnOnce(name);
    expect(first.svg).not.toMatch(/<text|font-family/);
    const [, width, height] = /<svg[^>]*\bwidth="([\d.]+)"[^>]*\bheight="([\d.]+)"/.exec(first.svg)!.map(Number);
    const size = await sharp(png).metadata();
    expect(size.width).toBe(Math.round((width * 300) / 96));
    expect(size.height! / size.width!).toBeCloseTo(height / width, 2);
    // 200 mm is what an A4 page has room for.
    expect((width / 96) * 25.4).toBeLessThan(200);
    // It stays legible in grey: paper is white, ink is black, and most of it is paper.
    const { data } = await sharp(png).greyscale().raw().toBuffer({ resolveWithObject: true });
    let [white, black] = [0, 0];
    for (const value of data) {
      if (value > 250) white += 1;
      else if (value < 60) black += 1;
    }
    expect(white / data.length).toBeGreaterThan(0.6);
    expect(black / data.length).toBeGreaterThan(0.003);
  });
});

describe('what the pictures show', () => {
  const count = (svg: string, colour: string): number => svg.split(`"${colour.toLowerCase()}"`).length - 1;

  it('a window map says ranges in what the machine is set in, and no percent of percent', () => {
    const [words] = mapWords(gridResult(), []);
    expect(words).toMatch(/; clean from [\d.]+ to [\d.]+ %, and from [\d.]+ to [\d.]+ mm\/s\.$/);
    expect(mapWords(gridResult(), ['power'])[0]).toMatch(/; clean from [\d.]+ to [\d.]+ mm\/s\.$/);
  });

  it('a window map has one square per clean cell, in the colour of its key', async () => {
    const result = gridResult();
    const { svg } = (await drawnOnce('window map')).chart;
    const clean = result.cells.filter(({ outcomes }) => outcomes[0] === 'through').length;
    const fills = svg.toLowerCase().match(/fill="#009e73"/g)?.length ?? 0;
    // One more in the key.
    expect(fills).toBe(clean + 1);
  });

  it('a refused grid is drawn with its cells and without boundaries', async () => {
    const result = gridResult();
    const cells = result.cells.map(
      ({ id, powerPercent, speedMmS }): CellFeature => ({
        id,
        kind: 'cell',
        powerPercent,
        speedMmS,
        box: [0, 0, 1, 1],
        say: '',
      }),
    );
    const refused = fitWindow(
      cells.map(({ id }) => ({ feature: id, outcome: 'uncut' as const })),
      cells,
    );
    const { svg } = await windowMap(refused);
    expect(count(svg.toLowerCase(), '#7f7f7f')).toBeGreaterThanOrEqual(cells.length);
  });

  it('a grid of one speed, whose boundaries run far out of the picture, is drawn', async () => {
    // Its shading, as a layer of its own, had ended the whole process.
    // Of what the machine can't set no margin is shown.
    const whiskers = async (fixed: ('power' | 'speed')[]): Promise<number> =>
      (await windowMap(gridResult(), fixed)).svg.match(/stroke-width="2\.2"/g)?.length ?? 0;
    const all = await whiskers([]);
    expect([await whiskers(['speed']), await whiskers(['power', 'speed'])]).toEqual([all - 1, all - 2]);
    for (const speed of [7, 20]) expect((await chartPng(await windowMap(gridResult([speed])))).length).toBeGreaterThan(5000); // biome-ignore format: one line
  });

  it('a control chart draws points outside in a shape and colour of their own', async () => {
    const { chart } = await drawnOnce('control chart');
    expect(DRIFT.individuals!.outside).toEqual([9]);
    expect(chart.svg.toLowerCase()).toMatch(/fill="#d55e00"/);
  });

  it('there is no control chart without limits', async () => {
    expect(await controlPlot(driftChart([{ label: 'a', value: 1 }]), 'x')).toBeUndefined();
  });
});
