import { Matrix, solve } from 'ml-matrix';
import sharp from 'sharp';
import { beforeAll, describe, expect, it } from 'vitest';
import { generateCoupon } from '../../src/coupon/generate.js';
import type { Coupon } from '../../src/coupon/types.js';
import { rectangle } from '../../src/geometry/shapes.js';
import { parseProfile } from '../../src/machine/profile-file.js';
import { makeStencil } from '../../src/stencil/make-stencil.js';
import { bench } from './bench.js';

type Vec = readonly [number, number];

const BED = { widthMm: 120, heightMm: 90, pitchXMm: 0.0254 };
const PITCH = 0.0254;
const KERF = { x: 0.11, y: 0.09 };

/** The hidden machine: scales, shear, and a barrel of 0.3 mm at the corners of its bed. Written anew, as a check. */
function burns([x, y]: Vec): Vec {
  const [qx, qy] = [1.0031 * x + 0.002 * y, 0.9968 * y];
  const [dx, dy] = [qx - 60, qy - 45];
  const k = (0.3 * (dx * dx + dy * dy)) / 75 ** 3;
  return [qx + k * dx, qy + k * dy];
}

let state = 12345;
const uniform = (): number => {
  state = (state * 48271) % 2147483647;
  return state / 2147483647;
};
/** Within 2 um standard deviation: twelve uniforms are near enough to a normal number. */
const noise = (): number => 0.002 * (Array.from({ length: 12 }, uniform).reduce((a, b) => a + b) - 6);

function placesCsv(coupon: Coupon): string {
  const rows = coupon.openings
    .filter(({ outer }) => outer.length === 4)
    .map(({ outer }) => {
      const at: Vec = [(outer[0][0] + outer[2][0]) / 2, (outer[0][1] + outer[2][1]) / 2];
      const [x, y] = burns(at);
      // As it lies under a microscope: shifted and turned by a degree.
      const [cos, sin] = [Math.cos(0.0175), Math.sin(0.0175)];
      return [...at, 5 + cos * x - sin * y + noise(), 8 + sin * x + cos * y + noise(), 0.002].map((v) => v.toFixed(5));
    });
  return `x_mm;y_mm;seen_x_mm;seen_y_mm;uncertainty_mm\n${rows.map((row) => row.join(';').replaceAll('.', ',')).join('\n')}\n`;
}

function readingsCsv(coupon: Pick<Coupon, 'name' | 'features'>): string {
  const rows = coupon.features.features.flatMap((feature, i) => {
    // A few of them do, and take a tenth of the time.
    if (!('from' in feature) || (coupon.name === 'aperture-ladder' && i % 6 > 0)) return [];
    const [p, q] = [burns(feature.from), burns(feature.to)];
    const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
    const kerf = Math.hypot(KERF.x * dx, KERF.y * dy) / feature.nominalMm;
    const sign = feature.kind === 'span' ? 0 : feature.kind === 'opening' ? 1 : -1;
    const length = Math.hypot(q[0] - p[0], q[1] - p[1]) + sign * kerf + noise();
    return length > 0.02 ? [`${feature.id},${length.toFixed(4)},0.002`] : [];
  });
  return `feature,reading_mm,uncertainty_mm\n${rows.join('\n')}\n`;
}

/** Pads all over the bed: [x, y, width, height] of the lower left corner. */
const PADS = Array.from({ length: 63 }, (_, n): readonly [number, number, number, number] => {
  const [w, h] = n % 3 === 0 ? [2, 2] : n % 3 === 1 ? [0.3, 1.4] : [1.2, 0.5];
  return [8 + 12.5 * (n % 9), 6 + 12.5 * Math.floor(n / 9), w, h];
});

