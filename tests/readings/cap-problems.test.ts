import { describe, expect, it } from 'vitest';
import type { InputError, Problem } from '../../src/errors.js';
import { capProblems } from '../../src/readings/csv-rows.js';
import { parseReadings } from '../../src/readings/parse-readings.js';

const problem = (code: string, line: number): Problem => ({
  code,
  message: 'no',
  place: { file: 'a.csv', line, key: 'x' },
});
const messageOf = (text: string): InputError => {
  try {
    parseReadings(text, 'a.csv');
  } catch (error) {
    return error as InputError;
  }
  throw new Error('accepted');
};

describe('many problems of one kind', () => {
  it('are five and a count; other kinds keep their own', () => {
    const many = Array.from({ length: 40 }, (_, i) => problem(i % 10 === 9 ? 'B' : 'A', i + 2));
    const capped = capProblems(many);
    expect(capped.filter(({ code }) => code === 'A')).toHaveLength(6);
    expect(capped.filter(({ code }) => code === 'B')).toHaveLength(4);
    expect(capped.find(({ message }) => message.startsWith('and'))?.message).toBe(
      'and 31 more rows like these, the last in line 40.',
    );
  });

  it('are told in full when there are six', () => {
    expect(capProblems(Array.from({ length: 6 }, (_, i) => problem('A', i)))).toHaveLength(6);
  });

  it('in a file with decimal commas are not a page long', () => {
    const rows = Array.from({ length: 60 }, (_, i) => `F${i},1,${10 + i},,0,01,`);
    const error = messageOf(['feature,reading_mm,outcome,resolution_mm,note', ...rows].join('\n'));
    expect(error.problems).toHaveLength(6);
    expect(error.message).toContain('and 55 more rows like these');
  });
});

describe('columns that changed places', () => {
  const rows = (row: (i: number) => string): string =>
    ['feature,reading_mm,resolution_mm', ...Array.from({ length: 12 }, (_, i) => `F${i},${row(i)}`)].join('\n');

  it('are named: readings of one gauge step, resolutions of many lengths', () => {
    const error = messageOf(rows((i) => `0.01,${(0.3 + 1.7 * i).toFixed(2)}`));
    expect(error.code).toBe('COLUMNS_SWAPPED');
    expect(error.message).toMatch(/every reading is 0.01 mm, and the resolutions go up to 19 mm/);
  });

  it.each([
    ['as they should be', (i: number) => `${(0.3 + 1.7 * i).toFixed(2)},0.01`],
    ['fine webs read to different steps', (i: number) => `0.0${1 + (i % 9)},${i % 2 ? 0.01 : 0.02}`],
    ['one web read again and again', () => '0.05,0.01'],
  ])('are not seen in readings %s', (_, row) => {
    expect(parseReadings(rows(row), 'a.csv').readings).toHaveLength(12);
  });
});
