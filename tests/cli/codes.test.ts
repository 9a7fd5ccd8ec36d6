import { zipSync } from 'fflate';
import { expect, it } from 'vitest';
import { bench, layer, profileOf } from './bench.js';

const desk = bench({
  'board.gbr': layer(),
  'desk.profile.json': profileOf(),
  'bare.profile.json': profileOf({}, { film: undefined, pitchMm: undefined }),
  'one.profile.json': profileOf({}, { settings: { powerPercent: 40, speedMmS: 60, passes: 1 } }),
  'coupon.readings.csv': 'feature,reading_mm\nA1,1.0\n',
  'day.readings.csv': '# date: yesterday\nfeature,reading_mm\nA1,1.0\n',
  'twice.readings.csv': '# power: 40 %\n# power: 50 %\nfeature,reading_mm\nA1,1.0\n',
  'vias.drl': 'M48\nMETRIC\nT1C0.6\nT2C1.0\n%\nT1\nX4.0Y7.0\nT2\nX5.0Y7.0\nM30\n',
  'text.zip': zipSync({ 'letter.txt': Buffer.from('a letter') }),
});

it.each([
  ['correct text.zip --profile desk.profile.json --out results', 'NO_PASTE_LAYER', 'a letter is none'],
  ['correct one.profile.json --profile desk.profile.json --out results', 'WRONG_FILE', 'a profile is no artwork'],
  ['treat board.gbr --rules no-such-rules --thickness-mm 0.1 --out results', 'RULES_UNKNOWN', 'no such set'],
  ['check board.gbr --profile bare.profile.json', 'THICKNESS_UNKNOWN', 'neither options nor profile say it'],
  ['treat board.gbr --rules home --thickness-mm 0.1', 'OUT_MISSING', 'results go nowhere'],
  ['correct board.gbr --profile bare.profile.json --out results', 'PITCH_UNKNOWN', 'no dots without a pitch'],
  ['layout board.gbr --profile bare.profile.json --out results', 'PITCH_UNKNOWN', 'nor has a sheet'],
  ['layout board.gbr --drill vias.drl --profile desk.profile.json --out results', 'NO_HOLES', 'vias hold no board'],
  [
    'correct board.gbr --profile desk.profile.json --out results --canvas-mm 3x3',
    'CANVAS_TOO_SMALL',
    'the layer is 12 mm wide',
  ],
  ['fit day.readings.csv', 'BAD_FORM', 'a date is year, month and day'],
  ['fit twice.readings.csv', 'REPEATED_FORM', 'two powers'],
  ['fit nothing-*.csv', 'NO_FILES', 'no such file'],
  ['fit coupon.readings.csv', 'FEATURES_NOT_FOUND', 'its features are not beside it'],
  ['spot desk.profile.json one.profile.json desk.profile.json', 'PASSES_DIFFER', 'two passes and one'],
])('%s gives %s: %s', async (words, code) => {
  const { out, said } = await desk.run(`${words} --json`);
  expect(out + said).toContain(`"${code}"`);
});

it('a drill file of vias alone is named with the holes that it has', async () => {
  const drilled = '--drill vias.drl --profile desk.profile.json --out results';
  const none = 'vias.drl: none of its 2 holes is';
  expect((await desk.run(`layout board.gbr ${drilled}`)).said).toContain(
    `${none} 2.5 mm wide or more; it has 0.6, 1 mm.`,
  );
  const wanted = await desk.run(`layout board.gbr --hole-mm 2,3 ${drilled}`);
  expect(wanted.said).toContain(`${none} 2 or 3 mm wide; it has 0.6, 1 mm.`);
});
