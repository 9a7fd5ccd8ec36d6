import { describe, expect, it } from 'vitest';
import { parseProfile } from '../../src/machine/profile-file.js';
import { parseJsonText } from '../../src/schema/json-file.js';
import { profileOf } from '../cli/bench.js';

const problemOf = (text: string): unknown => {
  try {
    parseJsonText(text, 'a.json');
  } catch (error) {
    return (error as { problems: unknown[] }).problems[0];
  }
  return undefined;
};

describe('a key that stands twice in an object', () => {
  it('of a profile is refused: the last of two fits would win without a word', async () => {
    const text = profileOf();
    await parseProfile(text, 'laser.json');
    const twice = text.replace('"fit":', '"fit": {},\n"fit":');
    await expect(parseProfile(twice, 'laser.json')).rejects.toMatchObject({
      problems: [{ code: 'REPEATED_KEY', place: { file: 'laser.json', line: 2, key: 'fit' } }],
    });
  });

  it.each([
    ['{"a": 1,\n"a": 2}', 'a', 2],
    ['[{"b": {"c": [], "c" :\n3}}]', 'c', 1],
    ['{"a": 1, "\\u0061": 2}', 'a', 1],
    ['{"x{": "\\"x{", "x{": 1}', 'x{', 1],
    ['{"": 1, "": 2}', '', 1],
  ])('%j is refused', (text, key, line) => {
    expect(problemOf(text)).toMatchObject({ code: 'REPEATED_KEY', place: { key, line } });
  });

  it.each(['{"a": {"a": 1}, "b": [{"a": 1}, {"a": 2}]}', '{"a": "b", "b": "a:", "c": "\\"a\\": {"}', '["a", "a"]'])(
    '%j is not',
    (text) => {
      expect(problemOf(text)).toBeUndefined();
    },
  );
});
