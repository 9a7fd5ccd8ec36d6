import { describe, expect, it } from 'vitest';
import { n, readLayer, totalArea } from './write-layer.js';

/**
 * Areas and boxes by plain geometry (circle, stadium, annulus, lens, rounded rectangle), far inside what a stencil
 * needs: area within 0.005 %, box within 0.2 um, for small and for large shapes.
 */
const AREA_SHARE = 5e-5;
const BOX_MM = 2e-4;

type Case = readonly [name: string, body: string, areaMm2: number, box?: readonly [number, number, number, number]];

const disc = (d: number): Case => [
  `disc ${d}`,
  `%ADD10C,${d}*%D10*X0Y0D03*`,
  (Math.PI * d * d) / 4,
  [-d / 2, -d / 2, d / 2, d / 2],
];

const stadium = (w: number, l: number): Case[] => {
  const area = w * (l - w) + (Math.PI * w * w) / 4;
  const span = l - w;
  const turnRad = (37 * Math.PI) / 180;
  const [dx, dy] = [span * Math.cos(turnRad), span * Math.sin(turnRad)];
  return [
    [`obround ${w} x ${l}`, `%ADD10O,${l}X${w}*%D10*X0Y0D03*`, area, [-l / 2, -w / 2, l / 2, w / 2]],
    [`stroke ${w} x ${l}`, `%ADD10C,${w}*%D10*X0Y0D02*X${n(span)}D01*`, area, [-w / 2, -w / 2, span + w / 2, w / 2]],
    [
      `slanted stroke ${w} x ${l}`,
      `%ADD10C,${w}*%D10*X0Y0D02*X${n(dx)}Y${n(dy)}D01*`,
      area,
      [-w / 2, -w / 2, dx + w / 2, dy + w / 2],
    ],
  ];
};

const arcs = (r: number, w: number): Case[] => {
  const h = w / 2;
  return [
    [
      `quarter ring r ${r} w ${w}`,
      `G75*%ADD10C,${w}*%D10*X${n(r)}Y0D02*G03X0Y${n(r)}I${n(-r)}J0D01*`,
      (w * r * Math.PI) / 2 + (Math.PI * w * w) / 4,
      [-h, -h, r + h, r + h],
    ],
    [
      `the same clockwise r ${r} w ${w}`,
      `G75*%ADD10C,${w}*%D10*X0Y${n(r)}D02*G02X${n(r)}Y0I0J${n(-r)}D01*`,
      (w * r * Math.PI) / 2 + (Math.PI * w * w) / 4,
      [-h, -h, r + h, r + h],
    ],
    [
      `full ring r ${r} w ${w}`,
      `G75*%ADD10C,${w}*%D10*X${n(r)}Y0D02*G03X${n(r)}Y0I${n(-r)}J0D01*`,
      2 * Math.PI * r * w,
      [-r - h, -r - h, r + h, r + h],
    ],
    [`round region r ${r}`, `G75*G36*X${n(r)}Y0D02*G03X${n(r)}Y0I${n(-r)}J0D01*G37*`, Math.PI * r * r, [-r, -r, r, r]],
    [
      `round region by quadrants (G74) r ${r}`,
      `G74*G36*X${n(r)}Y0D02*G03X0Y${n(r)}I${n(r)}J0D01*X${n(-r)}Y0I0J${n(r)}D01*X0Y${n(-r)}I${n(r)}J0D01*X${n(r)}Y0I0J${n(r)}D01*G37*`,
      Math.PI * r * r,
      [-r, -r, r, r],
    ],
  ];
};

const rounded = (w: number, h: number, r: number): Case => {
  const [x, y] = [w / 2 - r, h / 2 - r];
  const corners = [
    [x, y],
    [-x, y],
    [-x, -y],
    [x, -y],
  ];
  const discs = corners.map(([cx, cy]) => `1,1,${2 * r},${cx},${cy}`).join('*');
  const macro = `%AMRR*0 four discs and two bars*${discs}*21,1,${w},${2 * y},0,0,0*21,1,${2 * x},${h},0,0,0*%`;
  return [
    `rounded rectangle ${w} x ${h} r ${r}`,
    `${macro}%ADD10RR*%D10*X0Y0D03*`,
    w * h - (4 - Math.PI) * r * r,
    [-w / 2, -h / 2, w / 2, h / 2],
  ];
};

const lens = 2 * 0.25 * Math.acos(0.5) - 0.25 * Math.sqrt(0.75);

