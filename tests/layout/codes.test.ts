import { expect, it } from 'vitest';
import { rectangle, solid } from '../../src/geometry/shapes.js';
import { layStencil } from '../../src/layout/lay-stencil.js';
import { packSheet } from '../../src/layout/pack.js';
import type { StencilRequest } from '../../src/layout/types.js';

const REQUEST: StencilRequest = {
  name: 'board',
  openings: [solid(rectangle(1, 1, 2, 2))],
  outline: [rectangle(0, 0, 20, 20)],
  words: [],
  cornerMarks: false,
  outlineTicks: false,
  marginMm: 5,
  witnessMm: 0,
  letteringMm: 2,
  kerfMm: 0.1,
};

it.each<[Partial<StencilRequest>, string, string]>([
  [{ openings: [], outline: [] }, 'NOTHING_TO_LAY', 'neither openings nor an outline'],
  [{ witnessMm: 12 }, 'MARGIN_TOO_SMALL', 'no room for the witness'],
  [{ openings: [solid(rectangle(40, 1, 41, 2))] }, 'OUTSIDE_FILM', 'another origin than the outline’s'],
])('%j gives %s: %s', (over, code) => {
  expect(() => layStencil({ ...REQUEST, ...over })).toThrow(expect.objectContaining({ code }));
});

it('a sheet that is too small gives DOES_NOT_FIT', () => {
  const options = { bed: { widthMm: 20, heightMm: 20 }, spacingMm: 1 };
  expect(() => packSheet([layStencil(REQUEST)], options)).toThrow(expect.objectContaining({ code: 'DOES_NOT_FIT' }));
});
