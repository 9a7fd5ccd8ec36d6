import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { mapOpenings, rotation } from '../../src/geometry/affine.js';
import { openingArea, openingCentroid } from '../../src/geometry/area.js';
import { subtractRegions } from '../../src/geometry/boolean.js';
import { solid } from '../../src/geometry/shapes.js';
import type { Opening, Region } from '../../src/geometry/types.js';
import { measureRegion } from '../../src/rules/measure.js';
import { splitIntoPanes } from '../../src/rules/treat/panes.js';
import { readRules } from '../../src/rules/treat/read-rules.js';
import type { Action, Rule, RuleSet, Selector } from '../../src/rules/treat/rule-types.js';
import { type TreatOptions, treatOpenings } from '../../src/rules/treat/treat.js';
import { websBelow } from '../../src/rules/webs.js';
import { chip, disc, leadless, mixedBoard, pad, placed, slot } from './board.js';

const FILM: TreatOptions = { thicknessMm: 0.1 };

function set(...rules: [Selector, Action][]): RuleSet {
  return {
    format: 'apertrue-rules',
    version: 1,
    name: 'test',
    rules: rules.map(([select, action], i): Rule => ({ name: `rule ${i + 1}`, select, action })),
  };
}

const treat = (openings: readonly Opening[], action: Action, options = FILM, select: Selector = {}) =>
  treatOpenings(openings, set([select, action]), options);

const shipped = (name: string): string =>
  readFileSync(new URL(`../../patterns/rules/${name}.json`, import.meta.url), 'utf8');

/** How much of `inner` lies outside `outer`, mm². */
function outside(inner: readonly Region[], outer: readonly Region[]): number {
  return subtractRegions(inner, outer).reduce((sum, region) => sum + openingArea(region), 0);
}

const LSHAPE = solid([
  [0, 0],
  [4, 0],
  [4, 2],
  [2, 2],
  [2, 4],
  [0, 4],
]);

describe('panes', () => {
  const split = (opening: Opening, share: number, webMm: number, more: object = {}) => {
    const result = splitIntoPanes(opening, measureRegion(opening), { share, webMm, smallestPaneMm: 0.3, ...more });
    if (!('regions' in result)) throw new Error(result.stays);
    return result.regions;
  };

  it.each([
    // Silicon Labs C8051F320/1 data sheet rev 1.4, Fig 4.6: 3 x 3 of 0.90 on 1.10 pitch, pad 3.30: published 67 %.
    { pad: 3.3, count: 3, pane: 0.9, web: 0.2, percent: 66.94 },
    // C8051F90x/91x data sheet, Table 3.3: 2 x 2 of 1.00 on 1.30, pad 2.80; the percentage follows: 51.0.
    { pad: 2.8, count: 2, pane: 1.0, web: 0.3, percent: 51.02 },
    // C8051F97x data sheet, Table 6.2: 3 x 3 of 1.00 on 1.20, pad 3.40; the percentage follows: 77.9.
    { pad: 3.4, count: 3, pane: 1.0, web: 0.2, percent: 77.85 },
  ])('gives the published panes of a $pad mm thermal pad: $percent %', ({ pad: size, count, pane, web, percent }) => {
    const exact = (count * pane) ** 2 / size ** 2;
    expect(100 * exact).toBeCloseTo(percent, 1);
    const regions = split(pad(0, 0, size, size), exact, web, { columns: count, rows: count });
    expect(regions).toHaveLength(count * count);
    for (const region of regions) {
      const { widthMm, heightMm } = measureRegion(region);
      expect(widthMm).toBeCloseTo(pane, 9);
      expect(heightMm).toBeCloseTo(pane, 9);
    }
  });

  it.each<[string, Opening]>([
    ['a square', pad(0, 0, 3.1, 3.1)],
    ['a rectangle', pad(0, 0, 2, 5)],
    ['a slanted square', mapOpenings(rotation(45), [pad(0, 0, 3, 3)])[0]],
    ['a disc', disc(1, 1, 3.5)],
    ['an L', LSHAPE],
    ['a slot', slot(0, 0, 2, 5)],
  ])('keeps the coverage of %s within one percent and stays inside it', (_, opening) => {
    for (const share of [0.45, 0.6, 0.75]) {
      const regions = split(opening, share, 0.2);
      const area = regions.reduce((sum, region) => sum + openingArea(region), 0);
      expect(Math.abs(area / openingArea(opening) - share)).toBeLessThan(0.01 * share);
      expect(outside(regions, [opening])).toBeLessThan(1e-5);
      expect(websBelow(regions, 0.2 - 1e-5)).toEqual([]);
      for (const region of regions) expect(measureRegion(region).narrowestMm).toBeGreaterThan(0.3 - 1e-5);
    }
  });

  it('leaves a pad whole, and says so, when the coverage can’t be reached', () => {
    const action: Action = { kind: 'panes', coveragePercent: 95, webMm: 0.3, smallestPaneMm: 0.5 };
    const result = treat([pad(0, 0, 2, 2)], action);
    expect(result.openings).toHaveLength(1);
    expect(result.refusals[0].reason).toMatch(/no layout reaches 95 %/);
  });
});

