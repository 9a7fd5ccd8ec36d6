import { Matrix, solve } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { marksOnFilm, type SeenMark } from '../../src/scan/scanner/places-of-marks.js';

type Vec = readonly [number, number];

/** A bed that bends as a galvo's does: 0.1 mm of barrel at 60 mm from its middle. */
const film = ([x, y]: Vec): Vec => {
  const k = (0.1 * ((x - 60) ** 2 + (y - 40) ** 2)) / 60 ** 3;
  return [x + k * (x - 60), y + k * (y - 40)];
};
const marks: Vec[] = Array.from({ length: 117 }, (_, i) => [10 * (i % 13), 10 * Math.floor(i / 13)]);

/** What a picture shows of the film, turned and laid on the glass, by a scanner that bends in its own way. */
function seen(turnDeg: number, onGlass: Vec, scanner: (q: Vec) => Vec, noiseMm = 0.0003): SeenMark[] {
  const [cos, sin] = [Math.cos((turnDeg * Math.PI) / 180), Math.sin((turnDeg * Math.PI) / 180)];
  return marks.map((at, opening) => {
    const [x, y] = film(at);
    const q: Vec = [onGlass[0] + cos * x - sin * y, onGlass[1] - sin * x - cos * y];
    const [dx, dy] = scanner(q);
    // Noise of no generator: the fraction of a fast sine.
    const noise = (k: number): number => noiseMm * 1.5 * Math.sin(1e4 * Math.sin(opening * 7 + k + turnDeg));
    return { opening, at, seen: [q[0] + dx + noise(1), q[1] + dy + noise(2)], uMm: 0.0005 };
  });
}

/** What is left of the places after the best affine map of the film's true ones, mm: scale and skew are no bends. */
function leftMm(pictures: readonly SeenMark[][]): number {
  const found = marksOnFilm(pictures, { strain: [0, 0, 0] }).marks;
  const rows = new Matrix(found.map(({ opening }) => [1, ...film(marks[opening])]));
  const left = [0, 1].map((axis) => {
    const wanted = Matrix.columnVector(found.map(({ seen: place }) => place[axis]));
    return Matrix.sub(wanted, rows.mmul(solve(rows, wanted))).to1DArray();
  });
  return Math.max(...left[0].map((x, i) => Math.hypot(x, left[1][i])));
}

const straight = (): Vec => [0, 0];
/** A carriage on a rail with a bow of 50 um, whose steps grow along the way, and a line of sensors that sags. */
const bowed = ([x, y]: Vec): Vec => [
  0.05 * (((y - 75) / 75) ** 2 - 0.3),
  0.03 * ((y - 75) / 75) ** 2 - 0.02 * ((x - 75) / 75) ** 2,
];

describe('marksOnFilm', () => {
  it('takes the scanner’s own bends out of a film that was turned, and leaves the bed’s', () => {
    const pictures = [seen(1.3, [10, 120], bowed), seen(91, [110, 140], bowed)];
    const { scannerBendsMm = 0, betweenMm = 1, turned } = marksOnFilm(pictures, { strain: [0, 0, 0] });
    expect(turned).toBe(true);
    expect(scannerBendsMm).toBeGreaterThan(0.02);
    expect(scannerBendsMm).toBeLessThan(0.08);
    expect(betweenMm).toBeLessThan(0.0015);
    expect(leftMm(pictures)).toBeLessThan(0.002);
    expect(leftMm(pictures.slice(0, 1))).toBeGreaterThan(0.01);
  });

  it('finds none where there are none, and says when it can not know', () => {
    const plain = [seen(1.3, [10, 120], straight), seen(91, [110, 140], straight)];
    expect(marksOnFilm(plain, { strain: [0, 0, 0] }).scannerBendsMm ?? 0).toBeLessThan(0.001);
    expect(leftMm(plain)).toBeLessThan(0.002);
    const unturned = [seen(1.3, [10, 120], bowed), seen(-2, [10, 120], bowed)];
    expect(marksOnFilm(unturned, { strain: [0, 0, 0] })).toMatchObject({ turned: false });
    expect(marksOnFilm(unturned, { strain: [0, 0, 0] }).scannerBendsMm).toBeUndefined();
  });
});
