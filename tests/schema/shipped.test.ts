import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { EXPORT_FORMATS } from '../../src/export/export-formats.js';
import { THICKEST_FILM_MM } from '../../src/machine/film-hazards.js';
import { profileJsonSchema } from '../../src/machine/profile-schema.js';
import { GAUGE_UNITS } from '../../src/readings/length.js';
import { SHAPE_CLASSES } from '../../src/rules/measure.js';
import { shippedSchema } from '../../src/schema/shipped.js';

const NAMES = ['features', 'limits', 'pattern', 'profile', 'project', 'rules'];
const shipped = (name: string): unknown =>
  JSON.parse(readFileSync(new URL(`../../patterns/schemas/${name}.schema.json`, import.meta.url), 'utf8'));

it('the JSON Schema of a profile that ships is that of the code', () => {
  expect(shipped('profile')).toEqual(profileJsonSchema());
});

it.each(NAMES)('the JSON Schema of %s can be read, and is closed: no key passes that is not in it', (name) => {
  const schema = shippedSchema(name);
  const { error } = schema.safeParse({ 'no such key': 1 });
  expect(error?.issues).toContainEqual(expect.objectContaining({ code: 'unrecognized_keys' }));
});

it('what schemas list is what the code knows', () => {
  expect(shipped('project')).toHaveProperty('properties.formats.items.enum', [...EXPORT_FORMATS]);
  expect(shipped('project')).toHaveProperty('properties.film.properties.thicknessMm.maximum', THICKEST_FILM_MM);
  expect(shipped('project')).toHaveProperty('properties.gauges.items.properties.unit.enum', [...GAUGE_UNITS]);
  const shapes = JSON.stringify(shipped('rules')).match(/"shape":\{"anyOf":\[\{"type":"string","enum":(\[.*?\])/)?.[1];
  expect(JSON.parse(shapes ?? '[]')).toEqual([...SHAPE_CLASSES]);
});
