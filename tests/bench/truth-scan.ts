/**
 * How true readings from scans are: bias and spread in micrometres against resolution and blur, on simulated scans whose
 * truth is known. `npm run bench:truth:scan`, or with `-- --quick` only the middle of the table.
 */
import { generateCoupon } from '../../src/coupon/generate.js';
import { couponOpenings } from '../../src/scan/coupon-openings.js';
import { Openings } from '../../src/scan/places.js';
import { scanPicture } from '../../src/scan/scan-picture.js';
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