describe('actions', () => {
  it('shrinks by the side and by the area', () => {
    const [side] = treat([pad(0, 0, 1, 2)], { kind: 'shrink', perSideMm: 0.05 }).changes;
    expect([side.after.widthMm, side.after.heightMm]).toEqual([expect.closeTo(0.9, 5), expect.closeTo(1.9, 5)]);
    const [area] = treat([pad(0, 0, 1, 2)], { kind: 'shrink', areaPercent: 10 }).changes;
    expect(area.areaPercent).toBeCloseTo(90, 6);
  });

  it('keeps an opening that shrinking would burn away, and says so', () => {
    const result = treat([pad(0, 0, 0.1, 2)], { kind: 'shrink', perSideMm: 0.05 });
    expect(result.changes).toEqual([]);
    expect(result.refusals).toHaveLength(1);
  });

  it('grows as far as the web allows, both neighbours alike', () => {
    const pads = [pad(0, 0, 0.3, 1), pad(0.55, 0, 0.3, 1), pad(5, 0, 0.3, 1)];
    const { openings } = treat(pads, { kind: 'grow', perSideMm: 0.1, leaveWebMm: 0.2 });
    const widths = openings.map((opening) => measureRegion(opening).widthMm);
    expect(widths[0]).toBeCloseTo(0.35, 5);
    expect(widths[1]).toBeCloseTo(0.35, 5);
    expect(widths[2]).toBeCloseTo(0.5, 5);
  });

  it('keeps the volume of a thinner foil on a thicker film', () => {
    const [change] = treat(
      [slot(0, 0, 0.3, 1.2)],
      { kind: 'match-volume', designThicknessMm: 0.1 },
      { thicknessMm: 0.12 },
    ).changes;
    expect(change.after.areaMm2 * 0.12).toBeCloseTo(change.before.areaMm2 * 0.1, 9);
  });

  it('grows beyond the pad on a thinner film only when allowed', () => {
    const action: Action = { kind: 'match-volume', designThicknessMm: 0.12 };
    const held = treat([pad(0, 0, 1, 1)], action);
    expect(held.changes).toEqual([]);
    expect(held.refusals[0].reason).toMatch(/83 %/);
    const [change] = treat([pad(0, 0, 1, 1)], { ...action, allowGrowth: true }).changes;
    expect(change.areaPercent).toBeCloseTo(120, 3);
  });

  it('rounds corners by the radius, and no further than the width lets it', () => {
    const [change] = treat([pad(0, 0, 1, 1)], { kind: 'round-corners', radiusMm: 0.1 }).changes;
    expect(change.after.areaMm2).toBeCloseTo(1 - (4 - Math.PI) * 0.01, 3.7);
    const [narrow] = treat([pad(0, 0, 0.2, 1)], { kind: 'round-corners', radiusMm: 0.3 }).changes;
    expect(narrow.note).toMatch(/limited to 0.098 mm/);
  });

  it('gives a lead round ends of half its width', () => {
    for (const angle of [0, 45, 90]) {
      const [opening] = treat(placed([pad(0, 0, 0.25, 1)], 3, 4, angle), { kind: 'round-ends' }).openings;
      expect(openingArea(opening)).toBeCloseTo(0.25 * 0.75 + (Math.PI * 0.25 ** 2) / 4, 3);
      expect(measureRegion(opening).shape).toBe('obround');
    }
  });

  it.each([
    ['home-plate', 1 - 0.5 * 0.5],
    ['inverted-home-plate', 1 - 0.5 * 0.5],
    ['inverted-radius', 1 - (Math.PI / 4) * 0.5],
    ['straight', 0.5],
  ] as const)('cuts a %s at the side that faces the other pad', (form, share) => {
    for (const angle of [0, 30, 90]) {
      const pads = placed(chip(0.8, 1, 1.6), 10, 5, angle);
      const { openings, changes } = treat(pads, { kind: 'cut-under-chip', form, depthPercent: 50 });
      expect(changes.map(({ areaPercent }) => areaPercent / 100)).toEqual([
        expect.closeTo(share, 2),
        expect.closeTo(share, 2),
      ]);
      expect(outside(openings, pads)).toBeLessThan(1e-5);
      const apart = (list: readonly Region[]) => {
        const [p, q] = list.map(openingCentroid);
        return Math.hypot(p[0] - q[0], p[1] - q[1]);
      };
      expect(apart(openings)).toBeGreaterThan(apart(pads) + 0.05);
    }
  });

  it('cuts nothing that is not one of two pads', () => {
    const result = treat([pad(0, 0, 1, 1)], { kind: 'cut-under-chip', form: 'home-plate', depthPercent: 50 });
    expect(result.changes).toEqual([]);
    expect(result.refusals[0].reason).toMatch(/not recognised/);
  });

  it('does not widen where the smallest opening cut still opened, and says so', () => {
    const options = { thicknessMm: 0.1, profileLimits: { smallestOpenedMm: 0.25 } };
    const { openings, warnings } = treat([pad(0, 0, 0.2, 0.2)], { kind: 'widen' }, options);
    expect(openings).toHaveLength(1);
    expect(warnings.map(({ message }) => message).join()).toContain(
      'the smallest opening cut, 0.25 mm, still opened; the limit lies below it',
    );
  });

  it('widens to what the laser opens where the web allows, else keeps and tells', () => {
    const options = { thicknessMm: 0.1, profileLimits: { minOpeningMm: 0.25, minWebMm: 0.2 } };
    const pads = [pad(0, 0, 0.2, 1), pad(0.42, 0, 0.2, 1), pad(5, 0, 0.2, 1), disc(8, 0, 0.2)];
    const { openings, refusals, warnings } = treat(pads, { kind: 'widen' }, options);
    const narrowest = openings.map((opening) => measureRegion(opening).narrowestMm);
    expect(narrowest).toEqual([0.2, 0.2, 0.25, 0.25].map((v) => expect.closeTo(v, 4)));
    expect(refusals.map(({ opening }) => opening)).toEqual([1, 2]);
    expect(warnings.find(({ code }) => code === 'OPENING_STAYS_SMALL')?.openings).toEqual([1, 2]);
  });

  it('trims both neighbours until the web stands, and moves no centre', () => {
    const pads = placed([pad(0, 0, 0.4, 1), pad(0.5, 0.1, 0.4, 1), pad(1.0, 0, 0.4, 1)], 2, 3, 20);
    const { openings, changes } = treat(pads, { kind: 'keep-webs', webMm: 0.2 });
    expect(websBelow(openings, 0.2 - 1e-4)).toEqual([]);
    expect(outside(openings, pads)).toBeLessThan(1e-6);
    for (const { centreMovedMm } of changes) expect(centreMovedMm).toBeLessThan(1e-6);
  });

  it('takes the whole trim from the neighbour of a protected opening', () => {
    const pads = [pad(0, 0, 0.5, 1), pad(0.6, 0, 0.5, 1)];
    const rules = set(
      [{ openings: [1] }, { kind: 'keep' }],
      [{}, { kind: 'keep-webs', webMm: 0.2, trim: 'facing-side' }],
    );
    const { openings, changes } = treatOpenings(pads, rules, FILM);
    expect(openings[0].outer).toEqual(pads[0].outer);
    expect(websBelow(openings, 0.2 - 1e-4)).toEqual([]);
    expect(changes[0].note).toMatch(/centre moved by 0.050/);
  });

  it('makes room around a bent opening', () => {
    const pads = [LSHAPE, pad(3, 3, 1.9, 1.9)];
    const { openings } = treat(pads, { kind: 'keep-webs', webMm: 0.2 });
    expect(websBelow(openings, 0.2 - 2e-4)).toEqual([]);
    expect(outside(openings, pads)).toBeLessThan(1e-5);
  });

  it('drops and protects', () => {
    const pads = [pad(0, 0, 1, 1), pad(3, 0, 1, 1), pad(6, 0, 1, 1)];
    const rules = set(
      [{ openings: ['1-2'] }, { kind: 'keep' }],
      [{ openings: [3] }, { kind: 'drop' }],
      [{}, { kind: 'drop' }],
    );
    const { accounts, openings } = treatOpenings(pads, rules, FILM);
    expect(accounts.map(({ fate }) => fate)).toEqual(['unchanged', 'unchanged', 'dropped']);
    expect(openings).toHaveLength(2);
  });
});

