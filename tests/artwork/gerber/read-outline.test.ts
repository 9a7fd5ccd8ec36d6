import { describe, expect, it } from 'vitest';
import { type BoardOutline, readOutline } from '../../../src/artwork/gerber/read-outline.js';
import { InputError } from '../../../src/errors.js';
import { ringArea } from '../../../src/geometry/area.js';
import { HEAD, n } from './write-layer.js';

const PEN = '%ADD10C,0.15*%\nD10*\nG01*\nG75*\n';

function outline(body: string, gapMm?: number): Promise<BoardOutline> {
  return readOutline(new TextEncoder().encode(`${HEAD}${PEN}${body}\nM02*\n`), { name: 'edge.gbr', gapMm });
}
const line = (x0: number, y0: number, x1: number, y1: number): string =>
  `X${n(x0)}Y${n(y0)}D02*\nX${n(x1)}Y${n(y1)}D01*`;
const circle = (x: number, y: number, r: number): string =>
  `X${n(x + r)}Y${n(y)}D02*\nG03X${n(x + r)}Y${n(y)}I${n(-r)}J0D01*\nG01*`;
const box = (x: number, y: number, w: number, h: number): string =>
  [line(x, y, x + w, y), line(x + w, y, x + w, y + h), line(x + w, y + h, x, y + h), line(x, y + h, x, y)].join('\n');
const codes = ({ warnings }: BoardOutline): string[] => warnings.map((w) => w.code);
const areas = ({ rings }: BoardOutline): number[] => rings.map((ring) => Number(ringArea(ring).toFixed(3)));

describe('the outline of a board', () => {
  it('is the centre line of strokes in any order and direction', async () => {
    const shuffled = [line(30, 0, 0, 0), line(0, 20, 0, 0), line(30, 20, 0, 20), line(30, 20, 30, 0)].join('\n');
    const board = await outline(shuffled);
    expect(areas(board)).toEqual([600]);
    expect(board.bounds).toEqual({ minX: 0, minY: 0, maxX: 30, maxY: 20 });
    expect(board.warnings).toEqual([]);
  });

  it('keeps round corners: a quarter circle of radius 5 on each', async () => {
    const arc = (x0: number, y0: number, x1: number, y1: number, i: number, j: number): string =>
      `X${n(x0)}Y${n(y0)}D02*\nG03X${n(x1)}Y${n(y1)}I${n(i)}J${n(j)}D01*\nG01*`;
    const board = await outline(
      [
        line(5, 0, 25, 0),
        line(30, 5, 30, 15),
        line(25, 20, 5, 20),
        line(0, 15, 0, 5),
        arc(25, 0, 30, 5, 0, 5),
        arc(30, 15, 25, 20, -5, 0),
        arc(5, 20, 0, 15, 0, -5),
        arc(0, 5, 5, 0, 5, 0),
      ].join('\n'),
    );
    expect(ringArea(board.rings[0])).toBeCloseTo(600 - (4 - Math.PI) * 25, 4);
  });

  it('has cut-outs clockwise after the boards', async () => {
    const board = await outline([circle(10, 10, 2), box(0, 0, 30, 20), box(20, 5, 3, 3)].join('\n'));
    expect(areas(board)).toEqual([600, -12.566, -9]);
  });

  it('bridges small gaps', async () => {
    const gapped = [line(0, 0, 30, 0), line(30.02, 0, 30, 20), line(30, 20, 0, 20), line(0, 20, 0, 0.03)].join('\n');
    const board = await outline(gapped);
    expect(codes(board)).toEqual([]);
    expect(areas(board)[0]).toBeCloseTo(600.2, 1);
    await expect(outline(gapped, 0.01)).rejects.toMatchObject({ code: 'OUTLINE_OPEN' });
  });

  it('of a panel is its outermost loop; score lines between boards and loose lines are left out', async () => {
    const panel = [
      line(0, 0, 20, 0),
      line(20, 0, 40, 0),
      line(40, 0, 40, 20),
      line(40, 20, 20, 20),
      line(20, 20, 0, 20),
      line(0, 20, 0, 0),
      line(20, 0, 20, 20),
      line(50, 0, 60, 0),
    ].join('\n');
    const board = await outline(panel);
    expect(areas(board)).toEqual([800]);
    expect(codes(board)).toEqual(['OUTLINE_LEFT']);
  });

  it('counts a contour that is drawn twice once', async () => {
    const twice = [box(0, 0, 30, 20), box(0, 0, 30, 20), circle(9, 9, 1), circle(9, 9, 1)].join('\n');
    const [board, hole, ...more] = areas(await outline(twice));
    expect([board, more]).toEqual([600, []]);
    // A circle comes out 0.4 um too wide.
    expect(hole).toBeCloseTo(-Math.PI, 2);
  });

  it('follows step and repeat', async () => {
    const board = await outline(`%SRX3Y1I40J0*%\n${box(0, 0, 30, 20)}\n%SR*%`);
    expect(areas(board)).toEqual([600, 600, 600]);
    expect(board.bounds.maxX).toBe(110);
  });

  it('may be a region', async () => {
    const board = await outline('G36*\nX0Y0D02*\nX8000000D01*\nY5000000D01*\nX0D01*\nY0D01*\nG37*');
    expect(areas(board)).toEqual([40]);
  });

  it('of another kind of layer is doubted, of another kind of file refused', async () => {
    expect(codes(await outline(`%TF.FileFunction,Copper,L1,Top*%\n${box(0, 0, 3, 2)}`))).toEqual(['OUTLINE_DOUBTFUL']);
    await expect(readOutline(new TextEncoder().encode('M48\nT1C1\n%\nM30\n'))).rejects.toThrow(InputError);
    await expect(outline('X0Y0D03*')).rejects.toMatchObject({ code: 'OUTLINE_OPEN' });
  });
});

describe('lines that end inside other lines', () => {
  it('bound the board where they meet; what sticks out counts for nothing', async () => {
    const rails = [line(-5, 0, 35, 0), line(-5, 20, 35, 20), line(0, 0, 0, 20), line(30, 20, 30, 0)].join('\n');
    const board = await outline(rails);
    expect(areas(board)).toEqual([600]);
  });

  it('also on a slant and a little short of it', async () => {
    const house = [
      line(0, 0, 20, 0),
      line(0, 0, 0, 10),
      line(20, 0, 20, 9.97),
      line(-2, 8, 10, 20),
      line(10, 20, 22, 8),
    ];
    const board = await outline(house.join('\n'));
    expect(areas(board)[0]).toBeCloseTo(300, 0);
    expect(board.rings).toHaveLength(1);
  });

  it('on an arc', async () => {
    // A disc of radius 10 with a bar from its left side to its right side, drawn as one full circle and two walls.
    const arc = `X${n(10)}Y0D02*\nG03X${n(-10)}Y0I${n(-10)}J0D01*\nX${n(10)}Y0I${n(10)}J0D01*\nG01*`;
    const board = await outline([arc, line(-6, -8, -6, -20), line(-6, -20, 6, -20), line(6, -20, 6, -8)].join('\n'));
    expect(board.rings).toHaveLength(1);
    // Circle plus rectangle below the chord at y = -8, less the segment under it.
    const segment = 100 * Math.acos(0.8) - 8 * 6;
    expect(areas(board)[0]).toBeCloseTo(Math.PI * 100 + 12 * 12 - segment, 1);
  });
});
