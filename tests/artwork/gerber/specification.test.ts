import { describe, expect, it } from 'vitest';
import { n, readLayer, totalArea } from './write-layer.js';

/**
 * Areas of the examples in Ucamco, "The Gerber Layer Format Specification", revision 2021.02, by section. The areas
 * follow from plain geometry; the shapes are the specification's.
 */
const flash = (template: string, macro = ''): string => `${macro}%ADD10${template}*%\nD10*\nX0Y0D03*`;
const IN = '%FSLAX46Y46*%\n%MOIN*%\n';

describe('standard apertures (4.4)', () => {
  it.each([
    ['C,0.5', 0.19635],
    ['C,0.5X0.25', 0.147262],
    ['R,0.044X0.025', 0.0011],
    ['R,0.044X0.025X0.019', 0.00081647],
    ['O,0.046X0.026', 0.00105093],
    ['O,0.046X0.026X0.019', 0.0007674],
    ['P,.040X6', 0.00103923],
    ['P,.040X6X0.0X0.019', 0.0007557],
  ])('%s has the area %d square inch', async (template, area) => {
    const artwork = await readLayer(flash(template), {}, IN);
    expect(artwork.openings).toHaveLength(1);
    const relative = totalArea(artwork) / 25.4 ** 2 / area;
    expect(Math.abs(relative - 1)).toBeLessThan(1e-5);
  });

  it('puts a vertex of a polygon on +X when it is not turned', async () => {
    const { openings } = await readLayer(flash('P,2X6'));
    expect(Math.max(...openings[0].outer.map(([x]) => x))).toBeCloseTo(1, 9);
    expect(openings[0].outer).toHaveLength(6);
  });

  it('leaves what lies beneath a hole', async () => {
    const artwork = await readLayer('%ADD10C,3X1*%\n%ADD11R,0.5X0.5*%\nD11*\nX0Y0D03*\nD10*\nX0Y0D03*');
    expect(totalArea(artwork)).toBeCloseTo(Math.PI * (2.25 - 0.25) + 0.25, 4);
  });
});

describe('aperture macros (4.5)', () => {
  it.each([
    ['centre line, 30 degrees about the origin', '21,1,6.8,1.2,3.4,0.6,30', 8.16],
    ['vector line', '20,1,0.9,0,0.45,12,0.45,0', 10.8],
    ['outline triangle, 30 degrees', '4,1,3,1,-1,1,1,2,1,1,-1,30', 1],
    ['polygon of eight corners', '5,1,8,0,0,8,0', 45.2548],
    ['square with a round hole', '21,1,10,10,0,0,0*\n1,0,5,0,0', 80.365],
    ['donut by a variable', '1,1,$1,0,0*\n$2=$1x0.8*\n1,0,$2,0,0', Math.PI * 0.25 * (1 - 0.64)],
  ])('%s', async (_name, body, area) => {
    const artwork = await readLayer(flash('T1,1', `%AMT1*\n${body}*%\n`));
    expect(totalArea(artwork)).toBeCloseTo(area, 3);
  });

  it('turns a centre line about the macro origin', async () => {
    const { openings } = await readLayer(flash('T1', '%AMT1*\n21,1,6.8,1.2,3.4,0.6,30*%\n'));
    const xs = openings[0].outer.map(([x]) => x);
    const ys = openings[0].outer.map(([, y]) => y);
    expect((Math.min(...xs) + Math.max(...xs)) / 2).toBeCloseTo(2.6445, 3);
    expect((Math.min(...ys) + Math.max(...ys)) / 2).toBeCloseTo(2.2196, 3);
  });

  it('reads operators, brackets, unary minus and undefined variables', async () => {
    const macro = '%AMV*\n$3=($1+0.5)x2-$9/4*\n1,1,$3,-$2,-(-$2),0*%\n';
    const { openings } = await readLayer(flash('V,0.5X1', macro));
    const xs = openings[0].outer.map(([x]) => x);
    expect(Math.max(...xs) - Math.min(...xs)).toBeCloseTo(2, 3);
    expect((Math.max(...xs) + Math.min(...xs)) / 2).toBeCloseTo(-1, 4);
  });

  it.each(['21,1,$1-$2-$3,5,0,0,0', '21,1,$1+$2-0.4,5,0,0,0', '20,1,$1-$2-$3,-5,0,5,0,0', '1,1,$1-$2-$3,5,0'])(
    'takes what its numbers leave of nothing as nothing: %s',
    async (primitive) => {
      const artwork = await readLayer(flash('N,0.3X0.1X0.2', `%AMN*\n${primitive}*\n21,1,1,1,0,0,0*%\n`));
      expect(artwork.openings.map(({ outer }) => outer.length)).toEqual([4]);
      expect(totalArea(artwork)).toBe(1);
      expect(artwork.warnings).toEqual([]);
    },
  );

  it('takes an exposure that misses 0 by its last digits as off', async () => {
    const artwork = await readLayer(flash('N,0.3X0.1X0.2', '%AMN*\n21,1,2,1,0,0,0*\n21,$1-$2-$3,1,0.5,0,0,0*%\n'));
    expect(totalArea(artwork)).toBe(1.5);
  });

  it('draws a thermal with four gaps', async () => {
    const artwork = await readLayer(flash('TH', '%AMTH*\n7,0,0,3,2,0.4,0*%\n'));
    expect(artwork.openings).toHaveLength(4);
    const full = Math.PI * (2.25 - 1);
    expect(totalArea(artwork)).toBeGreaterThan(full - 4 * 0.4 * 0.55);
    expect(totalArea(artwork)).toBeLessThan(full - 4 * 0.4 * 0.48);
  });
});

