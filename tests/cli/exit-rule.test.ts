import { describe, expect, it } from 'vitest';
import { bench, layer, profileOf } from './bench.js';

const desk = bench({ 'laser.json': profileOf() });

/** Nine pads with webs of 0.25 mm: hot, and as asked. */
const HOT = `%ADD13R,0.5X0.5*%D13*${Array.from({ length: 9 }, (_, i) => `X${750000 * i}Y5000000D03*`).join('')}`;
const NARROW = '%ADD13R,0.08X1*%D13*X9000000Y1000000D03*';

describe('exit code 3 says that something is not as asked, or that nobody can vouch for it', () => {
  const lay = (...args: string[]): string[] => ['layout', '--format', 'svg', '--no-witness', ...args];
  it.each<[string, number, string, string, string[], RegExp]>([
    ['advice on heat', 0, 'board.gbr', layer('Top', HOT), [], /HEAT_CROWD|get hot/],
    ['a part narrower than the kerf', 3, 'board.gbr', layer('Top', NARROW), [], /narrow/i],
    ['a side that is taken as the top', 0, 'board.gbr', layer().replace(/%TF.*?%/, ''), [], /side/],
    ['a file without its end', 3, 'board.gbr', layer().replace('M02*', ''), [], /end/],
    [
      'a number with more digits than its format has',
      3,
      'board.gbr',
      layer('Top', 'X123000000Y0D02*').replace('FSLAX46Y46', 'FSLAX26Y26'),
      [],
      /more digits/,
    ],
    [
      'a command that programs read differently',
      3,
      'board.gbr',
      layer('Top').replace('%MOMM*%', '%MOMM*%%MIA1B0*%'),
      [],
      /deprecated/,
    ],
    ['an aperture of two shapes', 3, 'board.gbr', layer('Top', '%ADD10C,0.7*%D10*X0Y9000000D03*'), [], /defined again/],
    [
      'an aperture stated twice alike',
      0,
      'board.gbr',
      layer('Top', '%ADD10R,0.50X0.6*%D10*X0Y9000000D03*'),
      [],
      /heat|next/,
    ],
    [
      'a shape of which a number is none',
      3,
      'board.svg',
      '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9"><rect x="1" y="1" width="2" height="3"/><rect x="5" y="5" width="wide" height="3"/></svg>',
      ['--side', 'top'],
      /no numbers that can be used/,
    ],
    [
      'dots that are not those of the coupons',
      3,
      'board.gbr',
      layer(),
      ['--format', 'png', '--pitch-mm', '0.08'],
      /another with those/,
    ],
    ['letters larger than asked', 3, 'board.gbr', layer(), ['--lettering-mm', '0.5'], /letters 0.5 mm high/],
    ['marks left out for paste', 3, 'board.gbr', layer(), ['--board-mm', '4x4'], /left out|outside/],
  ])('%s: %i', async (_, expected, name, text, more, said) => {
    desk.put(name, text);
    const common = [name, '--profile', 'laser.json', '--out', 'out'];
    const sheet = await desk.run(...lay(...common, ...more));
    expect([sheet.code, sheet.out + sheet.said]).toEqual([expected, expect.stringMatching(said)]);
    if (more.length > 0) return;
    expect((await desk.run('correct', ...common, '--format', 'svg')).code).toBe(expected);
    if (text.includes(HOT)) expect((await desk.run('predict', ...common)).code).toBe(expected);
  });
});
