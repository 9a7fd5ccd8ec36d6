import { readFileSync } from 'node:fs';
import { isDeepStrictEqual } from 'node:util';
import { expect, it } from 'vitest';
import { fromJSONSchema } from 'zod';
import { BUILT_IN_PATTERNS } from '../../src/coupon/built-in.js';
import { EXPORT_FORMATS } from '../../src/export/export-formats.js';
import { THICKEST_FILM_MM } from '../../src/machine/film-hazards.js';
import { byParameter, FIELD_SHAPES, PARAMETER_NAMES } from '../../src/machine/types.js';
import { GAUGE_UNITS } from '../../src/readings/length.js';
import { OUTCOMES } from '../../src/readings/where-to-read.js';
import { SHAPE_CLASSES } from '../../src/rules/measure.js';
import { type JsonSchema, readInForm } from '../../src/schema/of-form.js';
import { cases } from '../cases.js';
import { seeded } from '../virtual-laser/random.js';

const NAMES = ['features', 'limits', 'pattern', 'profile', 'project', 'rules'];
const file = (place: string) => JSON.parse(readFileSync(new URL(`../../${place}`, import.meta.url), 'utf8'));
const shipped = (name: string) => file(`patterns/schemas/${name}.schema.json`) as JsonSchema;
const typed = (name: string) => fromJSONSchema(shipped(name) as Parameters<typeof fromJSONSchema>[0]);

/** One file of each kind in which every part of its schema stands. */
function samples(name: string): unknown[] {
  if (name === 'limits') return [file('patterns/limits.json')];
  if (name === 'pattern') return BUILT_IN_PATTERNS.map((one) => file(`patterns/${one}.json`));
  if (name === 'rules') return ['plain', 'fine-pitch-thin-film'].map((one) => file(`patterns/rules/${one}.json`));
  if (name === 'project') return [PROJECT];
  const features = FEATURES.map((one, i) => ({ ...one, id: `F${i}`, say: 'edge to edge' }));
  const canvas = { widthMm: 100, heightMm: 80, pitchXMm: 0.05, pitchYMm: 0.1 };
  const head = { coupon: 'ruler', canvas, features };
  if (name === 'features') return [{ format: 'apertrue-features', version: 1, ...head }];
  return [profile(head), { format: 'apertrue-profile', version: 1, name: 'by hand', fit: byParameter(() => 1) }];
}

const FEATURES = [
  { kind: 'span', from: [1, 1], to: [51, 1], nominalMm: 50, side: 'far' },
  { kind: 'opening', from: [1, 3], to: [2, 3], nominalMm: 1, shape: 'circle' },
  { kind: 'web', from: [1, 5], to: [2, 5], nominalMm: 1, by: 'jaws' },
  { kind: 'cell', box: [0, 0, 5, 5], powerPercent: 40, speedMmS: 12.5 },
  { kind: 'vernier', measures: 'kerf', axis: 'x', box: [0, 0, 9, 5], lines: 10, stepMm: 0.01, zeroLine: 3 },
];

const PROJECT = {
  ...{ format: 'apertrue-project', version: 1, machine: 'shed laser', bed: { widthMm: 300, heightMm: 200 } },
  ...{ pitchMm: { x: 0.05, y: 0.1 }, formats: ['png', 'bmp'], film: { kind: 'PET', thicknessMm: 0.1 } },
  ...{ powersPercent: [40], speedsMmS: [5, 10], profile: 'a.json', out: 'cut', report: true },
  gauges: [{ name: 'loupe', resolutionMm: 0.05, unit: 'mil' }],
};

const profile = (head: object) => ({
  ...{ format: 'apertrue-profile', version: 1, name: 'shed laser', machine: 'shed', film: { kind: 'PET' } },
  ...{ settings: { powerPercent: 40, speedMmS: 10, passes: 1 }, pitchMm: { x: 0.05, y: 0.1 } },
  fit: {
    ...byParameter((_, k) => ({ value: 1, stdUncertainty: k === 2 ? null : 0.001, interval95: [0.9, 1.1] })),
    ...{ model: 'all', covariance: PARAMETER_NAMES.map(() => [0, 1, 2, 3, null]), residualSdMm: 0.01, dof: 12 },
    warnings: ['a word'],
  },
  limits: { minOpeningMm: 0.2, smallestStoodMm: 0.1, evidence: ['0.2 mm'] },
  window: { ...{ powerPercent: 40, speedMmS: 9, marginPowerPercent: 5, marginSpeedPercent: 6 }, probabilityClean: 0.9 },
  field: {
    ...{ canvasMm: { widthMm: 100, heightMm: 80 }, areaMm: [0, 0, 90, 70], covariance: [[1]], dof: 3, marks: 9 },
    ...{ terms: [{ moves: 'x', shape: FIELD_SHAPES[0], mm: 0.1, stdUncertainty: 0 }], residualSdMm: 0.01 },
  },
  sessions: [{ ...head, date: '2031-02-03', gaugeLimitsMm: { loupe: 0.05 }, doubtful: { shear: DOUBT } }],
  readings: [
    { session: 1, feature: 'F0', readingMm: 50.1, resolutionMm: 0.05, uncertaintyMm: 0.01, gauge: 'loupe' },
    { feature: 'F3', outcome: OUTCOMES[0], note: 'dim', dropped: true, line: 7 },
  ],
});
const DOUBT = { by: 0.01, stdUncertainty: 0.001 };

