import { beforeAll, describe, expect, it } from 'vitest';
import type { Feature } from '../../../src/coupon/features.js';
import { generateCoupon } from '../../../src/coupon/generate.js';
import type { Coupon } from '../../../src/coupon/types.js';
import { couponOrder } from '../../../src/fit/plan/plan-words.js';
import type { ProjectGauge } from '../../../src/project/project.js';
import { parseReadings } from '../../../src/readings/parse-readings.js';
import { readingsPage } from '../../../src/report/readings-page/readings-page.js';
import { BROWSER, inBrowser } from '../in-browser.js';

let ladder: Coupon;
let grid: Coupon;
beforeAll(async () => {
  const size = { widthMm: 100, heightMm: 80, pitchXMm: 0.0254 };
  ladder = await generateCoupon('aperture-ladder', size);
  grid = await generateCoupon('power-speed-grid', size);
});

/** Opens the page with a script that types, and gives what the script put into the document. */
function typed(coupon: Coupon, steps: string, gauges: readonly ProjectGauge[]): Record<string, unknown> {
  const type = `const type = (text) => { byId('value').value = text; byId('entry').requestSubmit(); return byId('answer').textContent; };
    const press = (key) => document.dispatchEvent(new KeyboardEvent('keydown', { key }));`;
  return inBrowser(readingsPage(coupon, gauges), `${type} ${steps}`);
}

describe('the readings page', () => {
  it('is one file that loads nothing, and the same each time', () => {
    const page = readingsPage(ladder);
    expect(page).toBe(readingsPage(ladder));
    expect(page.match(/(src|href)="(?!#)/g)).toBeNull();
    expect(page).toContain("default-src 'none'");
    expect(page).toContain('prefers-color-scheme:dark');
  });

  it('can hold any text of a pattern', () => {
    const nasty = { ...ladder, name: 'a</script><b>"x"', title: '<i>&' };
    const page = readingsPage(nasty);
    expect(page.match(/<\/script>/g)).toHaveLength(1);
    expect(page).toContain('<p>&lt;i&gt;&amp;</p>');
  });

  it.skipIf(!BROWSER)('takes bare numbers in the unit that the gauge shows, until the form names another gauge', () => {
    const [first, second] = couponOrder(ladder, { takes: 'windows', stepMm: 0.0127 })!.features;
    const inches = (feature: Feature): string => ('nominalMm' in feature ? (feature.nominalMm / 25.4).toFixed(4) : '');
    const result = typed(
      ladder,
      `result.say = byId('say').textContent; result.first = type('${inches(first)}'); result.csv = apertrueCsv();
       document.querySelectorAll('#form input')[6].value = 'loupe 0.02'; document.querySelectorAll('#form input')[6].dispatchEvent(new Event('input'));
       result.second = type('${inches(second)}');`,
      [{ name: 'caliper', resolutionMm: 0.0127, unit: 'in' }],
    );
    expect(result.say).toMatch(/ In inches, as its gauge shows it: about 0\.\d+\.$/);
    expect([result.first, result.second]).toEqual(['', expect.stringContaining('0.006 mm, where')]);
    expect(result.csv).toContain(`${first.id},${inches(first)}in,,0.0127,caliper,`);
  });

  it.skipIf(!BROWSER)(
    'takes readings by the keyboard, questions what can’t be right, and gives a CSV that is read',
    () => {
      const { features: order, first: few } = couponOrder(ladder)!;
      const [first, second, third] = order;
      const nominal = 'nominalMm' in first ? first.nominalMm : 0;
      // One page with lengths and cells, for one start of the browser.
      const cells = grid.features.features;
      const both = { ...ladder, features: { ...ladder.features, features: [...order, ...cells] } };
      const result = typed(
        both,
        `result.first = byId('id').textContent; result.focus = document.activeElement.id;
       result.asked = type('${(nominal * 10).toFixed(3)}'); result.fixed = type('${nominal.toFixed(3).replace('.', ',')}');
       result.second = byId('id').textContent; result.bad = type('wide');
       type('${1000 * ('nominalMm' in second ? second.nominalMm : 0)}um');
       byId('note').value = 'dust, "left"'; result.outcome = type('${third.kind === 'web' ? 'g' : 'c'}');
       press('ArrowUp'); result.back = byId('id').textContent + ' ' + byId('value').value;
       result.mark = document.querySelector('[data-of=near]').getBoundingClientRect().width > 20;
       result.count = byId('count').textContent;
       for (const feature of FIRST.slice(3)) { state.at = DATA.features.indexOf(feature); show(); type(String(feature.nominalMm)); }
       result.enough = byId('count').textContent; result.withGauge = apertrueCsv();
       state.at = DATA.features.findIndex(({ kind }) => kind === 'cell'); show();
       for (const letter of 'uptm') type(letter); result.no = type('0.3');
       document.querySelectorAll('#form input')[6].value = 'loupe 0.02'; document.querySelectorAll('#form input')[6].dispatchEvent(new Event('input'));
       result.csv = apertrueCsv();`,
        [
          { name: 'caliper', resolutionMm: 0.01 },
          { name: 'loupe', resolutionMm: 0.005 },
        ],
      );
      expect(result).toMatchObject({ first: first.id, focus: 'value', second: second.id, fixed: '', mark: true });
      expect(result.asked).toContain('is the decimal mark one place off?');
      expect(result.bad).toContain('A length such as');
      expect(result.back).toBe(`${third.id} ${third.kind === 'web' ? 'gone' : 'closed'}`);
      expect(result.count).toBe(`3 of the ${few} to read first (${order.length + cells.length} in all)`);
      expect(result.enough).toContain('enough for kerf ± 4 µm');
      expect(result.no).toContain('u, p, t or m');
      const { readings, form } = parseReadings(String(result.csv), 'page.csv');
      expect(form).toEqual({ gauge: 'loupe', resolutionMm: 0.02 });
      expect(readings.slice(0, 3).map(({ feature }) => feature)).toEqual([first.id, second.id, third.id]);
      expect(readings[0].readingMm).toBeCloseTo(nominal, 3);
      expect(readings[0].gauge).toBeUndefined();
      expect(readings[2].note).toBe(`${third.say} Note: dust, "left"`);
      expect(readings.flatMap(({ outcome }) => outcome ?? [])).toEqual(
        expect.arrayContaining(['uncut', 'partial', 'through', 'marked']),
      );
      expect(parseReadings(String(result.withGauge), 'page.csv').readings[0]).toMatchObject({
        gauge: 'loupe',
        resolutionMm: 0.005,
      });
    },
    90_000,
  );
});
