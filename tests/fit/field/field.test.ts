import { Matrix, solve } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { fitField } from '../../../src/fit/field/fit-field.js';
import type { FilmPlaces } from '../../../src/fit/field/straight-residuals.js';
import { bend, fieldAt, fieldUncertainty, unbend } from '../../../src/machine/place-field.js';

type Vec = readonly [number, number];

const WIDTH = 190;
const HEIGHT = 130;

/** A hidden machine, written anew: where it puts what it is told, mm. */
type Hidden = (p: Vec) => Vec;
const middle: Vec = [WIDTH / 2, HEIGHT / 2];
const corner = Math.hypot(...middle);

/** Radial, 0.3 mm at the corners of the bed, as two mirrors of a galvo make it. */
const barrel: Hidden = ([x, y]) => {
  const [dx, dy] = [x - middle[0], y - middle[1]];
  const k = (-0.3 * (dx * dx + dy * dy)) / corner ** 3;
  return [x + k * dx, y + k * dy];
};
const belt: Hidden = ([x, y]) => [x + 0.04 * Math.sin((2 * Math.PI * x) / 38.7 + 0.6), y];
const straight: Hidden = (p) => p;

function random(seed: number): () => number {
  let state = seed;
  const uniform = (): number => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
  // Twelve uniforms are near enough to a normal one.
  return () => Array.from({ length: 12 }, uniform).reduce((a, b) => a + b, -6);
}

/** Marks all over the bed, seen turned and shifted, with noise of two micrometres. */
function seen(machine: Hidden, seed: number, noiseMm = 0.002): FilmPlaces {
  const normal = random(seed);
  const turn = 0.02 + 0.001 * seed;
  const marks = Array.from({ length: 13 * 15 }, (_, n) => {
    const [i, j] = [n % 15, Math.floor(n / 15)];
    const at: Vec = [5 + 12 * (i + ((0.618 * j) % 1)), 5 + 10 * j];
    const [x, y] = machine(at);
    const [qx, qy] = [1.0031 * x + 0.002 * y, 0.9968 * y];
    return {
      at,
      seen: [
        3 + Math.cos(turn) * qx - Math.sin(turn) * qy + noiseMm * normal(),
        7 + Math.sin(turn) * qx + Math.cos(turn) * qy + noiseMm * normal(),
      ] as Vec,
      uMm: 0.002,
    };
  });
  return { coupon: 'field-grid', canvas: { widthMm: WIDTH, heightMm: HEIGHT }, marks };
}

/** How far places are left off when the inverse of the field is commanded, beyond what a shift, turn, scale and shear mend. */
function worstAfter(machine: Hidden, { field }: Partial<ReturnType<typeof fitField>>): number {
  const grid = Array.from({ length: 121 }, (_, n): Vec => [10 + 17 * (n % 11), 8 + 11.4 * Math.floor(n / 11)]);
  const cut = grid.map((at) => machine(field ? (unbend(field, at) as Vec) : at));
  const rows = new Matrix(grid.map(([x, y]) => [1, x, y]));
  const off = [0, 1].map((k) => {
    const to = Matrix.columnVector(cut.map((p) => p[k]));
    return Matrix.sub(to, rows.mmul(solve(rows, to))).to1DArray();
  });
  return Math.max(...grid.map((_, i) => Math.hypot(off[0][i], off[1][i])));
}