const JUNK = [null, -1, 0, 1, 2.5, Number.POSITIVE_INFINITY, 1e16, '', 'x', '2', true, [], {}, [1, 2], { a: 1 }];

/** The same with something in it that is otherwise, lacks, or is too much. */
function changed(sample: unknown, random: () => number): unknown {
  const copy = structuredClone(sample);
  const holders: Record<string, unknown>[] = [];
  const find = (value: unknown): void => {
    if (typeof value !== 'object' || value === null) return;
    holders.push(value as Record<string, unknown>);
    Object.values(value).forEach(find);
  };
  find(copy);
  const pick = <T>(from: readonly T[]): T => from[Math.floor(random() * from.length)];
  const [holder, other] = [pick(holders), pick(holders)];
  const key = pick([...Object.keys(holder), 'no such key']);
  const kind = random();
  if (kind < 0.3 && !Array.isArray(holder)) delete holder[key];
  else if (kind < 0.5) holder[key] = structuredClone(other[pick(Object.keys(other))] ?? 1);
  else if (kind < 0.6 && Array.isArray(holder)) holder.push(structuredClone(holder[0] ?? 1));
  else holder[key] = structuredClone(pick(JUNK));
  return copy;
}

it.each(NAMES)('a file of %s fits as zod finds, and is read as the same', (name) => {
  const [zod, schema, random] = [typed(name), shipped(name), seeded(41)];
  const counts = { fit: 0, unfit: 0 };
  for (const sample of samples(name)) {
    expect(zod.safeParse(sample).error?.issues ?? []).toEqual([]);
    expect(readInForm(sample, schema).misfits, 'as it is').toEqual([]);
    for (let i = 0; i < cases(150); i += 1) {
      let value = changed(sample, random);
      while (random() < 0.3) value = changed(value, random);
      const [ours, theirs] = [readInForm(value, schema), zod.safeParse(value)];
      const fits = ours.misfits.length === 0;
      if (fits !== theirs.success || (fits && !isDeepStrictEqual(ours.value, theirs.data)))
        throw new Error(`${JSON.stringify(value)}: ${JSON.stringify(ours.misfits)}; zod: ${theirs.error?.message}`);
      counts[fits ? 'fit' : 'unfit'] += 1;
    }
  }
  // Both kinds were there.
  expect(Math.min(counts.fit, counts.unfit)).toBeGreaterThan(5);
});

it.each(NAMES)('the schema of %s is closed, and uses no word of JSON Schema that is not looked at', (name) => {
  const { misfits } = readInForm({ ...(samples(name)[0] as object), 'no such key': 1 }, shipped(name));
  expect(misfits).toMatchObject([{ code: 'UNKNOWN_KEY', path: ['no such key'] }]);
  const known = [
    ...['type', 'const', 'enum', 'anyOf', 'oneOf', 'properties', 'required', 'additionalProperties', 'propertyNames'],
    ...[
      'prefixItems',
      'items',
      'minItems',
      'maxItems',
      'minimum',
      'exclusiveMinimum',
      'maximum',
      'minLength',
      'pattern',
    ],
    ...['default', 'errorMessage', 'description', '$schema'],
  ];
  const look = (schema: JsonSchema): void => {
    expect(known).toEqual(expect.arrayContaining(Object.keys(schema)));
    const { anyOf = [], oneOf = [], properties = {}, prefixItems = [], items, additionalProperties } = schema;
    for (const inner of [...anyOf, ...oneOf, ...Object.values(properties), ...prefixItems]) look(inner);
    if (schema.propertyNames) look(schema.propertyNames);
    if (items) look(items);
    if (additionalProperties) look(additionalProperties);
  };
  look(shipped(name));
});

it('what schemas list is what the code knows', () => {
  expect(shipped('project')).toHaveProperty('properties.formats.items.enum', [...EXPORT_FORMATS]);
  expect(shipped('project')).toHaveProperty('properties.film.properties.thicknessMm.maximum', THICKEST_FILM_MM);
  expect(shipped('project')).toHaveProperty('properties.gauges.items.properties.unit.enum', [...GAUGE_UNITS]);
  const shapes = JSON.stringify(shipped('rules')).match(/"shape":\{"anyOf":\[\{"type":"string","enum":(\[.*?\])/)?.[1];
  expect(JSON.parse(shapes ?? '[]')).toEqual([...SHAPE_CLASSES]);
  const inProfile = shipped('profile').properties;
  expect(inProfile).toHaveProperty('field.properties.terms.items.properties.shape.enum', [...FIELD_SHAPES]);
  expect(inProfile).toHaveProperty('readings.items.properties.outcome.enum', [...OUTCOMES]);
  const session = (inProfile?.sessions.items ?? {}) as JsonSchema;
  const { doubtful, features } = session.properties ?? {};
  expect(Object.keys(doubtful.properties ?? {})).toEqual([...PARAMETER_NAMES]);
  expect(features).toEqual(shipped('features').properties?.features);
});