const CASES: readonly Case[] = [
  ...[0.05, 0.1, 0.2, 0.3, 1, 5, 20].map(disc),
  ...[
    [0.1, 0.3],
    [0.1, 10],
    [0.3, 1],
    [0.05, 3],
  ].flatMap(([w, l]) => stadium(w, l)),
  ...[
    [1, 0.1],
    [0.3, 0.2],
    [10, 0.15],
    [50, 0.1],
  ].flatMap(([r, w]) => arcs(r, w)),
  rounded(1, 0.5, 0.1),
  rounded(0.3, 0.3, 0.05),
  rounded(0.25, 0.8, 0.0625),
  ['two discs that overlap', '%ADD10C,1*%D10*X0Y0D03*X500000D03*', 2 * Math.PI * 0.25 - lens, [-0.5, -0.5, 1, 0.5]],
  ['two squares edge to edge', '%ADD10R,1X1*%D10*X0Y0D03*X1000000D03*', 2, [-0.5, -0.5, 1.5, 0.5]],
  ['square pen on a slant', '%ADD10R,1X1*%D10*X0Y0D02*X5000000Y5000000D01*', 11, [-0.5, -0.5, 5.5, 5.5]],
  ['square with a square hole', '%ADD10R,2X2X0.5X0.4*%D10*X0Y0D03*', 3.8, [-1, -1, 1, 1]],
  ['loaded at 45 degrees and half size', '%ADD10R,2X1*%D10*%LR45*%%LS0.5*%X1000000Y0D03*', 0.5],
];

describe('areas and boxes', () => {
  it.each(CASES.map((entry) => ({ name: entry[0], entry })))('$name', async ({ entry: [, body, areaMm2, box] }) => {
    const artwork = await readLayer(body);
    expect(artwork.openings).toHaveLength(1);
    expect(Math.abs(totalArea(artwork) / areaMm2 - 1)).toBeLessThan(AREA_SHARE);
    if (!box || !artwork.bounds) return;
    const { minX, minY, maxX, maxY } = artwork.bounds;
    for (const [i, value] of [minX, minY, maxX, maxY].entries()) expect(Math.abs(value - box[i])).toBeLessThan(BOX_MM);
  });

  /** Counted on a fine grid of points by the distance from the centre line. */
  const sweptArea = (r: number, h: number, sweepRad: number): number => {
    const reach = r + h;
    const count = 1500;
    const step = (2 * reach) / count;
    let inside = 0;
    for (let i = 0; i < count; i += 1) {
      for (let j = 0; j < count; j += 1) {
        const [x, y] = [-reach + (i + 0.5) * step, -reach + (j + 0.5) * step];
        const angle = (Math.atan2(y, x) + 2 * Math.PI) % (2 * Math.PI);
        const distance =
          angle <= sweepRad
            ? Math.abs(Math.hypot(x, y) - r)
            : Math.min(Math.hypot(x - r, y), Math.hypot(x - r * Math.cos(sweepRad), y - r * Math.sin(sweepRad)));
        if (distance <= h) inside += 1;
      }
    }
    return inside * step * step;
  };

  it.each([
    ['an arc tighter than its pen', 0.2, 0.5, 180],
    ['an arc that runs into its own end', 1, 0.6, 350],
    ['a long arc tighter than its pen', 0.2, 0.5, 300],
  ])('%s', async (_name, r, w, sweepDeg) => {
    const sweepRad = (sweepDeg * Math.PI) / 180;
    const end = [r * Math.cos(sweepRad), r * Math.sin(sweepRad)];
    const artwork = await readLayer(`G75*%ADD10C,${w}*%D10*X${n(r)}Y0D02*G03X${n(end[0])}Y${n(end[1])}I${n(-r)}J0D01*`);
    expect(artwork.openings).toHaveLength(1);
    expect(Math.abs(totalArea(artwork) / sweptArea(r, w / 2, sweepRad) - 1)).toBeLessThan(5e-4);
  });

  it('pads that abut at odd fractions of an inch become one, with no seam', async () => {
    for (const size of [0.011505, 0.0115, 0.019685, 0.007875]) {
      const step = Math.round(size * 1e6);
      const pads = Array.from({ length: 9 }, (_, i) => `X${i * step}Y${7 * step}D03*`).join('\n');
      const artwork = await readLayer(`%ADD10R,${size}X${size}*%\nD10*\n${pads}`, {}, '%FSLAX26Y26*%\n%MOIN*%\n');
      expect(artwork.openings).toHaveLength(1);
      expect(totalArea(artwork)).toBeCloseTo(9 * (size * 25.4) ** 2, 5);
    }
  });

  it('a pad painted with two hundred strokes is one opening of the painted area', async () => {
    // A band of capsules: their straight middle is solid, and both ends are scalloped by half discs.
    const [w, pitch, rows, span] = [0.1, 0.005, 200, 2];
    const strokes = Array.from({ length: rows }, (_, i) => `X0Y${n(i * pitch)}D02*\nX${n(span)}D01*`).join('\n');
    const artwork = await readLayer(`%ADD10C,${w}*%\nD10*\n${strokes}`);
    expect(artwork.openings).toHaveLength(1);
    const height = (rows - 1) * pitch + w;
    const half = w / 2;
    const t = pitch / 2;
    const scallop = t * Math.sqrt(half * half - t * t) + half * half * Math.asin(t / half);
    // Both ends together: a whole disc, and for each step the width of a row's two caps.
    const ends = Math.PI * half * half + (rows - 1) * 2 * scallop;
    expect(totalArea(artwork) / (height * span + ends)).toBeCloseTo(1, 4);
    expect(artwork.openings[0].tag).toMatchObject({ drawn: 'stroke', shape: 'circle', line: 6 });
  });
});
