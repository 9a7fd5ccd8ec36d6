import { parse } from 'csv-parse/sync';
import { expect, it } from 'vitest';
import { generateCoupon } from '../../src/coupon/generate.js';
import { blankReadings } from '../../src/readings/blank-readings.js';
import { parseReadings } from '../../src/readings/parse-readings.js';

it('a blank readings file has a row for every feature, with nothing read and the sentence as note', async () => {
  const coupon = await generateCoupon('aperture-ladder', { widthMm: 100, heightMm: 60, pitchXMm: 0.0254 });
  const rows = parse(blankReadings(coupon), { comment: '#', columns: true, comment_no_infix: true }) as Record<
    string,
    string
  >[];
  expect(rows.map((row) => [row.feature, row.note])).toEqual(coupon.features.features.map(({ id, say }) => [id, say]));
  for (const row of rows) expect([row.reading_mm, row.outcome, row.resolution_mm]).toEqual(['', '', '']);
});

it('the comment lines say what goes into the columns and in which order to burn', async () => {
  const grid = await generateCoupon('power-speed-grid', { widthMm: 100, heightMm: 60, pitchXMm: 0.0254 });
  const text = blankReadings(grid);
  expect(text).toMatch(/^# outcome: uncut, partial .*, through /m);
  expect(text).toMatch(/^# Job 1 of 15: /m);
});

it('a blank readings file counts as not filled in: no reading, and nothing on its form', async () => {
  const ladder = await generateCoupon('aperture-ladder', { widthMm: 100, heightMm: 60, pitchXMm: 0.0254 });
  const { readings, form } = parseReadings(blankReadings(ladder), 'blank.csv');
  expect([readings, form]).toEqual([[], {}]);
});