describe('fitField', () => {
  it.each([
    ['fourth', 4],
    ['fifth', 5],
  ])('says how sure places are of a bow of %s order, which a long wave stands for', (_, order) => {
    const machine: Hidden = ([x, y]) => [x + 0.15 * ((2 * x) / WIDTH - 1) ** order, y];
    const { field } = fitField([seen(machine, 5)]);
    if (!field) throw new Error('no field');
    const stated = Array.from({ length: 121 }, (__, n) =>
      fieldUncertainty(field, [10 + 17 * (n % 11), 8 + 11.4 * Math.floor(n / 11)]),
    );
    // The wave's own size is known to a third of it; 0.4 mm were stated for places that are right to two micrometres.
    expect(worstAfter(machine, { field })).toBeLessThan(0.002);
    expect(Math.max(...stated)).toBeLessThan(0.001);
    expect(Math.max(...stated)).toBeGreaterThan(worstAfter(machine, { field }) / 4);
  });

  it.each([
    ['a barrel of 0.3 mm', barrel, 0.02],
    ['a belt that runs out of round', belt, 0.02],
    ['both', ((p: Vec) => barrel(belt(p))) as Hidden, 0.02],
  ])('takes %s out of the places', (_, machine) => {
    const found = fitField([seen(machine, 5)]);
    expect(worstAfter(machine, {})).toBeGreaterThan(0.03);
    expect(worstAfter(machine, found)).toBeLessThan(0.004);
    expect(found.afterMm).toBeLessThan(0.0023);
  });

  it('finds the period of a belt', () => {
    const { field } = fitField([seen(belt, 8)]);
    expect(field?.terms.map(({ moves, shape }) => `${moves} ${shape}`)).toEqual(['x sin u', 'x cos u']);
    expect(field?.terms[0].periodMm).toBeCloseTo(38.7, 1);
  });

  it('finds nothing where there is nothing', () => {
    const found = Array.from({ length: 8 }, (_, n) => fitField([seen(straight, 20 + n)]).field);
    expect(found.filter((field) => field !== undefined).length).toBeLessThanOrEqual(1);
  });

  it('takes only the terms that are there', () => {
    const { field } = fitField([seen(barrel, 3)]);
    const names = field?.terms.map(({ moves, shape }) => `${moves} ${shape}`).sort();
    expect(names).toEqual(['x uuu', 'x uvv', 'y uuv', 'y vvv']);
  });

  it('sets odd marks aside', () => {
    const film = seen(barrel, 4);
    const marks = film.marks.map((mark, i) =>
      i % 40 === 7 ? { ...mark, seen: [mark.seen[0] + 0.05, mark.seen[1]] as Vec } : mark,
    );
    const found = fitField([{ ...film, marks }]);
    expect(found.marks.filter(({ setAside }) => setAside)).toHaveLength(5);
    expect(worstAfter(barrel, found)).toBeLessThan(0.004);
    expect(found.sentences[0]).toMatch(
      / 5 of 195 marks lie far off the rest, up to (4|5)\d\.\d µm, each by itself, as under dirt,/,
    );
    // Sharp marks beside a thin web are read some micrometres aside, and no dirt is there.
    const sharp = seen(straight, 4, 0.0002).marks.map((mark, i) =>
      i % 40 === 7
        ? { ...mark, uMm: 0.0002, seen: [mark.seen[0] + 0.004, mark.seen[1]] as Vec }
        : { ...mark, uMm: 0.0002 },
    );
    const [sentence] = fitField([{ ...film, marks: sharp }]).sentences;
    expect(sentence).toMatch(/ 5 of 195 marks lie up to [34]\.\d µm off the rest, each by itself, and took no part\./);
  });

  it('tells a bed that bends at one place from dirt', () => {
    const swollen: Hidden = ([x, y]) => [x + 0.06 * Math.exp(-((x - 60) ** 2 + (y - 70) ** 2) / 2 / 15 ** 2), y];
    const { marks, sentences } = fitField([seen((p) => barrel(swollen(p)), 5)]);
    const aside = marks.filter(({ setAside }) => setAside);
    expect(aside.length).toBeGreaterThan(1);
    for (const { at } of aside) expect(Math.hypot(at[0] - 60, at[1] - 70)).toBeLessThan(45);
    expect(sentences[0]).toMatch(
      / lie off the same way as their neighbours, up to \d+\.\d µm at (5|6)\d, (6|7)\d mm: the bed/,
    );
    expect(sentences[0]).not.toContain('dirt');
  });

  it('undoes what it says', () => {
    const { field } = fitField([seen((p) => barrel(belt(p)), 6)]);
    if (!field) throw new Error('no field');
    for (const p of [
      [4, 3],
      [95, 65],
      [188, 126],
      [250, -20],
    ] as Vec[]) {
      const [x, y] = bend(field, unbend(field, p));
      expect(Math.hypot(x - p[0], y - p[1])).toBeLessThan(1e-9);
    }
    expect(fieldAt(field, [400, 65])).toEqual(fieldAt(field, [field.areaMm[2], 65]));
  });

  it('refuses what can tell nothing', () => {
    const film = seen(barrel, 2);
    expect(() => fitField([{ ...film, marks: film.marks.slice(0, 15) }])).toThrow('15 marks');
    expect(() => fitField([{ ...film, marks: film.marks.filter(({ at }) => at[0] < 30) }])).toThrow('in one corner');
    expect(() => fitField([film, { ...film, coupon: 'other', canvas: { widthMm: 80, heightMm: 60 } }])).toThrow(
      expect.objectContaining({ code: 'FIELD_CANVASES' }),
    );
  });
});

it('a mark far off all others bears on nothing', () => {
  const film = seen(belt, 5);
  const torn = { ...film, marks: film.marks.map((mark, i) => (i === 70 ? { ...mark, seen: [0, 0] as Vec } : mark)) };
  const [whole, without] = [fitField([film]), fitField([torn])];
  expect(without.marks.filter(({ setAside }) => setAside)).toHaveLength(1);
  expect(without.beforeMm).toBeCloseTo(whole.beforeMm, 4);
  expect(without.field?.terms.map(({ shape }) => shape)).toEqual(whole.field?.terms.map(({ shape }) => shape));
});
