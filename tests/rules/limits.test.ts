import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { choosePaste, DEFAULT_LIMITS, pasteDensity, readLimits } from '../../src/rules/limits.js';

const shipped = readFileSync(new URL('../../patterns/limits.json', import.meta.url), 'utf8');

describe('limits', () => {
  it('hold by themselves as the file says', async () => {
    expect(await readLimits(shipped, 'limits.json')).toMatchObject(DEFAULT_LIMITS);
  });

  it('refuses an unknown key with the nearest name', async () => {
    const text = shipped.replace('"areaRatio"', '"areaRation"');
    await expect(readLimits(text, 'mine.json')).rejects.toThrow(/"areaRation".*Did you mean "areaRatio"/);
  });

  it('refuses a limit of zero with its line', async () => {
    const text = shipped.replace('"value": 0.66', '"value": 0');
    await expect(readLimits(text, 'mine.json')).rejects.toThrow(/mine.json, line \d+, "areaRatio.value"/);
  });

  it('takes a paste that was added to the file', async () => {
    const edited = JSON.parse(shipped);
    edited.pastes.own = { largestGrainMm: 0.02, source: 'the jar' };
    const limits = await readLimits(JSON.stringify(edited), 'mine.json');
    expect(choosePaste(limits, { type: 'own' }).largestGrainMm).toBe(0.02);
  });
});

describe('pasteDensity', () => {
  it.each([
    // Indium Corporation, "Calculating Solder Paste Usage": SAC305 with 87.75 % metal: 4.14 g/cm3. The others follow from
    // the same formula with 7.37 and 8.4 g/cm3.
    [87.75, 7.37, 4.14],
    [88.5, 7.37, 4.25],
    [90, 8.4, 4.83],
  ])('is right for %f %% of metal at %f g/cm3', (metal, density, wanted) => {
    expect(pasteDensity(metal, density)).toBeCloseTo(wanted, 2);
  });
});