const contour = (points: readonly (readonly [number, number])[]): string =>
  [
    `X${n(points[0][0])}Y${n(points[0][1])}D02*`,
    ...[...points.slice(1), points[0]].map(([x, y]) => `X${n(x)}Y${n(y)}D01*`),
  ].join('\n');
const square = (x: number, y: number, w: number, h = w): [number, number][] => [
  [x, y],
  [x + w, y],
  [x + w, y + h],
  [x, y + h],
];

describe('regions (4.10)', () => {
  it('4.10.4.1: the arrow has an area of 36', async () => {
    const artwork = await readLayer(
      `G36*\n${contour([
        [2, 3],
        [7, 3],
        [7, 1],
        [11, 5],
        [7, 9],
        [7, 7],
        [2, 7],
      ])}\nG37*`,
    );
    expect(totalArea(artwork)).toBeCloseTo(36, 6);
  });

  it('contours are filled on their own and united, whatever their direction', async () => {
    const two = `G36*\n${contour(square(0, 0, 10))}\n${contour(square(5, 5, 10).toReversed())}\nG37*`;
    expect(totalArea(await readLayer(two))).toBeCloseTo(175, 6);
  });

  it('4.10.4.7: a cut-in makes a hole of radius 3 in 10 x 8', async () => {
    const body = [
      'G36*',
      'G75*',
      `X${n(0)}Y${n(0)}D02*`,
      'G01*',
      `X${n(10)}D01*`,
      `Y${n(8)}D01*`,
      `X${n(0)}D01*`,
      `Y${n(4)}D01*`,
      `X${n(2)}D01*`,
      'G02*',
      `X${n(2)}Y${n(4)}I${n(3)}J0D01*`,
      'G01*',
      `X${n(0)}D01*`,
      `Y${n(0)}D01*`,
      'G37*',
    ].join('\n');
    const artwork = await readLayer(body);
    expect(totalArea(artwork)).toBeCloseTo(51.7257, 2);
    expect(artwork.openings[0].islands).toHaveLength(1);
  });

  it('4.10.4.6: dark and clear in turn leave 16275.73', async () => {
    // Square 150, less a disc of 100, plus a square of 50, less a disc of 33.3: sizes that give the published stages.
    const disc = (d: number): string => `%ADD11C,${d}*%\nD11*\nX0Y0D03*`;
    const stages = [
      `%LPD*%\n%ADD10R,150X150*%\nD10*\nX0Y0D03*`,
      `%LPC*%\n${disc(100)}`,
      `%LPD*%\n%ADD12R,50X50*%\nD12*\nX0Y0D03*`,
    ];
    expect(totalArea(await readLayer(stages[0]))).toBeCloseTo(22500, 6);
    expect(totalArea(await readLayer(stages.slice(0, 2).join('\n')))).toBeCloseTo(14646.02, 1);
    expect(totalArea(await readLayer(stages.join('\n')))).toBeCloseTo(17146.02, 1);
    const last = `%LPC*%\n%ADD13C,${2 * Math.sqrt((17146.018366 - 16275.73) / Math.PI)}*%\nD13*\nX0Y0D03*`;
    expect(totalArea(await readLayer([...stages, last].join('\n')))).toBeCloseTo(16275.73, 1);
  });

  it('closes a contour that does not end where it began, and says so', async () => {
    const artwork = await readLayer(`G36*\nX0Y0D02*\nX${n(2)}D01*\nY${n(1)}D01*\nX0D01*\nG37*`);
    expect(totalArea(artwork)).toBeCloseTo(2, 6);
    expect(artwork.warnings.map((w) => w.code)).toContain('CONTOUR_OPEN');
  });
});

