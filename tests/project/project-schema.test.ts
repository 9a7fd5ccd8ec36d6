import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { z } from 'zod';
import { gaugeFor } from '../../src/project/gauges.js';
import { projectSchema } from '../../src/project/project-schema.js';

it('the JSON Schema that ships is that of the code', () => {
  const shipped: unknown = JSON.parse(
    readFileSync(new URL('../../patterns/schemas/project.schema.json', import.meta.url), 'utf8'),
  );
  expect(shipped).toEqual(z.toJSONSchema(projectSchema, { target: 'draft-2020-12' }));
});

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
