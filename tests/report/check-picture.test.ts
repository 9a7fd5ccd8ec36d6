import { describe, expect, it } from 'vitest';
import { checkPicture } from '../../src/report/check-picture.js';
import { svgToPng } from '../../src/report/picture.js';
import { placeLabels } from '../../src/report/place-labels.js';
import { treatPicture } from '../../src/report/treat-picture.js';
import { checkOpenings } from '../../src/rules/check.js';
import { treatOpenings } from '../../src/rules/treat/treat.js';
import { balls, mixedBoard, pad } from '../rules/board.js';

const FILM = { thicknessMm: 0.1, profileLimits: { minOpeningMm: 0.2, minWebMm: 0.2 } };
const labelsOf = (svg: string): string[] =>
  [...svg.matchAll(/text-anchor="middle" stroke="#fff"[^>]*>([^<]*)</g)].map(([, words]) => words);

describe('checkPicture', () => {
  it('numbers every failed opening once', () => {
    const openings = mixedBoard();
    const result = checkOpenings(openings, FILM);
    const failed = result.openings.filter(({ verdict }) => verdict === 'fail').map(({ number }) => String(number));
    expect(failed.length).toBeGreaterThan(5);
    const labels = labelsOf(checkPicture(openings, result, 'board'));
    expect(labels.filter((words) => !words.includes('-')).sort()).toEqual(failed.sort());
  });

  it('shares a number among the many of one group', () => {
    const openings = balls(20, 10, 0.5, 0.2);
    const labels = labelsOf(checkPicture(openings, checkOpenings(openings, FILM), 'balls'));
    expect(labels).toEqual(['1-200']);
  });

  it('lays no number on another, nor on the ring around a tiny opening', () => {
    // Pairs of pads of 0.22 mm, 0.5 mm apart, on a board so large that they are hardly seen.
    const openings = Array.from({ length: 7 }, (_, i) => [pad(10 * i, 20, 0.22, 0.22), pad(10 * i + 0.5, 20, 0.22, 0.22)]).flat(); // biome-ignore format: one list
    const board = [...openings, pad(0, 0, 2, 2), pad(80, 50, 2, 2)];
    const svg = checkPicture(board, checkOpenings(board, FILM), 'board');
    const labels = [...svg.matchAll(/<text x="([\d.]+)" y="([\d.]+)" [^>]*font-size="([\d.]+)" text-anchor="middle" stroke="#fff"[^>]*>([^<]*)</g)].map(([, x, y, size, words]) => ({ x: Number(x), y: Number(y), size: Number(size), words })); // biome-ignore format: one pattern
    const rings = [...svg.matchAll(/<rect x="([\d.-]+)" y="([\d.-]+)" width="([\d.]+)" height="([\d.]+)" rx="10"[^>]*stroke="#000"/g)].map((found) => found.slice(1).map(Number)); // biome-ignore format: one pattern
    expect(labels).toHaveLength(14);
    expect(rings).toHaveLength(14);
    for (const { x, y, size, words } of labels) {
      const half = 0.3 * size * words.length;
      for (const other of labels.filter((one) => one.words !== words))
        expect([words, other.words, Math.abs(other.x - x) >= 2 * half || Math.abs(other.y - y) >= 0.7 * size]).toEqual([words, other.words, true]); // biome-ignore format: one line
      for (const [left, top, width, height] of rings)
        expect([words, x + half <= left || x - half >= left + width || y <= top || y - 0.7 * size >= top + height]).toEqual([words, true]); // biome-ignore format: one line
    }
  });

  it('draws an empty layer and words with signs in them', async () => {
    const svg = checkPicture([], checkOpenings([], FILM), 'a < b & c');
    expect(svg).toContain('a &lt; b &amp; c');
    expect((await svgToPng(svg)).length).toBeGreaterThan(1000);
  });
});

describe('treatPicture', () => {
  it('counts what changed and what did not', async () => {
    const openings = [pad(0, 0, 1, 1), pad(3, 0, 1, 1)];
    const result = treatOpenings(
      openings,
      {
        format: 'apertrue-rules',
        version: 1,
        name: 'one',
        rules: [{ name: 'first', select: { openings: [1] }, action: { kind: 'shrink', perSideMm: 0.1 } }],
      },
      FILM,
    );
    const svg = treatPicture(openings, result, 'two');
    expect(svg).toContain('changed: 1<');
    expect(svg).toContain('unchanged: 1<');
    expect((await svgToPng(svg)).length).toBeGreaterThan(1000);
  });
});

describe('placeLabels', () => {
  it('lets no label cover another or a thing', () => {
    const things = Array.from({ length: 30 }, (_, i) => ({
      minX: 100 + i * 12,
      maxX: 106 + i * 12,
      minY: 200,
      maxY: 240,
    }));
    const wishes = things.map((around, i) => ({ words: String(100 + i), width: 24, height: 14, around, single: true }));
    const labels = placeLabels(wishes, things, { minX: 0, minY: 0, maxX: 600, maxY: 500 });
    const boxes = labels.map(({ box }) => box);
    [...boxes].forEach((p, i) => {
      for (const q of [...boxes.slice(i + 1), ...things]) {
        const apart = p.maxX <= q.minX || q.maxX <= p.minX || p.maxY <= q.minY || q.maxY <= p.minY;
        expect(apart).toBe(true);
      }
    });
  });
});
