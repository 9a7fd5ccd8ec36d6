import { describe, expect, it } from 'vitest';
import type { Vec } from '../scan/virtual-scanner.js';
import { profileOf } from './bench.js';
import { CANVAS, finishedStencils, LASER } from './finished-stencils.js';

const { desk, correct, cutAndScan, inspect } = finishedStencils();

describe('a finished stencil', () => {
  it('that is longer as a whole than any scanner shows it is no-go, and what a scanner may be off is told', async () => {
    desk.put('laser.json', profileOf(LASER));
    const job = await correct('laser.json');
    await cutAndScan(job, 'right.png', {});
    const right = JSON.parse((await inspect('right.png', job)).out);
    expect(right).toMatchObject({ go: true, warnings: [] });
    // The scanner's own scales, to half a dot at the ends of so small a stencil.
    expect(Math.abs(right.whole.longerMm + 0.0015 * 14)).toBeLessThan(0.0127);
    expect(Math.abs(right.whole.higherMm - 0.0012 * 8)).toBeLessThan(0.0254);
    const longer = { machine: { ...LASER, scaleX: LASER.scaleX * 1.016 } };
    await cutAndScan(job, 'long.png', longer);
    const { code, out } = await inspect('long.png', job);
    const found = JSON.parse(out);
    expect(code).toBe(3);
    expect(found.go).toBe(false);
    expect(found.warnings).toMatchObject([{ code: 'INSPECT_WHOLE' }]);
    expect(found.openings.flatMap(({ faults }: { faults: string[] }) => faults)).toEqual([]);
  });

  it('cut on a bent bed is held against what was asked, not against what was commanded', async () => {
    // Second and third order, written out as polynomials: 0.4 mm at the ends of the bed.
    const bend = (q: Vec): Vec => {
      const x = (q[0] - (LASER.shear * q[1]) / LASER.scaleY) / LASER.scaleX;
      const u = (2 * x) / CANVAS.widthMm - 1;
      const [ex, ey] = [(0.4 * (5 * u ** 3 - 3 * u)) / 2, (0.3 * (3 * u ** 2 - 1)) / 2];
      return [q[0] + LASER.scaleX * ex + LASER.shear * ey, q[1] + LASER.scaleY * ey];
    };
    const terms = [
      { moves: 'x', shape: 'uuu', mm: 0.4, stdUncertainty: 0.001 },
      { moves: 'y', shape: 'uu', mm: 0.3, stdUncertainty: 0.001 },
    ];
    const covariance = [[1e-6, 0], [0, 1e-6]]; // biome-ignore format: a matrix
    const field = {
      canvasMm: CANVAS,
      areaMm: [0, 0, 24, 18],
      terms,
      covariance,
      residualSdMm: 0.001,
      dof: 50,
      marks: 60,
    };
    desk.put('bent.json', profileOf(LASER, { field }));
    desk.put('straight.json', profileOf(LASER));
    const inspected = async (job: string, picture: string, format = 'png', stem = 'board') => {
      await cutAndScan(
        job,
        picture,
        { bend },
        { cut: `${stem}.${format}`, heightMm: stem === 'small.sheet' ? 48 : 21 },
      );
      return JSON.parse((await inspect(picture, job, stem)).out);
    };
    const faultsIn = ({ openings }: { openings: { faults: string[] }[] }) => openings.flatMap(({ faults }) => faults);
    const straight = await correct('straight.json', 'png', 'small');
    expect(faultsIn(await inspected(straight, 'straight.png', 'png', 'small'))).toContain('out of place');
    const { openings, ...found } = await inspected(await correct('bent.json', 'svg'), 'bent.png', 'svg');
    expect(faultsIn({ openings })).toEqual([]);
    // What the bends do to a width is in its readings as in what was commanded.
    const readings = desk
      .read('look/bent.inspect.readings.csv')
      .toString()
      .matchAll(/^O(\d+)([XY]),([\d.]+)/gm);
    const off = [...readings].map(([, number, axis, mm]) => {
      const { asked } = openings[Number(number) - 1];
      return Math.abs(Number(mm) - (axis === 'X' ? asked.widthMm : asked.heightMm));
    });
    expect([off.length > 12, 1000 * Math.max(...off) < 12, off, found.go]).toEqual([true, true, off, true]);
    // A sheet on the same spot: its own drawing, which has no names, is laid where the bed lays it.
    const sheet = ['--board-mm', '18x12', '--margin-mm', '2.8', '--no-witness', '--no-marks', '--format', 'svg'];
    await desk.run('layout small.svg --profile bent.json', ...sheet, '--out', 'sheet');
    const laid = await inspected('sheet', 'sheet.png', 'svg', 'small.sheet');
    expect([faultsIn(laid), laid.notAskedFor, laid.warnings]).toEqual([[], [], []]);
  });
});