describe('selectors', () => {
  const board: Opening[] = [
    ...leadless(8, 0.5, 0.25, 0.8, 4.9, 3.1),
    ...placed(chip(0.5, 0.6, 0.96), 10, 0),
    { ...pad(15, 0, 1, 2), tag: { component: 'U7', pin: '12', attributes: { AperFunction: 'SMDPad,CuDef' } } },
    disc(20, 0, 1),
  ];
  it.each<[string, Selector, number[]]>([
    ['component with a wildcard', { component: ['u*'] }, [36]],
    ['pin', { component: ['U7'], pin: ['1?'] }, [36]],
    ['attribute', { attribute: { AperFunction: 'SMDPad*' } }, [36]],
    ['region', { region: { minX: 9, minY: -1, maxX: 16, maxY: 1 } }, [34, 35, 36]],
    ['shape', { shape: ['round'] }, [37]],
    ['group: the pads of a chip', { group: ['pair'] }, [34, 35]],
    ['group: the large pad', { group: ['centre'] }, [33]],
    ['group: panes, of which there are none', { group: ['pane'] }, []],
    ['pitch', { pitchMm: { max: 0.5 }, not: { group: ['centre'] } }, Array.from({ length: 32 }, (_, i) => i + 1)],
    ['length over width', { lengthPerWidth: { min: 1.9, max: 2.1 } }, [36]],
    ['area, the bound included', { areaMm2: { min: 2, max: 2 } }, [36]],
    ['numbers and runs', { openings: [1, '36-37'] }, [1, 36, 37]],
    ['nothing', { component: ['X*'] }, []],
  ])('selects by %s', (_, select, wanted) => {
    const result = treat(board, { kind: 'drop' }, FILM, select);
    expect(result.changes.map(({ opening }) => opening)).toEqual(wanted);
    expect(result.warnings.some(({ code }) => code === 'RULE_SELECTED_NOTHING')).toBe(wanted.length === 0);
  });
});

