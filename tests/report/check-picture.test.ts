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
    const boxes = labels.map(({ x, y, width, height }) => ({ minX: x, maxX: x + width, minY: y, maxY: y + height }));
    [...boxes].forEach((p, i) => {
      for (const q of [...boxes.slice(i + 1), ...things]) {
        const apart = p.maxX <= q.minX || q.maxX <= p.minX || p.maxY <= q.minY || q.maxY <= p.minY;
        expect(apart).toBe(true);
      }
    });
  });
});
