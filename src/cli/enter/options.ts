import { type Command, Option } from 'commander';
import { parsePowerPercent, parseSpeedMmS } from '../values.js';

export interface EnterOptionValues {
  readonly out?: string;
  readonly features?: string;
  readonly powerPercent?: number;
  readonly speedMmS?: number;
}

const EXAMPLES = `
Examples:
  apertrue enter aperture-ladder
  apertrue enter bench/scale-ruler.readings.csv --power-percent 45 --speed-mm-s 3000mm/min

Says what to read next, where it is and from where to where. Type a number as the gauge shows it: 0.31, 0,31, 310um,
12.2mil, 0.0122in. Cells of a grid: u uncut, p partial, t through, m marked. A web that burnt away: g; an opening that
is not through: c. Also: b back, s skip, n TEXT a note, ? help, q quit. Everything is saved at once; the next call goes
on where this one ended. Lines may come through a pipe, too.
Exit codes: 0 done or quit; 2 the coupon can't be found or read; 130 stopped with Ctrl-C (what was typed is kept).`;

/** `apertrue enter`: readings, typed one after the other. */
export const defineEnter = (command: Command): void => {
  command
    .description('Asks for one reading after the other, questions what can’t be right, and says when it is enough.')
    .argument('<coupon>', 'readings file, or name of a coupon in the folder for results')
    .addOption(new Option('-o, --out <folder>', 'folder in which the coupon lies (default: this one)'))
    .addOption(new Option('--features <file>', 'features file of the coupon, if it does not lie beside the readings'))
    .addOption(new Option('--power-percent <n>', 'power it was cut with, %').argParser(parsePowerPercent))
    .addOption(new Option('--speed-mm-s <n>', 'speed it was cut with, mm/s, or 6000mm/min').argParser(parseSpeedMmS))
    .addHelpText('after', EXAMPLES);
};
