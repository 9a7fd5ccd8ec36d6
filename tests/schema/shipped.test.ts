import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { z } from 'zod';
import { featuresSchema } from '../../src/coupon/parse-features.js';
import { patternSchema } from '../../src/coupon/pattern-schema.js';
import { profileJsonSchema } from '../../src/machine/profile-schema.js';
import { projectSchema } from '../../src/project/project-schema.js';
import { limitsSchema } from '../../src/rules/limits-schema.js';
import { rulesSchema } from '../../src/rules/treat/rules-schema.js';

const schemas = {
  features: featuresSchema,
  limits: limitsSchema,
  pattern: patternSchema,
  project: projectSchema,
  rules: rulesSchema,
};
const made = Object.entries(schemas).map(([name, schema]) => [name, z.toJSONSchema(schema, { io: 'input' })] as const);

it.each([...made, ['profile', profileJsonSchema()] as const])(
  'the JSON Schema of %s that ships is that of the code',
  (name, schema) => {
    const file = new URL(`../../patterns/schemas/${name}.schema.json`, import.meta.url);
    expect(JSON.parse(readFileSync(file, 'utf8'))).toEqual(schema);
  },
);
