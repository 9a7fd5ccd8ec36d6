import { describe, expect, it } from 'vitest';
import { InputError } from '../../../src/errors.js';
import { fitCalibration } from '../../../src/fit/calibration/fit-sessions.js';
import { PARAMETER_NAMES } from '../../../src/machine/types.js';
import type { Reading } from '../../../src/readings/types.js';
import { seeded } from '../../virtual-laser/random.js';
import { benchFeatures, type Machine, randomMachine, readAll } from './virtual-bench.js';

const features = benchFeatures();
const machine: Machine = [1.0021, 0.9978, 0.003, 0.141, 0.118];
type Read = Reading & { readingMm: number };
const toStep = (mm: number): number => Math.round(mm * 100) / 100;

/** What is said against readings: those that no machine gives are refused, the others stand out. */
function named(readings: readonly Reading[]): { ids: string[]; cause?: string; sentence: string } {
  try {
    const { flagged } = fitCalibration(readings, features);
    return {
      ids: flagged.map(({ feature }) => feature),
      cause: flagged[0]?.cause,
      sentence: flagged[0]?.sentence ?? '',
    };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    expect(error.code).toBe('READING_IMPOSSIBLE');
    // With the robust answer the same ones are set aside.
    const { flagged } = fitCalibration(readings, features, { robust: true });
    const ids = error.problems.map(({ message }) => message.split(' ')[0]);
    expect(flagged.map(({ feature }) => feature)).toEqual(expect.arrayContaining(ids));
    return { ids, cause: flagged[0].cause, sentence: error.problems[0].message };
  }
}

/** Readings with one feature's value replaced. */
function withOne(id: string, change: (mm: number) => number, seed = 31): Read[] {
  return readAll(features, machine, seeded(seed)).map((r) =>
    r.feature === id ? { ...r, readingMm: change(r.readingMm) } : r,
  );
}

describe('readings that stand out are named with the likely cause', () => {
  const firstOf = (kind: string, axis: 0 | 1, nominal: number): string =>
    features.find(
      (f) => f.kind === kind && f.from[1 - axis] === f.to[1 - axis] && Math.abs(f.nominalMm - nominal) < 0.02,
    )!.id;
  const long = firstOf('span', 0, 140);
  const opening = firstOf('opening', 0, 0.5);
  const web = firstOf('web', 1, 0.5);
  const cases: [what: string, id: string, change: (mm: number) => number, cause: string, words: RegExp][] = [
    ['decimal point one to the left', long, (mm) => mm / 10, 'decimal-slip', /slipped by one place/],
    ['decimal point two to the right', opening, (mm) => mm * 100, 'decimal-slip', /slipped by 2 places/],
    ['inches for mm', long, (mm) => Math.round((mm / 25.4) * 1000) / 1000, 'inch-for-mm', /read in inches/],
    ['mil for mm', opening, (mm) => Math.round((mm / 0.0254) * 10) / 10, 'mil-for-mm', /read in mil/],
    ['a minus', web, (mm) => -mm, 'sign', /right without the minus/],
    ['the web for the opening', opening, (mm) => mm - 2 * 0.141, 'web-for-opening', /a web was read/],
    ['the opening for the web', web, (mm) => mm + 2 * 0.118, 'opening-for-web', /an opening was read/],
    ['a span one kerf too long', long, (mm) => mm + 0.141, 'wrong-edge', /too long by one kerf/],
    ['a span one slot too short', long, (mm) => mm - 1.14, 'wrong-edge', /wrong edge/],
    ['two digits changed', long, () => 104.29, 'digits-swapped', /digits changed places/],
  ];
  it.each(cases)('%s', (_what, id, change, cause, words) => {
    const found = named(withOne(id, change));
    expect(found.ids).toEqual([id]);
    expect(found.cause).toBe(cause);
    expect(found.sentence).toMatch(words);
    expect(found.sentence).toContain(id);
  });

  it('two rows swapped name each other', () => {
    const readings = readAll(features, machine, seeded(32));
    [readings[0].readingMm, readings[1].readingMm] = [readings[1].readingMm, readings[0].readingMm];
    const { flagged } = fitCalibration(readings, features, { robust: true });
    expect(flagged.map(({ feature, cause }) => [feature, cause])).toEqual([
      [features[0].id, 'swapped'],
      [features[1].id, 'swapped'],
    ]);
    expect(named(readings).ids).toEqual([features[0].id, features[1].id]);
    expect(flagged[0].sentence).toContain(`swapped with ${features[1].id}`);
  });

  it('two widths of which one is ten times the other, swapped, are no slip of a decimal point', () => {
    const readings = readAll(features, machine, seeded(32));
    // A web of 0.3 mm and an opening of 2 mm: about 0.16 and 2.14 mm.
    const [narrow, wide] = ['web', 'opening'].map((kind) => {
      const all = readings.filter((_, i) => features[i].kind === kind && features[i].from[1] === features[i].to[1]);
      return kind === 'web' ? all[0] : all.filter(({ readingMm }) => readingMm > 2)[0];
    });
    [narrow.readingMm, wide.readingMm] = [wide.readingMm, narrow.readingMm];
    const { flagged } = fitCalibration(readings, features, { robust: true });
    expect(flagged.map(({ cause }) => cause)).toEqual(['swapped', 'swapped']);
  });

  it('two widths swapped of which only one can’t be, as a machine might cut the other so wide', () => {
    const readings = readAll(features, machine, seeded(34));
    const wide = readings.find(({ feature }) => feature === firstOf('opening', 1, 1))!;
    const narrow = readings.find(({ feature }) => feature === opening)!;
    [narrow.readingMm, wide.readingMm] = [wide.readingMm, narrow.readingMm];
    const { ids, cause, sentence } = named(readings);
    expect([ids, cause]).toEqual([[wide.feature], 'swapped']);
    expect(sentence).toContain(`swapped with ${narrow.feature}`);
  });

  it('a web that should stand by far but is marked gone', () => {
    const readings: Reading[] = readAll(features, machine, seeded(33)).map((r) =>
      r.feature === web ? { feature: web, outcome: 'gone' } : r,
    );
    expect(fitCalibration(readings, features).flagged.map(({ feature }) => feature)).toEqual([web]);
  });

  it('two that hide each other: both diagonals of a size off by the same', () => {
    const slanted = features.filter((f) => f.kind === 'span' && f.from[0] !== f.to[0] && f.from[1] !== f.to[1]);
    const ids = slanted.slice(0, 2).map(({ id }) => id);
    const readings = readAll(features, machine, seeded(34)).map((r) =>
      ids.includes(r.feature) ? { ...r, readingMm: r.readingMm + 0.5 } : r,
    );
    expect(fitCalibration(readings, features).flagged.map(({ feature }) => feature)).toEqual(ids);
  });
});

