import { expect, it } from 'vitest';
import { gaugeFor } from '../../src/project/project.js';

it('long spans are for the caliper, narrow openings for the finest gauge', () => {
  const gauges = [
    { name: 'steel rule', resolutionMm: 0.5 },
    { name: 'caliper', resolutionMm: 0.01 },
    { name: 'microscope', resolutionMm: 0.005 },
  ];
  expect(['span', 'opening', 'web'].map((kind) => gaugeFor(kind, gauges)?.name)).toEqual([
    'caliper',
    'microscope',
    'microscope',
  ]);
  expect(gaugeFor('span', [])).toBeUndefined();
});