describe('strokes (4.8)', () => {
  it('a round pen leaves a capsule', async () => {
    const artwork = await readLayer(`%ADD10C,0.4*%\nD10*\nX0Y0D02*\nX${n(3)}Y${n(4)}D01*`);
    expect(totalArea(artwork)).toBeCloseTo(5 * 0.4 + Math.PI * 0.04, 5);
  });

  it('a rectangular pen sweeps the rectangle along a slanted line', async () => {
    const artwork = await readLayer(`%ADD10R,1X0.5*%\nD10*\nX0Y0D02*\nX${n(2)}Y${n(2)}D01*`);
    // Minkowski sum of a rectangle and a segment: w h + |dx| h + |dy| w.
    expect(totalArea(artwork)).toBeCloseTo(0.5 + 2 * 0.5 + 2 * 1, 6);
  });

  it.each([
    ['a quarter', 'G03', [1, 0], [0, 1], [-1, 0], Math.PI / 2],
    ['three quarters', 'G02', [1, 0], [0, 1], [-1, 0], (3 * Math.PI) / 2],
    ['a full turn', 'G03', [1, 0], [1, 0], [-1, 0], 2 * Math.PI],
  ] as [string, string, [number, number], [number, number], [number, number], number][])(
    'a round pen along %s of a circle',
    async (_name, code, from, to, ij, turn) => {
      const artwork = await readLayer(
        `%ADD10C,0.2*%\nD10*\nG75*\nX${n(from[0])}Y${n(from[1])}D02*\n${code}X${n(to[0])}Y${n(to[1])}I${n(ij[0])}J${n(ij[1])}D01*`,
      );
      const caps = turn === 2 * Math.PI ? 0 : Math.PI * 0.01;
      expect(totalArea(artwork)).toBeCloseTo(0.2 * turn + caps, 4);
    },
  );

  it('an arc tighter than its pen covers its centre', async () => {
    const artwork = await readLayer(`%ADD10C,2*%\nD10*\nG75*\nX${n(0.5)}Y0D02*\nG03X${n(-0.5)}Y0I${n(-0.5)}J0D01*`);
    expect(artwork.openings).toHaveLength(1);
    expect(artwork.openings[0].islands).toHaveLength(0);
  });
});

describe('repeats, loads and blocks (4.9, 4.11)', () => {
  it('step and repeat puts columns and rows', async () => {
    const artwork = await readLayer('%ADD10R,1X1*%\nD10*\n%SRX3Y2I5J4*%\nX0Y0D03*\n%SR*%\nX-9000000Y0D03*');
    expect(artwork.openings).toHaveLength(7);
    expect(artwork.bounds).toMatchObject({ maxX: 10.5, maxY: 4.5, minX: -9.5 });
  });

  it('load mirror, rotate and scale act on flashes, and a block toggles its polarity when clear', async () => {
    const artwork = await readLayer('%ADD10R,2X1*%\nD10*\n%LR90*%\n%LS2*%\nX0Y0D03*');
    expect(artwork.bounds?.maxX).toBeCloseTo(1, 9);
    expect(artwork.bounds?.maxY).toBeCloseTo(2, 9);
    const corner = '%AMCORNER*\n4,1,3,0,0,1,0,0,2,0,0,0*%\n%ADD10CORNER*%\nD10*\n%LMX*%\nX0Y0D03*';
    const mirrored = await readLayer(corner);
    expect(mirrored.bounds).toMatchObject({ minX: -1, maxX: 0, minY: 0, maxY: 2 });
  });

  it('flashes a block aperture with everything in it, nested and turned', async () => {
    const block =
      '%ABD12*%\n%ADD10R,1X0.5*%\nD10*\nX0Y0D03*\nX2000000Y0D03*\n%AB*%\n%ABD13*%\nD12*\nX0Y0D03*\nX0Y3000000D03*\n%AB*%\nD13*\n%LR90*%\nX10000000Y0D03*';
    const artwork = await readLayer(block);
    expect(artwork.openings).toHaveLength(4);
    expect(artwork.bounds?.minX).toBeCloseTo(10 - 3.25, 9);
    expect(artwork.bounds?.maxY).toBeCloseTo(2.5, 9);
  });
});

describe('attributes (5)', () => {
  it('give side, component and pin; comments may hold them', async () => {
    const body =
      '%TF.FileFunction,Paste,Bot*%\n%ADD10R,1X1*%\nD10*\n%TO.C,U7*%\n%TO.P,U7,3*%\nX0Y0D03*\n%TD*%\nX3000000D03*';
    const artwork = await readLayer(body);
    expect(artwork.side).toBe('bottom');
    expect(artwork.openings[0].tag).toMatchObject({ drawn: 'flash', shape: 'rectangle', component: 'U7', pin: '3' });
    expect(artwork.openings[1].tag?.component).toBeUndefined();
    const hidden = await readLayer('G04 #@! TF.FileFunction,Paste,Top*\n%ADD10R,1X1*%\nD10*\nX0Y0D03*');
    expect(hidden.side).toBe('top');
  });
});