describe('readings that stand out count until somebody says otherwise', () => {
  const readings = withOne(features[0].id, (mm) => mm + 1);

  it('plain by default, left out by name, or robust', () => {
    const plain = fitCalibration(readings, features);
    expect(Math.abs(plain.fit.scaleX.value - machine[0])).toBeGreaterThan(0.0003);
    expect(plain.warnings.map(({ code }) => code)).toContain('READINGS_STAND_OUT');
    expect(plain.fit.warnings.join(' ')).toContain(features[0].id);
    const dropped = fitCalibration(readings, features, { drop: [features[0].id] });
    expect(dropped.fit.scaleX.value).toBeCloseTo(machine[0], 4);
    expect(dropped.dropped).toEqual([{ session: 0, index: 0, feature: features[0].id }]);
    const robust = fitCalibration(readings, features, { robust: true });
    expect(robust.fit.scaleX.value).toBeCloseTo(machine[0], 4);
    expect(robust.flagged).toHaveLength(1);
  });

  it('says how far the robust answer lies from the plain one', () => {
    const { robust } = fitCalibration(readings, features);
    expect(robust?.ignored.map(({ feature }) => feature)).toContain(features[0].id);
    expect(Math.abs(robust?.moves[0].inUncertainties ?? 0)).toBeGreaterThan(10);
  });
});

describe('on virtual machines', () => {
  const random = seeded(35);
  const spoil: ((r: Read, i: number, all: Read[], m: Machine) => number[])[] = [
    (r, i) => {
      r.readingMm = toStep(r.readingMm * (random() < 0.5 ? 10 : 0.1));
      return [i];
    },
    (r, i) => {
      r.readingMm = Math.round((r.readingMm / 25.4) * 1000) / 1000;
      return [i];
    },
    (r, i, all) => {
      const other = all[(i + 1) % all.length];
      if (Math.abs(other.readingMm - r.readingMm) < 0.06) return [];
      [r.readingMm, other.readingMm] = [other.readingMm, r.readingMm];
      return [i, (i + 1) % all.length];
    },
    (r, i, _all, m) => {
      const feature = features[i];
      const kerf = feature.from[1] === feature.to[1] ? m[3] : m[4];
      if (feature.kind === 'opening') r.readingMm = toStep(r.readingMm - 2 * kerf);
      else if (feature.kind === 'web') r.readingMm = toStep(r.readingMm + 2 * kerf);
      else r.readingMm = toStep(r.readingMm + 1 + kerf);
      return r.readingMm > 0 ? [i] : [];
    },
  ];

  it('names one wrong reading in nearly every set, and hardly any in sets without one', () => {
    let right = 0;
    let planted = 0;
    let alarms = 0;
    for (let s = 0; s < 20; s += 1) {
      const hidden = randomMachine(random);
      const readings = readAll(features, hidden, random).filter(({ readingMm }) => readingMm > 0);
      if (readings.length < features.length) continue;
      if (named(readings).ids.length > 0) alarms += 1;
      const i = Math.floor(random() * readings.length);
      const wrong = spoil[s % spoil.length](readings[i], i, readings, hidden);
      const flagged = named(readings).ids;
      planted += wrong.length;
      right += wrong.filter((j) => flagged.includes(features[j].id)).length;
    }
    expect(planted).toBeGreaterThan(20);
    expect(right / planted).toBeGreaterThan(0.95);
    expect(alarms).toBeLessThanOrEqual(2);
  });

  it('one reading in ten wrong moves the robust answer by less than two of its standard uncertainties', () => {
    let worst = 0;
    for (let s = 0; s < 8; s += 1) {
      const hidden = randomMachine(random);
      const readings = readAll(features, hidden, random);
      const before = fitCalibration(readings, features).robust!.fit;
      const spoiled = readings.map((r) => ({ ...r }));
      for (let k = 0; k < spoiled.length; k += 10) {
        const i = Math.min(spoiled.length - 1, k + Math.floor(random() * 10));
        spoiled[i].readingMm *= random() < 0.5 ? 10 : 1 / 25.4;
      }
      const after = fitCalibration(spoiled, features, { robust: true }).fit;
      for (const name of PARAMETER_NAMES) {
        worst = Math.max(worst, Math.abs(after[name].value - before[name].value) / after[name].stdUncertainty);
      }
    }
    expect(worst).toBeLessThan(2);
  });
});