describe('rule files', () => {
  it('works formulas out per opening', async () => {
    const text = JSON.stringify({
      ...set([{ narrowestMm: { max: '0.6 * pitchMm' as unknown as number } }, { kind: 'shrink', perSideMm: 0.01 }]),
    });
    const withFormula = text.replace('"perSideMm":0.01', '"perSideMm":"max(0.01, narrowestMm / 10)"');
    const rules = await readRules(withFormula, 'mine.json');
    const row = [0, 1, 2].map((i) => pad(i * 0.5, 0, 0.25, 1));
    const { changes } = treatOpenings([...row, pad(9, 0, 0.25, 1)], rules, FILM);
    expect(changes.map(({ opening }) => opening)).toEqual([1, 2, 3]);
    expect(changes[0].after.widthMm).toBeCloseTo(0.2, 5);
  });

  it.each([
    ['"pitch * 2"', /"pitch" is not known.*Did you mean "pitchMm"/],
    ['"import(1)"', /can’t be worked out/],
    ['"pitchMm.constructor"', /can’t be worked out/],
    ['"f(x) = x"', /can’t be worked out/],
    ['"2 *"', /not a formula/],
  ])('refuses the formula %s', async (formula, message) => {
    const text = JSON.stringify(set([{}, { kind: 'shrink', perSideMm: 1 }])).replace(
      '"perSideMm":1',
      `"perSideMm":${formula}`,
    );
    await expect(readRules(text, 'mine.json')).rejects.toThrow(message);
  });

  it.each([
    ['"kind":"shrink"', '"kind":"shrinks"', /rules.0.action.kind/],
    ['"select"', '"selects"', /Did you mean "select"/],
    ['"perSideMm":1', '"perSideMm":1,"areaPercent":2', /either perSideMm or areaPercent/],
  ])('refuses %s written as %s', async (good, bad, message) => {
    const text = JSON.stringify(set([{}, { kind: 'shrink', perSideMm: 1 }])).replace(good, bad);
    await expect(readRules(text, 'mine.json')).rejects.toThrow(message);
  });

  it('refuses formulas that were not read', () => {
    const rules = set([{}, { kind: 'shrink', perSideMm: '0.1' as unknown as number }]);
    expect(() => treatOpenings([], rules, FILM)).toThrowError(expect.objectContaining({ code: 'RULES_NOT_READ' }));
  });
});