/** Middles and sizes of what the dots of an image are cut as, in the order of the pads. */
async function cutOf(png: Uint8Array): Promise<{ middle: Vec; width: number }[]> {
  const { data, info } = await sharp(png).greyscale().raw().toBuffer({ resolveWithObject: true });
  return PADS.map(([x, y, w, h]) => {
    // The canvas is the bed, and pads lie on it centred: look within a millimetre of there.
    const shift = [(120 - 102) / 2 - 8, (90 - 77) / 2 - 6];
    const [column0, column1] = [x + shift[0] - 1.2, x + w + shift[0] + 1.2].map((v) => Math.round(v / PITCH));
    const [row0, row1] = [y + h + shift[1] + 1.2, y + shift[1] - 1.2].map((v) => info.height - Math.round(v / PITCH));
    let [count, sx, sy, least, most] = [0, 0, 0, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
    for (let row = row0; row < row1; row += 1) {
      for (let column = column0; column < column1; column += 1) {
        if (data[row * info.width + column] > 127) continue;
        const middle = burns([(column + 0.5) * PITCH, (info.height - row - 0.5) * PITCH]);
        count += 1;
        sx += middle[0];
        sy += middle[1];
        least = Math.min(least, burns([column * PITCH, (info.height - row - 0.5) * PITCH])[0]);
        most = Math.max(most, burns([(column + 1) * PITCH, (info.height - row - 0.5) * PITCH])[0]);
      }
    }
    return { middle: [sx / count, sy / count], width: most - least + KERF.x };
  });
}

/** The middles of the openings of each layer of a report's drawing, mm. */
function drawnIn(html: string): Vec[][] {
  return [...html.matchAll(/<path class="opening[^"]*" d="([^"]*)"/g)].map(([, d]) =>
    d
      .split('z')
      .filter(Boolean)
      .map((ring) => {
        const steps = [...ring.matchAll(/(-?[\d.]+) (-?[\d.]+)/g)].map(([, x, y]): Vec => [Number(x), Number(y)]);
        const at = steps.map((_, i) => steps.slice(0, i + 1).reduce((p, q): Vec => [p[0] + q[0], p[1] + q[1]]));
        const middle = (k: 0 | 1): number => (Math.min(...at.map((p) => p[k])) + Math.max(...at.map((p) => p[k]))) / 2;
        return [middle(0), middle(1)];
      }),
  );
}

/** The largest distance from where the pads belong, once the film is shifted and turned to them. */
function worstUm(cut: readonly Vec[]): number {
  const to = PADS.map(([x, y, w, h]): Vec => [x + w / 2, y + h / 2]);
  const rows = new Matrix([...cut.map((p) => [1, 0, -p[1]]), ...cut.map((p) => [0, 1, p[0]])]);
  const off = Matrix.columnVector([...to.map((p, i) => p[0] - cut[i][0]), ...to.map((p, i) => p[1] - cut[i][1])]);
  const left = Matrix.sub(off, rows.mmul(solve(rows, off))).to1DArray();
  return 1000 * Math.max(...cut.map((_, i) => Math.hypot(left[i], left[i + cut.length])));
}

const desk = bench({}, { once: true });
beforeAll(async () => {
  for (const name of ['field-grid', 'scale-ruler', 'aperture-ladder']) {
    const coupon = await generateCoupon(name, BED);
    desk.put(`${name}.features.json`, JSON.stringify(coupon.features));
    desk.put(`${name}.readings.csv`, readingsCsv(coupon));
    if (name === 'field-grid') desk.put(`${name}.places.csv`, placesCsv(coupon));
  }
  const rects = PADS.map(([x, y, w, h]) => `<rect x="${x}" y="${90 - y - h}" width="${w}" height="${h}"/>`).join('');
  desk.put('board.svg', `<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="90mm" viewBox="0 0 120 90">${rects}</svg>`); // biome-ignore format: one line
  const readings = ['scale-ruler', 'aperture-ladder', 'field-grid'].map((name) => `${name}.readings.csv`);
  const straight = await desk.run('fit', ...readings, '-o', 'straight.json', '--keep-all');
  expect(straight.said).toContain('pincushion');
  const look = ['--report'];
  const bent = await desk.run('fit', ...readings, 'field-grid.places.csv', '-o', 'bent.json', ...look); // biome-ignore format: one line
  expect(bent.code, bent.said).toBeLessThan(4);
  expect(bent.said).not.toMatch(/pincushion|^error/m);
  expect(bent.out).toMatch(
    /Places of \d+ marks over 11\d x 8\d mm: [\d.]+ µm off along an axis as straight lines, [12]\.\d µm/,
  );
  expect(desk.text('bent.report.html')).toContain('How far the marks lie off their places');
});

const correct = (profile: string, ...more: string[]) =>
  desk.run(`correct board.svg --profile ${profile} --out out-${profile}`, ...more); // biome-ignore format: one line

describe('a bed with a barrel of 0.3 mm', () => {
  it('is corrected to 15 um, where straight lines leave 50 and more', async () => {
    const left = async (name: string): Promise<number> => {
      const profile = await parseProfile(desk.text(name), name);
      const openings = PADS.map(([x, y, w, h]) => ({ outer: rectangle(x, y, x + w, y + h), islands: [] }));
      const stencil = makeStencil({ openings }, profile, { formats: ['svg'], canvas: { widthMm: 120, heightMm: 90 } });
      const { corrected, frame } = stencil.commanded;
      const [x0, y0] = frame.originMm;
      const cut = corrected.openings.map(({ outer }) => outer.map(([x, y]) => burns([x - x0, y - y0])));
      for (const [i, ring] of cut.entries()) {
        const xs = ring.map(([x]) => x);
        const width = Math.max(...xs) - Math.min(...xs) + KERF.x;
        if (name === 'bent.json') expect(1000 * Math.abs(width - PADS[i][2])).toBeLessThan(3);
      }
      return worstUm(
        cut.map((ring) => [0, 1].map((k) => ring.reduce((sum, p) => sum + p[k], 0) / ring.length) as unknown as Vec),
      );
    };
    expect(await left('straight.json')).toBeGreaterThan(50);
    expect(await left('bent.json')).toBeLessThan(4);
  });

  it('is corrected in dots as far as dots can', async () => {
    expect((await correct('bent.json', '--report')).code).toBe(0);
    const [asked, told] = drawnIn(desk.text('out-bent.json/board.report.html'));
    // What is told is drawn where it comes out: within what is asked, less the kerf all around.
    const off = told.map(([x, y], i) => Math.hypot(x - asked[i][0], y - asked[i][1]));
    expect([asked.length, told.length, 1000 * Math.max(...off)]).toEqual([PADS.length, PADS.length, expect.closeTo(0, -1)]); // biome-ignore format: one line
    const cut = await cutOf(desk.read('out-bent.json/board.png'));
    // The middle of a pad may be half a dot off along both axes.
    expect(worstUm(cut.map(({ middle }) => middle))).toBeLessThan(500 * PITCH * Math.SQRT2 + 1);
    PADS.forEach(([, , w], i) => {
      expect(Math.abs(cut[i].width - w)).toBeLessThan(0.6 * PITCH);
    });
  });

  it('is known to predict', async () => {
    const args = ['--profile', 'bent.json', '--out', 'predicted', '--json'];
    const { out } = await desk.run('predict board.svg', ...args);
    const [{ asDrawn, corrected, faults }] = JSON.parse(out);
    expect(1000 * corrected.summary.maxPositionErrorMm).toBeLessThan(0.6);
    expect(1000 * corrected.summary.maxWidthErrorMm).toBeLessThan(1.2);
    expect(1000 * asDrawn.summary.maxPositionErrorMm).toBeGreaterThan(100);
    expect(faults).toEqual([]);
  });

  it('is corrected by layout, marks and letters too', async () => {
    const args = [
      '--profile',
      'bent.json',
      '--out',
      'sheet',
      ...['--margin-mm', '6', '--pitch-mm', '0.05', '--no-witness', '--json'],
    ];
    const { out } = await desk.run('layout board.svg', ...args);
    const { cut, faults, warnings } = JSON.parse(out);
    expect(faults).toEqual([]);
    expect(cut.rmsPlaceErrorMm).toBeLessThan(0.05 / 2);
    // The sheet is a little larger than the coupons were, and its marks lie beyond theirs.
    expect(JSON.stringify(warnings)).toMatch(/FIELD_(BEYOND|OTHER_CANVAS)/);
  });

  it('is told where it is not known', async () => {
    const other = await correct('bent.json', '--canvas-mm', '150x100', '--overwrite');
    expect(desk.text('out-bent.json/board.job.json')).toContain('FIELD_OTHER_CANVAS');
    expect(other.said).toContain('on a canvas of 120 x 90 mm');
    const beyond = await correct('bent.json', '--at-mm', '18.36,6', '--overwrite');
    expect(desk.text('out-bent.json/board.job.json')).toContain('FIELD_BEYOND');
    expect(beyond.said).toMatch(/openings lie beyond the 11\d x 8\d mm of the bed/);
    const outside = await correct('bent.json', '--at-mm', '60,6', '--overwrite', '--json');
    expect(JSON.parse(outside.out).error?.code ?? outside.said).toContain('CANVAS_TOO_SMALL');
    const margin = await correct('bent.json', '--margin-mm', '3', '--overwrite');
    expect(margin.said).toContain('the profile knows the bends of the bed');
  });

  it('stays in the profile when readings are added, and its days are no change of the machine', async () => {
    const features = desk.read('scale-ruler.features.json');
    desk.put('again.readings.csv', readingsCsv({ name: 'scale-ruler', features: JSON.parse(features.toString()) }));
    desk.put('again.features.json', features);
    const args = ['--add-to', 'bent.json', '--date', '2031-04-09', '-o', 'added.json'];
    const { out } = await desk.run('fit again.readings.csv', ...args);
    expect(out).toContain('No change was seen');
    const [before, after] = ['bent.json', 'added.json'].map((name) => desk.json(name));
    expect(after.field).toEqual(before.field);
    expect((await desk.run('control added.json')).out).toContain('In control');
  });

  it('is not told by places alone, nor by files that are none', async () => {
    const places = 'field-grid.places.csv';
    const alone = await desk.run(`fit ${places} --json`);
    expect(JSON.parse(alone.out).error.code).toBe('FIELD_ALONE');
    const lines = desk.text('field-grid.places.csv').split('\n');
    const wrong = async (text: string): Promise<string> => {
      desk.put('field-grid.places-2.csv', text);
      const { out } = await desk.run('fit field-grid.places-2.csv --json');
      return JSON.parse(out).error.code;
    };
    expect(await wrong(lines.slice(0, 9).join('\n'))).toBe('FIELD_ALONE');
    expect(await wrong(lines.join('\n').replace('seen_y_mm', 'seen_z'))).toBe('COLUMN_MISSING');
    expect(await wrong(`${lines.join('\n')}1;2;three;4;\n`)).toBe('BAD_LENGTH');
    desk.put('field-grid.places-2.csv', lines.slice(0, 9).join('\n'));
    const few = await desk.run('fit scale-ruler.readings.csv field-grid.places-2.csv --json');
    expect(JSON.parse(few.out).error.code).toBe('FIELD_FEW_MARKS');
    const added = await desk.run(`fit ${places} --add-to straight.json --json`);
    expect(JSON.parse(added.out).profile.field.terms.length).toBeGreaterThan(3);
  });
});
