/**
 * How true readings from scans are: bias and spread in micrometres against resolution and blur, on simulated scans whose
 * truth is known. `npm run bench:truth:scan`, or with `-- --quick` only the middle of the table. With `-- --cases N` the
 * whole way instead, N times: both coupons from four scans and one caliper reading, through the fit, on machines and
 * scanners drawn at random; how often the truth lies in the intervals that are stated.
 */
import { generateCoupon } from '../../src/coupon/generate.js';
import { fitSessions } from '../../src/fit/calibration/fit-sessions.js';
import { PARAMETER_NAMES } from '../../src/machine/types.js';
import { couponOpenings } from '../../src/scan/find/coupon-openings.js';
import { Openings } from '../../src/scan/find/places.js';
import { lengthsIn } from '../../src/scan/measure/measure-coupon.js';
import { readingsOfScans } from '../../src/scan/readings-of-scans.js';
import { type KnownCoupon, scanPicture } from '../../src/scan/scan-picture.js';
import { fitScanner } from '../../src/scan/scanner/scanner.js';
import { scanFilm } from '../scan/virtual-scanner.js';

const MACHINE = { scaleX: 1.0031, scaleY: 0.9968, shear: 0.002, kerfXMm: 0.11, kerfYMm: 0.09 };
const LOOKS = { darker: { film: 215, open: 40 }, lighter: { film: 120, open: 220 } };

interface Row {
  readonly dpi: number;
  readonly blurUm: number;
  readonly look: keyof typeof LOOKS;
  readonly turnDeg: number;
}

const ALL: Row[] = [
  ...[0, 15, 25, 35].map((blurUm) => ({ dpi: 1200, blurUm, look: 'darker', turnDeg: 1.3 }) as const),
  { dpi: 1200, blurUm: 25, look: 'darker', turnDeg: 0 },
  { dpi: 1200, blurUm: 25, look: 'lighter', turnDeg: 91 },
  { dpi: 600, blurUm: 25, look: 'darker', turnDeg: 1.3 },
  { dpi: 2400, blurUm: 25, look: 'darker', turnDeg: 1.3 },
];

const cases = Number(process.argv[process.argv.indexOf('--cases') + 1] || 0);
if (process.argv.includes('--cases')) {
  await wholeWay(cases);
  process.exit();
}
const quick = process.argv.includes('--quick');
const coupon = await generateCoupon('aperture-ladder', { widthMm: 80, heightMm: 52, pitchXMm: 0.0254 });
const openings = new Openings(await couponOpenings(coupon.features, []));
const [w, h] = [coupon.canvas.widthMm, coupon.canvas.heightMm];
console.log('| dpi | blur, um | turn | openings | read | slots: bias, spread | webs | squares, circles | within 2 u |');
console.log('| --- | --- | --- | --- | --- | --- | --- | --- | --- |');
for (const row of quick ? ALL.slice(2, 3) : ALL) console.log(rowOf(row));

function rowOf({ dpi, blurUm, look, turnDeg }: Row): string {
  const turn = (turnDeg * Math.PI) / 180;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  const corners = [0, w].flatMap((x) => [0, h].map((y) => [cos * x - sin * y, sin * x + cos * y]));
  const [x0, y0, x1, y1] = [
    Math.min(...corners.map(([x]) => x)),
    Math.min(...corners.map(([, y]) => y)),
    Math.max(...corners.map(([x]) => x)),
    Math.max(...corners.map(([, y]) => y)),
  ];
  const picture = scanFilm(
    { openings: coupon.openings, machine: MACHINE },
    {
      ...{ dpi, blurMm: blurUm / 1000, turnDeg, atMm: [2 - x0, 2 - y0], widthMm: x1 - x0 + 4, heightMm: y1 - y0 + 4 },
      ...LOOKS[look],
      ...{ vignette: 0.3, noise: 2, specksPerCm2: 3, hairsPerCm2: 3, seed: 11 },
    },
  );
  const [found] = scanPicture(picture, [{ features: coupon.features, openings }], 'simulated').coupons;
  const errors = { slot: [] as number[], web: [] as number[], other: [] as number[] };
  let [held, lengths] = [0, 0];
  for (const { feature, lengthMm, uMm = 0 } of found.scanned) {
    if (lengthMm === undefined || !('nominalMm' in feature)) continue;
    const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
    const length = Math.hypot(MACHINE.scaleX * dx + MACHINE.shear * dy, MACHINE.scaleY * dy);
    const kerf = Math.hypot(MACHINE.kerfXMm * dx, MACHINE.kerfYMm * dy) / feature.nominalMm;
    const error = 1000 * (lengthMm - length - (feature.kind === 'web' ? -kerf : kerf));
    const kind = feature.kind === 'web' ? 'web' : feature.shape === undefined ? 'slot' : 'other';
    errors[kind].push(error);
    lengths += 1;
    if (Math.abs(error) < 2000 * uMm) held += 1;
  }
  const said = (list: readonly number[]): string => {
    const bias = list.reduce((sum, one) => sum + one, 0) / list.length;
    const spread = Math.sqrt(list.reduce((sum, one) => sum + (one - bias) ** 2, 0) / (list.length - 1));
    return `${bias.toFixed(1)}, ${spread.toFixed(1)}`;
  };
  const read = `${found.scanned.length} of ${coupon.features.features.length}`;
  return `| ${dpi} | ${blurUm} | ${turnDeg} | ${look} | ${read} | ${said(errors.slot)} | ${said(errors.web)} | ${said(errors.other)} | ${Math.round((100 * held) / lengths)} % |`;
}

