/**
 * Which files one datum passes: those in which something is done more often when there is one more of it. A process of its
 * own, in which nothing else is done meanwhile; prints them as JSON.
 */
import { type Profiler, Session } from 'node:inspector/promises';
import sharp from 'sharp';
import {
  fitCalibration,
  generateCoupon,
  makeStencil,
  parseFeatures,
  parseReadings,
  profileText,
  readArtwork,
  type StencilProfile,
  writeStencil,
} from '../../src/index.js';

type Counts = ReadonlyMap<string, number>;

async function countsOf(session: Session, run: () => Promise<unknown>): Promise<Counts> {
  await run(); // what is done once a process
  await session.post('Profiler.takePreciseCoverage');
  await run();
  const { result } = (await session.post('Profiler.takePreciseCoverage')) as Profiler.TakePreciseCoverageReturnType;
  const counts = new Map<string, number>();
  for (const { url, functions } of result) {
    const file = /\/src\/(.*)\.ts$/.exec(url)?.[1];
    if (!file) continue;
    for (const { functionName, ranges } of functions) {
      const key = `${file}|${functionName}|${ranges[0].startOffset}`;
      counts.set(key, (counts.get(key) ?? 0) + ranges[0].count);
    }
  }
  return counts;
}

async function passed(without: () => Promise<unknown>, withIt: () => Promise<unknown>): Promise<string[]> {
  const session = new Session();
  session.connect();
  try {
    await session.post('Profiler.enable');
    await session.post('Profiler.startPreciseCoverage', { callCount: true, detailed: false });
    const before = await countsOf(session, without);
    const after = await countsOf(session, withIt);
    const more = [...after].filter(([key, count]) => count > (before.get(key) ?? 0));
    return [...new Set(more.map(([key]) => key.split('|')[0]))].sort();
  } finally {
    await session.post('Profiler.stopPreciseCoverage');
    session.disconnect();
  }
}

const known = (value: number) => ({ value, stdUncertainty: 0.0001 });
const PROFILE = {
  pitchMm: { x: 0.0254, y: 0.0254 },
  fit: {
    ...{ scaleX: known(1.004), scaleY: known(0.997), shear: known(0.002) },
    ...{ kerfXMm: known(0.12), kerfYMm: known(0.1) },
  },
} as StencilProfile;

const layer = (pads: string): Buffer =>
  Buffer.from(`%FSLAX46Y46*%%MOMM*%%ADD10R,0.5X0.3*%%ADD11R,0.8X0.4*%D10*${pads}M02*`);
const TWO = 'X1000000Y1000000D03*X3000000Y1000000D03*';

async function stencilOf(bytes: Buffer, dpi?: number): Promise<unknown> {
  const artwork = await readArtwork(bytes, dpi ? { dpi, polarity: 'dark' } : {});
  return writeStencil(makeStencil(artwork, PROFILE), { format: 'png' });
}

function picture(pads: readonly (readonly [x: number, y: number, width: number, height: number])[]): Promise<Buffer> {
  const size = { width: 400, height: 300 };
  const data = Buffer.alloc(size.width * size.height, 255);
  for (const [x, y, width, height] of pads) {
    for (let row = y; row < y + height; row += 1) data.fill(0, row * size.width + x, row * size.width + x + width);
  }
  return sharp(data, { raw: { ...size, channels: 1 } })
    .png()
    .toBuffer();
}

const A = [50, 50, 40, 20] as const;
const B = [150, 50, 40, 20] as const;
const C = [150, 150, 30, 55] as const;

const two = (): Promise<unknown> => stencilOf(layer(TWO));
const alike = await passed(two, () => stencilOf(layer(`${TWO}X5000000Y4000000D03*`)));
const another = await passed(two, () => stencilOf(layer(`${TWO}D11*X5000000Y4000000D03*`)));
const [before, after] = [await picture([A, B]), await picture([A, B, C])];
const pixels = await passed(
  () => stencilOf(before, 1000),
  () => stencilOf(after, 1000),
);

const { features: ladder } = await generateCoupon('aperture-ladder', {
  ...{ widthMm: 90, heightMm: 60 },
  ...{ pitchXMm: 0.05, pitchYMm: 0.05 },
});
const rows = ladder.features.map((one, i) =>
  'nominalMm' in one && one.nominalMm > 0.2
    ? [`${one.id},${(one.nominalMm + (one.kind === 'web' ? -0.1 : 0.1) + 0.004 * Math.sin(i)).toFixed(3)},0.005`]
    : [],
);
async function profileOf(count: number): Promise<unknown> {
  const { canvas, features } = parseFeatures(JSON.stringify(ladder), 'a.json');
  const table = ['feature,reading_mm,resolution_mm', ...rows.flat().slice(0, count)].join('\n');
  const { readings } = parseReadings(table, 'a.csv');
  const { fit, warnings } = fitCalibration(readings, features);
  const sessions = [{ coupon: 'aperture-ladder', canvas, features, readings, kept: [] }];
  return profileText({ format: 'apertrue-profile', version: 1, name: 'bench', fit, warnings, sessions } as never);
}
const reading = await passed(
  () => profileOf(30),
  () => profileOf(31),
);
console.log(JSON.stringify({ alike, another, pixels, reading }));