describe.each(['plain', 'fine-pitch-thin-film'])('the rule set %s', (name) => {
  const options: TreatOptions = { thicknessMm: 0.1, profileLimits: { minOpeningMm: 0.2, minWebMm: 0.15 } };

  it('accounts for every opening of a board', async () => {
    const board = mixedBoard();
    const { accounts, openings } = treatOpenings(board, await readRules(shipped(name), name), options);
    expect(accounts.map(({ opening }) => opening)).toEqual(board.map((_, i) => i + 1));
    expect(accounts.flatMap(({ becomes }) => becomes).sort((p, q) => p - q)).toEqual(openings.map((_, i) => i + 1));
    expect(accounts[32].fate).toBe('split');
  });

  it('changes nothing the second time, for the same film or another', async () => {
    const rules = await readRules(shipped(name), name);
    const once = treatOpenings(mixedBoard(), rules, options);
    for (const thicknessMm of [0.1, 0.075]) {
      const twice = treatOpenings(once.openings, rules, { ...options, thicknessMm });
      expect(twice.changes).toEqual([]);
      expect(twice.openings).toEqual(once.openings);
      expect(twice.warnings[0].code).toBe('TREATED_BEFORE');
    }
  });
});

describe('any openings', () => {
  const shape = fc.constantFrom<Opening>(
    pad(0, 0, 0.25, 1),
    pad(0, 0, 1.2, 1.4),
    pad(0, 0, 3, 3),
    disc(0, 0, 0.35),
    disc(0, 0, 2.6),
    slot(0, 0, 0.3, 1.5),
    LSHAPE,
  );
  const board = fc
    .array(fc.tuple(shape, fc.integer({ min: 0, max: 179 }), fc.double({ min: -0.6, max: 0.6, noNaN: true })), {
      minLength: 1,
      maxLength: 12,
    })
    .map((items) =>
      items.flatMap(([opening, angle, shift], i) =>
        placed([opening], (i % 3) * 3.6 + shift, Math.floor(i / 3) * 3.6 - shift, angle),
      ),
    )
    // Artwork comes with overlapping openings united.
    .filter((openings) => websBelow(openings, 1e-9).length === 0);
  const actions: Action[] = [
    { kind: 'shrink', perSideMm: 0.03 },
    { kind: 'shrink', areaPercent: 15 },
    { kind: 'round-corners', radiusMm: 0.08 },
    { kind: 'match-volume', designThicknessMm: 0.08 },
    { kind: 'panes', coveragePercent: 60, webMm: 0.2, smallestPaneMm: 0.3 },
    { kind: 'cut-under-chip', form: 'home-plate', depthPercent: 40, tipPercent: 20 },
    { kind: 'round-ends' },
    { kind: 'keep-webs', webMm: 0.25 },
  ];

  it('never leave the original where the rules only shrink, never overlap, and settle', () => {
    fc.assert(
      fc.property(board, fc.shuffledSubarray(actions, { minLength: 1, maxLength: 4 }), (openings, chosen) => {
        const rules = set(...chosen.map((action): [Selector, Action] => [{}, action]));
        const result = treatOpenings(openings, rules, FILM);
        for (const { becomes, opening } of result.accounts) {
          const now = becomes.map((number) => result.openings[number - 1]);
          if (now.length > 0) expect(outside(now, [openings[opening - 1]])).toBeLessThan(1e-5);
        }
        expect(websBelow(result.openings, 1e-9)).toEqual([]);
        expect(treatOpenings(result.openings, rules, FILM).openings).toEqual(result.openings);
      }),
      { numRuns: 30, seed: 11 },
    );
  });

  it('never overlap where the rules grow, and keep the web that is to be left', () => {
    const growing: Action[] = [
      { kind: 'grow', perSideMm: 0.2, leaveWebMm: 0.15 },
      { kind: 'grow', areaPercent: 30, leaveWebMm: 0.15 },
      { kind: 'match-volume', designThicknessMm: 0.15, allowGrowth: true, leaveWebMm: 0.15 },
      { kind: 'widen', toMm: 0.6, leaveWebMm: 0.15 },
    ];
    fc.assert(
      fc.property(board, fc.constantFrom(...growing), (openings, action) => {
        const thin = new Set(websBelow(openings, 0.15 - 1e-5).map(({ p, q }) => `${p},${q}`));
        const result = treatOpenings(openings, set([{}, action]), FILM);
        const after = websBelow(result.openings, 0.15 - 1e-5);
        expect(after.filter(({ p, q }) => !thin.has(`${p},${q}`))).toEqual([]);
        expect(after.every(({ distanceMm }) => distanceMm > 0)).toBe(true);
      }),
      { numRuns: 30, seed: 12 },
    );
  });
});
