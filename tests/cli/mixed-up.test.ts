import { describe, expect, it } from 'vitest';
import { bench, featuresOf, layer, profileOf } from './bench.js';

const desk = bench({
  profile: profileOf(),
  features: featuresOf([]),
  rules: JSON.stringify({ format: 'apertrue-rules', version: 1, name: 'r', rules: [] }),
  job: JSON.stringify({ format: 'apertrue-job', version: 1 }),
  readings: '# cut on a Monday\nfeature,reading_mm\nA1,1.2\n',
  board: layer(),
});

describe('a file of our own in the wrong place is named for what it is', () => {
  it.each([
    ['check {board} --profile {features}', 'expected a profile, found a features file of a coupon'],
    ['check {board} --profile {job}', 'expected a profile, found a job file'],
    ['check {board} --profile {readings}', 'expected a JSON file, found a readings file'],
    ['check {board} -t 0.1 --limits {profile}', 'expected a limits file, found a profile'],
    ['treat {board} -t 0.1 --dry-run --rules {profile}', 'expected a rule set, found a profile'],
    [
      'coupon {rules} --width-mm 60 --height-mm 60 --dpi 600 --out {out}',
      'expected a coupon pattern, found a rule set',
    ],
    ['fit {features}', 'expected a readings file, CSV, found a features file'],
    ['fit {readings} --features {profile}', 'expected a features file of a coupon, found a profile'],
    ['fit {readings} --add-to {rules}', 'expected a profile, found a rule set'],
    ['window {profile}', 'expected a readings file, CSV, found a profile'],
    ['spot {features}', 'expected a profile, found a features file'],
    ['control {readings}', 'expected a JSON file, found a readings file'],
    ['correct {readings} --profile {profile} --out {out}', 'found a readings file'],
    ['predict {profile} --profile {profile} --out {out}', 'found a profile'],
    [
      'layout {board} --profile {profile} --outline {job} --out {out}',
      'expected the outline of the board, found a job file',
    ],
    [
      'layout {board} --profile {profile} --drill {features} --out {out}',
      'expected a drill file, found a features file',
    ],
  ])('%s', async (line, words) => {
    const args = line.split(' ').map((word) => word.replace(/^\{(\w+)\}$/, (_, name: string) => name));
    const { code, said } = await desk.run(...args);
    expect([code, said]).toEqual([2, expect.stringContaining(words)]);
    expect(said.match(/^error: /gm)).toHaveLength(1);
  });
});