/** Caliper's limit of error, mm: of a small bed, so that it does not decide all. */
async function wholeWay(count: number): Promise<void> {
  const LIMIT = 0.008;
  const bed = { widthMm: 64, heightMm: 44, pitchXMm: 0.0254 };
  const coupons = await Promise.all(['scale-ruler', 'aperture-ladder'].map((name) => generateCoupon(name, bed)));
  const known: KnownCoupon[] = await Promise.all(
    coupons.map(async ({ features }) => ({ features, openings: new Openings(await couponOpenings(features, [])) })),
  );
  let state = 4711;
  const random = (low: number, high: number): number => {
    state = (state * 48271) % 2147483647;
    return low + ((high - low) * state) / 2147483647;
  };
  const errors = PARAMETER_NAMES.map((): number[] => []);
  const held = PARAMETER_NAMES.map(() => 0);
  let [read, features, wrong] = [0, 0, 0];
  for (let n = 0; n < count; n += 1) {
    const machine = {
      ...{ scaleX: random(0.995, 1.005), scaleY: random(0.995, 1.005), shear: random(-0.003, 0.003) },
      ...{ kerfXMm: random(0.07, 0.14), kerfYMm: random(0.07, 0.14) },
    };
    const scanner = { scaleX: random(0.998, 1.002), scaleY: random(0.998, 1.002), skew: random(-0.001, 0.001) };
    const truth = (feature: (typeof coupons)[0]['features']['features'][0]): number => {
      if (!('from' in feature)) return Number.NaN;
      const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
      const kerf = Math.hypot(machine.kerfXMm * dx, machine.kerfYMm * dy) / feature.nominalMm;
      const sign = feature.kind === 'span' ? 0 : feature.kind === 'opening' ? 1 : -1;
      return Math.hypot(machine.scaleX * dx + machine.shear * dy, machine.scaleY * dy) + sign * kerf;
    };
    const look = n % 2 === 0 ? LOOKS.darker : LOOKS.lighter;
    const pictures = coupons.flatMap((one, k) =>
      [
        { turnDeg: random(-3, 3), widthMm: 72, heightMm: 53, atMm: [4, 4] as const },
        { turnDeg: 90 + random(-3, 3), widthMm: 54, heightMm: 73, atMm: [49, 4] as const },
      ].map((lies, i) =>
        scanPicture(
          scanFilm(
            { openings: one.openings, machine },
            {
              ...{ dpi: 1200, blurMm: 0.025, vignette: 0.3, noise: 2, specksPerCm2: 3, hairsPerCm2: 3 },
              ...{ ...scanner, ...lies, ...look, seed: 100 * n + 10 * k + i + 1 },
            },
          ),
          known,
          'simulated',
        ),
      ),
    );
    const found = pictures.flatMap(({ coupons: own }) => own);
    const lengths = found.flatMap(({ coupon: name, scanned }) => lengthsIn(name, scanned));
    const [span] = coupons[0].features.features;
    if (!('from' in span)) return;
    const reference = { coupon: 'scale-ruler', feature: span, readingMm: truth(span) + random(-LIMIT, LIMIT) };
    const fit = fitScanner(lengths, [{ ...reference, uMm: LIMIT / Math.sqrt(3) }]);
    const sessions = coupons.map(({ features: file }) => {
      const own = found.filter(({ coupon: name }) => name === file.coupon).map(({ scanned }) => scanned);
      const readings = readingsOfScans(file.features, own, fit, true);
      read += readings.length;
      features += file.features.length;
      for (const { feature: id, readingMm } of readings) {
        const feature = file.features.find((other) => other.id === id);
        if (feature && readingMm !== undefined && Math.abs(readingMm - truth(feature)) > 0.05) wrong += 1;
      }
      const gaugeLimitsMm = Object.fromEntries(
        readings.flatMap(({ gauge, gaugeLimitMm }) => (gauge && gaugeLimitMm ? [[gauge, gaugeLimitMm]] : [])),
      );
      return { coupon: file.coupon, canvas: file.canvas, features: file.features, readings, gaugeLimitsMm };
    });
    const result = fitSessions(sessions);
    PARAMETER_NAMES.forEach((name, i) => {
      const { value, interval95 = [value, value] } = result.fit[name];
      errors[i].push(value - machine[name]);
      if (interval95[0] <= machine[name] && machine[name] <= interval95[1]) held[i] += 1;
    });
  }
  console.log(`${read} of ${features} features read, ${wrong} taken for another`);
  console.log('| | largest error | within 95 % interval |\n| --- | --- | --- |');
  PARAMETER_NAMES.forEach((name, i) => {
    const most = Math.max(...errors[i].map(Math.abs));
    console.log(`| ${name} | ${most.toExponential(1)} | ${held[i]} of ${count} |`);
  });
}
